"""What Alembic runs: the revisions, on the connection that `bot.store.migrate` gives."""

from __future__ import annotations

from typing import Any, Literal

from alembic import context
from alembic.autogenerate.api import AutogenContext
from sqlalchemy.types import JSON

from bot.store import types
from bot.store.tables import metadata

# A revision must stay as it is when our types change, so it names what the database has.
_PLAIN = {types.Word: "sa.Text()", types.Sealed: "sa.LargeBinary()", types.UrgencyLevel: "sa.SmallInteger()"}
_OURS = {types.Instant: "types.Instant()", types.WordSet: "types.Json", JSON: "types.Json"}


def render_item(kind: str, item: Any, autogen: AutogenContext) -> str | Literal[False]:
    """Give the words by which a revision names a column's type; False for Alembic's own."""
    if kind != "type":
        return False
    if type(item) in _OURS:
        autogen.imports.add("from bot.store import types")
        return _OURS[type(item)]
    return _PLAIN.get(type(item), False)


context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    render_as_batch=True,
    render_item=render_item,
)
context.run_migrations()

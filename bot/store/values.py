"""Single settings of a database: whether it is a demo, and how far a demo's clock was moved."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection, select
from sqlalchemy.dialects import postgresql, sqlite

from bot.core.errors import NotAllowed
from bot.store.engine import is_postgres
from bot.store.tables import setting

_DEMO = "demo"
_CLOCK_OFFSET = "clock_offset_seconds"
_SIGNED = "signed_language:"
_SIGNED_CONTENT = "signed_content"


def mark_as_demo(conn: Connection) -> None:
    """Say for good that everything in this database is invented; its clock may be moved."""
    _set(conn, _DEMO, True)


def is_demo(conn: Connection) -> bool:
    """Tell whether everything in this database is invented."""
    return _get(conn, _DEMO) is True


def clock_offset(conn: Connection) -> timedelta:
    """Give how far programme time runs ahead of the machine; nothing but in a demo whose clock was moved."""
    return timedelta(seconds=_get(conn, _CLOCK_OFFSET) or 0)


def set_clock_offset(conn: Connection, offset: timedelta) -> None:
    """Move a demo's clock; it never goes back. Raises NotAllowed in any other database."""
    if not is_demo(conn):
        raise NotAllowed("Only the clock of a demo database can be moved: real mothers are in this one.")
    if offset < clock_offset(conn):
        raise NotAllowed("The clock of a demo only goes forward.")
    _set(conn, _CLOCK_OFFSET, offset.total_seconds())


def resume_clock(conn: Connection, stood_at: datetime, machine_now: datetime) -> None:
    """Let a demo that was stopped go on at the programme time at which it stood. NotAllowed elsewhere."""
    if not is_demo(conn):
        raise NotAllowed("Only the clock of a demo database stands still: real mothers are in this one.")
    _set(conn, _CLOCK_OFFSET, (stood_at - machine_now).total_seconds())


def sign_language(conn: Connection, code: str, signature: Mapping[str, str]) -> None:
    """Keep who approved a language's words; a newer signature takes the place of the one before."""
    _set(conn, _SIGNED + code, dict(signature))


def language_signatures(conn: Connection) -> dict[str, dict[str, str]]:
    """Give the last signature of each language, by code."""
    query = select(setting.c.key, setting.c.value).where(setting.c.key.startswith(_SIGNED))
    return {key.removeprefix(_SIGNED): value for key, value in conn.execute(query)}


def sign_content(conn: Connection, signature: Mapping[str, str]) -> None:
    """Keep who approved what the programme asks, says and escalates; the newest counts."""
    _set(conn, _SIGNED_CONTENT, dict(signature))


def content_signature(conn: Connection) -> dict[str, str] | None:
    """Give the last signature over the content, None where nobody has signed."""
    return _get(conn, _SIGNED_CONTENT) or None


def _get(conn: Connection, key: str) -> Any:
    return conn.scalar(select(setting.c.value).where(setting.c.key == key))


def _set(conn: Connection, key: str, value: Any) -> None:
    new = (postgresql.insert if is_postgres(conn) else sqlite.insert)(setting).values(key=key, value=value)
    changed = new.on_conflict_do_update(index_elements=["key"], set_={"value": new.excluded.value})
    conn.execute(changed)

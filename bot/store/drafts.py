"""Drafts of content: what somebody is changing and has not published. One a piece, shared by all managers,
kept in the settings of the database, so that a closed lid loses nothing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, delete, select
from sqlalchemy.dialects import postgresql, sqlite

from bot.store.engine import is_postgres
from bot.store.tables import setting
from bot.store.viewer import Role, Viewer


@dataclass(frozen=True, slots=True)
class Draft:
    """`base` is the number of the edition that `body` began from; `by` and `at` say who changed it last."""

    base: int
    body: Mapping[str, Any]
    by: UUID
    at: datetime


def draft_of(conn: Connection, viewer: Viewer, kind: str, name: str, *, lock: bool = False) -> Draft | None:
    """Give the draft of a piece, None where nobody changes it. `lock` holds it until the transaction ends."""
    viewer.needs(Role.manager)
    if lock:
        insert = (postgresql.insert if is_postgres(conn) else sqlite.insert)(setting)
        conn.execute(insert.values(key=_key(kind, name), value={}).on_conflict_do_nothing())
    query = select(setting.c.value).where(setting.c.key == _key(kind, name))
    value = conn.scalar(query.with_for_update() if lock else query)
    if not value:
        return None
    return Draft(value["base"], value["body"], UUID(value["by"]), datetime.fromisoformat(value["at"]))


def keep_draft(
    conn: Connection, viewer: Viewer, kind: str, name: str, base: int, body: Mapping[str, Any], at: datetime
) -> None:
    """Store the draft of a piece in place of the one before."""
    viewer.needs(Role.manager)
    value = {"base": base, "body": dict(body), "by": str(viewer.staff_id), "at": at.isoformat()}
    insert = (postgresql.insert if is_postgres(conn) else sqlite.insert)(setting)
    new = insert.values(key=_key(kind, name), value=value)
    conn.execute(new.on_conflict_do_update(index_elements=["key"], set_={"value": new.excluded.value}))


def drop_draft(conn: Connection, viewer: Viewer, kind: str, name: str) -> None:
    """Forget the draft of a piece."""
    viewer.needs(Role.manager)
    conn.execute(delete(setting).where(setting.c.key == _key(kind, name)))


def _key(kind: str, name: str) -> str:
    return f"draft:{kind}:{name}"

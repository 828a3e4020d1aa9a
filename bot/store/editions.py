"""Editions: every published state of a piece of content (a schedule, the rules, texts). Written once; the
newest that is in force counts."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, Select, func, insert, select

from bot.core.errors import Conflict
from bot.core.ids import derived_id
from bot.store.tables import edition


@dataclass(frozen=True, slots=True)
class Edition:
    """`kind` and `name` say what it is (schedule, standard); `number` counts from 1; `body` holds it."""

    id: UUID
    kind: str
    name: str
    number: int
    body: Mapping[str, Any]
    sha256: str
    origin: str  # factory, or edited
    based_on: UUID | None
    effective_from: datetime
    by: UUID | None
    at: datetime
    why: str = ""  # why it was published, in the publisher's words


def in_force(conn: Connection, kind: str, at: datetime) -> dict[str, Edition]:
    """Give, by name, the edition of each piece of a kind that is in force at `at`."""
    query = select(edition).where(edition.c.kind == kind, edition.c.effective_from <= at)
    return {found.name: found for found in _all(conn, query)}  # by number: the newest comes last


def newest(conn: Connection, kind: str, name: str) -> Edition | None:
    """Give the newest edition of one piece, in force or still to come."""
    found = history(conn, kind, name)
    return found[-1] if found else None


def history(conn: Connection, kind: str, name: str) -> list[Edition]:
    """Give every edition of one piece, oldest first."""
    return _all(conn, select(edition).where(edition.c.kind == kind, edition.c.name == name))


def newest_number(conn: Connection, kind: str, at: datetime) -> int:
    """Give the highest number of a kind that is in force; 0 when none was published."""
    query = select(func.max(edition.c.number)).where(edition.c.kind == kind, edition.c.effective_from <= at)
    return conn.scalar(query) or 0


def numbers_in_force(conn: Connection, kind: str, at: datetime) -> dict[str, int]:
    """Give, by name, the highest number of a kind that is in force."""
    query = (
        select(edition.c.name, func.max(edition.c.number).label("number"))
        .where(edition.c.kind == kind, edition.c.effective_from <= at)
        .group_by(edition.c.name)
    )
    return {row.name: row.number for row in conn.execute(query)}


def publish(
    conn: Connection,
    kind: str,
    name: str,
    body: Mapping[str, Any],
    *,
    at: datetime,
    effective_from: datetime,
    by: UUID | None = None,
    origin: str = "edited",
    based_on: int | None = None,
    why: str = "",
) -> Edition:
    """Store the next edition and give it. `based_on` is the number that was edited: Conflict where it is no
    longer the newest, for somebody else published meanwhile."""
    before = newest(conn, kind, name)
    number = before.number if before else 0
    if based_on is not None and based_on != number:
        raise Conflict(f"Edition {number} was published meanwhile. Look at it and make your change again.")
    made = Edition(
        id=derived_id(at, kind, name, number + 1),
        kind=kind,
        name=name,
        number=number + 1,
        body=body,
        sha256=digest(body),
        origin=origin,
        based_on=before.id if before else None,
        effective_from=effective_from,
        by=by,
        at=at,
        why=why,
    )
    conn.execute(insert(edition), {name: getattr(made, name) for name in Edition.__dataclass_fields__})
    return made


def digest(body: Mapping[str, Any]) -> str:
    """Give the SHA-256 of a body, however its keys are ordered."""
    return sha256(json.dumps(body, sort_keys=True, ensure_ascii=False).encode()).hexdigest()


def _all(conn: Connection, query: Select[Any]) -> list[Edition]:
    return [Edition(**row._asdict()) for row in conn.execute(query.order_by(edition.c.number))]

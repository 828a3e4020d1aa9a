"""The register of adverse events, legal holds, and whom to catch up with after we were deaf."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from uuid import UUID

from sqlalchemy import Connection, insert, select, update
from sqlalchemy.dialects import postgresql, sqlite

from bot.core.errors import Conflict, NotFound
from bot.core.follow.events import Adverse
from bot.core.ids import derived_id
from bot.core.pair import Pair
from bot.store import tables as t
from bot.store.engine import is_postgres

# Who looks again within this time is still looking.
_LOOKS_ON = timedelta(minutes=30)


def open_entries(conn: Connection, grave: Sequence[tuple[Pair, Adverse]], now: datetime) -> None:
    """Open an entry for each; the same of one local day is opened once."""
    made = [
        {
            "id": derived_id(
                pair.enrolled_at, pair.id, "adverse", each.kind, each.baby, pair.local(now).date()
            ),
            "enrolment": pair.id,
            "baby": each.baby,
            "kind": each.kind,
            "opened_at": now,
            "on_day": None,
            "place": None,
            "source": "",
            "note": None,
            "completed_at": None,
            "completed_by": None,
        }
        for pair, each in grave
    ]
    new = (postgresql.insert if is_postgres(conn) else sqlite.insert)(t.adverse_event)
    conn.execute(new.on_conflict_do_nothing(), made)


def _entry_id(pair: Pair, each: Adverse, now: datetime) -> UUID:
    return derived_id(pair.enrolled_at, pair.id, "adverse", each.kind, each.baby, pair.local(now).date())


# ---------------------------------------------------------------- legal holds


def hold(conn: Connection, enrolment: UUID, why: str, now: datetime) -> None:
    """Nothing of this pair may be removed from now on. Raises NotFound, or Conflict where it is held."""
    if conn.scalar(select(t.enrolment.c.id).where(t.enrolment.c.id == enrolment)) is None:
        raise NotFound(f"There is no enrolment {enrolment}.")
    standing = conn.execute(select(t.legal_hold).where(t.legal_hold.c.enrolment == enrolment)).one_or_none()
    if standing is not None and standing.released_at is None:
        raise Conflict(f"It is held already: {standing.why}")
    values = {"since": now, "why": why, "released_at": None, "released_why": ""}
    if standing is None:
        conn.execute(insert(t.legal_hold).values(enrolment=enrolment, **values))
    else:
        conn.execute(update(t.legal_hold).where(t.legal_hold.c.enrolment == enrolment).values(values))


def hold_of(conn: Connection, enrolment: UUID) -> tuple[datetime, str] | None:
    """Give since when and why a pair is held; None where it is not."""
    held = t.legal_hold.c
    row = conn.execute(
        select(held.since, held.why).where(held.enrolment == enrolment, held.released_at.is_(None))
    ).one_or_none()
    return None if row is None else (row.since, row.why)


def release(conn: Connection, enrolment: UUID, why: str, now: datetime) -> None:
    """Lift a hold. Raises NotFound where none stands."""
    here = t.legal_hold.c.enrolment == enrolment, t.legal_hold.c.released_at.is_(None)
    done = conn.execute(update(t.legal_hold).where(*here).values(released_at=now, released_why=why))
    if not done.rowcount:
        raise NotFound("No legal hold stands for this enrolment.")


# ---------------------------------------------------------------- who looked


def note_opened(conn: Connection, enrolment: UUID, by: UUID, now: datetime) -> None:
    """Write into the audit that somebody opened a pair's page; the same person at most once in a while."""
    e = t.event_log
    again = select(e.c.id).where(
        e.c.subject == enrolment, e.c.what == "opened", e.c.actor == str(by), e.c.at > now - _LOOKS_ON
    )
    if conn.scalar(again.limit(1)) is None:
        row = {"at": now, "actor": str(by), "subject": enrolment, "what": "opened"}
        conn.execute(insert(e).values(**row, from_state="", to_state="", why="", data={}))


def note_taken_out(conn: Connection, enrolment: UUID, actor: str, now: datetime) -> None:
    """Write into the audit that a pair's record was taken out as a file."""
    row = {"at": now, "actor": actor, "subject": enrolment, "what": "incident"}
    conn.execute(insert(t.event_log).values(**row, from_state="", to_state="made", why="", data={}))


# ---------------------------------------------------------------- whom to catch up with


def list_to_catch_up(conn: Connection, enrolments: Sequence[UUID], now: datetime) -> None:
    """Put pairs on the list; one that stands there keeps its place."""
    make = postgresql.insert if is_postgres(conn) else sqlite.insert
    new = make(t.catch_up)
    again = new.on_conflict_do_update(
        index_elements=["enrolment"],
        set_={"since": now, "seen_at": None, "seen_by": None},
        where=t.catch_up.c.seen_at.is_not(None),
    )
    listed = [{"enrolment": each, "since": now, "seen_at": None, "seen_by": None} for each in enrolments]
    conn.execute(again, listed)

"""Taking records that are no longer kept out of the database: those whose time is over, or one by request."""

from __future__ import annotations

from datetime import datetime, timedelta
from uuid import UUID

from bot.core.errors import Conflict
from bot.store.engine import Store
from bot.store.erasing import erase, erase_strangers, to_erase, what_keeps


def erase_old(store: Store, keep: timedelta, now: datetime, limit: int) -> int:
    """Erase up to `limit` pairs whose follow-up ended longer than `keep` ago, and as many replies of
    strangers; gives how many. Who is under a legal hold, or has something open, stays."""
    before = now - keep
    with store.write() as conn:
        pairs = to_erase(conn, before, limit)
        erase(conn, pairs, f"kept for {keep.days} days", now)
        done = len(pairs) + erase_strangers(conn, before, limit)
    if done:
        store.empty_log()
    return done


def erase_one(store: Store, enrolment: UUID, why: str, now: datetime) -> None:
    """Erase one pair before its time, as she or a court asked. Raises Conflict where something keeps it."""
    with store.write() as conn:
        kept = what_keeps(conn, enrolment)
        if kept is not None:
            raise Conflict(kept)
        erase(conn, [enrolment], why, now)
    store.empty_log()

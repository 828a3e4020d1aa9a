"""Which pairs are concerned, and when something is due next: for workers, which act on whoever it is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from datetime import datetime
from itertools import pairwise
from uuid import UUID

from sqlalchemy import Connection, Select, func, select

from bot.core.checkin import ASKED
from bot.core.pair import Pair
from bot.core.states import EnrolmentState, MessageState
from bot.store import tables as t
from bot.store.engine import sealer_of
from bot.store.pairs import load_pairs


def busy_pairs(conn: Connection, pairs: Sequence[Pair]) -> frozenset[UUID]:
    """Give the pairs whose phone carries the open question of another mother."""
    sealer = sealer_of(conn)
    keys = {pair.id: sealer.phone_key(pair.mother.phone) for pair in pairs if pair.mother.phone}
    query = select(t.question.c.phone_key, t.question.c.enrolment).where(
        t.question.c.phone_key.in_(set(keys.values())), t.question.c.state.in_(ASKED)
    )
    open_on = {row.phone_key: row.enrolment for row in conn.execute(query)}
    return frozenset(pair for pair, key in keys.items() if open_on.get(key, pair) != pair)


def pairs_on_phones(conn: Connection, phone_keys: Collection[bytes]) -> dict[bytes, list[Pair]]:
    """Load and lock, by number, every pair whose mother has one of these numbers now, closed ones too; where
    nobody has it, those of whom it is known as another number: `is_hers` tells them apart."""
    query = (
        select(t.mother.c.phone_key, t.enrolment.c.id)
        .join(t.enrolment, t.enrolment.c.mother == t.mother.c.id)
        .where(t.mother.c.phone_key.in_(phone_keys))
    )
    key_of = {row.id: row.phone_key for row in conn.execute(query) if row.phone_key}
    strange = set(phone_keys) - set(key_of.values())
    if strange:
        key_of |= _known_otherwise(conn, strange)
    found: dict[bytes, list[Pair]] = defaultdict(list)
    for pair in load_pairs(conn, key_of, lock=True):
        found[key_of[pair.id]].append(pair)
    return found


def _known_otherwise(conn: Connection, phone_keys: Collection[bytes]) -> dict[UUID, bytes]:
    query = (
        select(t.other_phone.c.phone_key, t.enrolment.c.id)
        .join(t.enrolment, t.enrolment.c.mother == t.other_phone.c.mother)
        .where(t.other_phone.c.phone_key.in_(phone_keys))
        .where(t.enrolment.c.state != t.fixed(EnrolmentState.closed))
    )
    return {row.id: row.phone_key for row in conn.execute(query)}


def planned_otherwise(conn: Connection, stamps: Iterable[str], limit: int) -> list[UUID]:
    """Give pairs that are followed by a plan made from anything but these editions.

    What lies between the stamps in force is read from the index as ranges, so that pairs whose plan is up to
    date cost nothing.
    """
    found: list[UUID] = []
    for after, before in pairwise([None, *sorted(set(stamps)), None]):
        if len(found) < limit:
            found += conn.scalars(_between(after, before).limit(limit - len(found)))
    return found


def _between(after: str | None, before: str | None) -> Select[UUID]:
    stamp = t.enrolment.c.plan_stamp
    query = select(t.enrolment.c.id).where(t.enrolment.c.state != t.fixed(EnrolmentState.closed))
    if after is not None:
        query = query.where(stamp > after)
    if before is not None:
        query = query.where(stamp < before)
    return query.with_for_update(skip_locked=True)


def next_due(conn: Connection) -> datetime | None:
    """Give the earliest instant at which a pair wakes or a queued text may go; None when nothing waits."""
    e, m = t.enrolment.c, t.message.c
    wakes = conn.scalar(select(func.min(e.wake_at)).where(e.state != t.fixed(EnrolmentState.closed)))
    sends = conn.scalar(select(func.min(m.send_after)).where(m.state == t.fixed(MessageState.queued)))
    return min((each for each in (wakes, sends) if each is not None), default=None)

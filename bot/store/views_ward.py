"""What the ward's list shows: who went home lately, and whose number has not answered yet."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from sqlalchemy import Connection, or_, select

from bot.core.errors import NotFound
from bot.core.ids import first_id
from bot.core.pair import Pair
from bot.core.states import EnrolmentState, MessageState, Texting
from bot.store.pairs import load_pairs
from bot.store.tables import enrolment, fixed, message, mother
from bot.store.viewer import Viewer

PRACTICE = "practice"
HOME_SINCE = timedelta(hours=48)  # how long a pair stands on the list once its number has answered
UNVERIFIED_SINCE = timedelta(days=14)  # longer silence is the inbox's: each contact is a call by then


@dataclass(frozen=True, slots=True)
class Practice:
    """The newest practice text of a pair, and what became of it."""

    state: MessageState
    created_at: datetime
    sent_at: datetime | None


@dataclass(frozen=True, slots=True)
class Ready:
    """One pair of the ward's list."""

    pair: Pair
    practice: Practice | None

    @property
    def waits(self) -> bool:
        """Her number has not answered yet."""
        return self.pair.mother.texting is Texting.unverified


def ward_list(conn: Connection, viewer: Viewer, now: datetime, *, limit: int = 100) -> list[Ready]:
    """Give the viewer's pairs that were enrolled lately, those not verified first, else newest first."""
    query = (
        select(enrolment.c.id)
        .join(mother, mother.c.id == enrolment.c.mother)
        .where(enrolment.c.id >= first_id(now - UNVERIFIED_SINCE), enrolment.c.site.in_(viewer.sites))
        .where(enrolment.c.state == fixed(EnrolmentState.following))
        .where(
            or_(enrolment.c.enrolled_at >= now - HOME_SINCE, mother.c.texting == fixed(Texting.unverified))
        )
        .order_by(mother.c.texting != fixed(Texting.unverified), enrolment.c.id.desc())
        .limit(limit)
    )
    order = list(conn.scalars(query))
    pairs = {pair.id: pair for pair in load_pairs(conn, order, lock=False)}
    practices = _practices(conn, order)
    return [Ready(pairs[found], practices.get(found)) for found in order]


def ready(conn: Connection, viewer: Viewer, pair_id: UUID) -> Ready:
    """Give one pair with its practice text. Raises NotFound where it is not the viewer's."""
    pair = next(iter(load_pairs(conn, [pair_id], lock=False)), None)
    if pair is None or pair.site.id not in viewer.sites:
        raise NotFound("There is no such pair at your sites.")
    return Ready(pair, _practices(conn, [pair_id]).get(pair_id))


def offers(conn: Connection, viewer: Viewer) -> list[Pair]:
    """Give the pairs that other sites ask the viewer's sites to take over, longest enrolled first."""
    query = select(enrolment.c.id).where(enrolment.c.offered_to.in_(viewer.sites))
    return load_pairs(conn, conn.scalars(query), lock=False)


def _practices(conn: Connection, ids: Collection[UUID]) -> dict[UUID, Practice]:
    m = message.c
    query = (
        select(m.enrolment, m.state, m.created_at, m.sent_at)
        .where(m.enrolment.in_(ids), m.text_key == PRACTICE)
        .order_by(m.created_at, m.id)  # the newest one stays
    )
    return {
        row.enrolment: Practice(row.state, row.created_at, row.sent_at)
        for row in conn.execute(query)
        if row.enrolment is not None
    }

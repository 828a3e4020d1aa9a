"""Who is on the list of those whom texts do not reach, at the viewer's sites."""

from __future__ import annotations

from uuid import UUID

from sqlalchemy import Connection, func, select

from bot.core.pair import CHASED, Pair
from bot.core.states import ChaseState
from bot.store.pairs import load_pairs
from bot.store.tables import chase, enrolment, fixed
from bot.store.viewer import Viewer

_OPEN = chase.c.state.in_([fixed(each) for each in ChaseState if each in CHASED])


def on_the_list(conn: Connection, viewer: Viewer, site: UUID | None = None, limit: int = 500) -> list[Pair]:
    """Give the pairs on the list, whole; of one site, or of all that the viewer may see. Those who stand
    there longest are given first where there are more than `limit`."""
    query = (
        select(enrolment.c.id)
        .join(chase, chase.c.enrolment == enrolment.c.id)
        .where(_OPEN, enrolment.c.site.in_(viewer.sites))
        .order_by(chase.c.opened_at, enrolment.c.id)
        .limit(limit)
    )
    if site is not None:
        query = query.where(enrolment.c.site == site)
    return load_pairs(conn, conn.scalars(query), lock=False)


def count_on_the_list(conn: Connection, viewer: Viewer, site: UUID | None = None) -> int:
    """Count them, so that a cut list can say so."""
    query = (
        select(func.count())
        .select_from(chase)
        .join(enrolment, enrolment.c.id == chase.c.enrolment)
        .where(_OPEN, enrolment.c.site.in_(viewer.sites))
    )
    return conn.scalar(query if site is None else query.where(enrolment.c.site == site)) or 0

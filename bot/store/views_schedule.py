"""What a manager sees around the schedule: who published which edition, and how many pairs one touches."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from sqlalchemy import Connection, func, select

from bot.core.states import EnrolmentState
from bot.store import editions
from bot.store.editions import Edition
from bot.store.engine import sealer_of
from bot.store.tables import baby, enrolment, fixed, staff
from bot.store.viewer import Role, Viewer


@dataclass(frozen=True, slots=True)
class Published:
    """An edition and the name of who published it, empty for the program itself."""

    edition: Edition
    who: str


@dataclass(frozen=True, slots=True)
class Touched:
    """Pairs under follow-up at all sites by this schedule: all of them, and those young enough that a changed
    contact can still lie ahead of them. Numbers only."""

    followed: int
    ahead: int


def published(conn: Connection, viewer: Viewer, kind: str, name: str) -> list[Published]:
    """Give every edition of a piece, newest first, with who published it."""
    viewer.needs(Role.manager)
    found = editions.history(conn, kind, name)
    names = staff_names(conn, viewer, [each.by for each in found if each.by])
    return [Published(each, names.get(each.by, "") if each.by else "") for each in reversed(found)]


def staff_names(conn: Connection, viewer: Viewer, ids: Iterable[UUID]) -> dict[UUID, str]:
    """Give the names of managers who changed content, whatever their sites: they answer for it."""
    viewer.needs(Role.manager)
    rows = conn.execute(select(staff.c.id, staff.c.name).where(staff.c.id.in_(list(ids))))
    return {row.id: sealer_of(conn).open(row.name, row.id, "staff.name") for row in rows}


def touched(conn: Connection, viewer: Viewer, schedule: str, born_since: date | None) -> Touched:
    """Count the pairs that a new edition of `schedule` reaches. `born_since` is the earliest day of birth for
    which something changes, None when nothing does for anybody."""
    viewer.needs(Role.manager)
    followed = (
        select(func.count(enrolment.c.id.distinct()))
        .where(enrolment.c.schedule == schedule)
        .where(enrolment.c.state != fixed(EnrolmentState.closed))
    )
    if born_since is None:
        return Touched(conn.scalar(followed) or 0, 0)
    young = followed.join(baby, baby.c.enrolment == enrolment.c.id).where(baby.c.born_on >= born_since)
    return Touched(conn.scalar(followed) or 0, conn.scalar(young) or 0)

"""The accounts of staff as those see them who manage them: listed, changed, given a new password."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from uuid import UUID

from sqlalchemy import Connection, delete, insert, select, update

from bot.core.errors import NotAllowed, NotFound
from bot.store.engine import sealer_of
from bot.store.tables import staff, staff_site
from bot.store.viewer import Role, Viewer


@dataclass(frozen=True, slots=True)
class Person:
    """An account without its password."""

    id: UUID
    login: str
    name: str
    role: Role
    active: bool
    sites: frozenset[UUID]


def people(conn: Connection, viewer: Viewer) -> list[Person]:
    """Give the accounts that the viewer may manage: an admin all, a manager those below managers who work at
    none but the manager's sites. Those who are active first, by name."""
    viewer.needs(Role.manager)
    sites: dict[UUID, set[UUID]] = defaultdict(set)
    for row in conn.execute(select(staff_site)):
        sites[row.staff].add(row.site)
    seal = sealer_of(conn)
    found = [
        Person(
            row.id,
            row.login,
            seal.open(row.name, row.id, "staff.name"),
            row.role,
            row.active,
            frozenset(sites[row.id]),
        )
        for row in conn.execute(select(staff))
    ]
    mine = [person for person in found if may_manage(viewer, person.role, person.sites)]
    return sorted(mine, key=lambda person: (not person.active, person.name))


def may_manage(viewer: Viewer, role: Role, sites: Collection[UUID]) -> bool:
    """Tell whether the viewer may make, or change, an account of this role at these sites."""
    if viewer.role is Role.admin:
        return True
    return viewer.role is Role.manager and not role.reaches(Role.manager) and viewer.sites >= set(sites)


def person_of(conn: Connection, viewer: Viewer, person_id: UUID) -> Person:
    """Give one account; NotFound where the viewer may not manage it."""
    found = next((each for each in people(conn, viewer) if each.id == person_id), None)
    if found is None:
        raise NotFound("There is no such account among those that you manage.")
    return found


def change_person(
    conn: Connection, viewer: Viewer, person_id: UUID, *, role: Role, sites: Collection[UUID], active: bool
) -> None:
    """Set role, sites and whether the account may sign in. Its open sessions end where it loses anything.

    NotAllowed  the viewer may not manage the account as it would be, or would shut out themselves
    """
    before = person_of(conn, viewer, person_id)
    if not may_manage(viewer, role, sites):
        raise NotAllowed("You can't give this role or these sites.")
    if person_id == viewer.staff_id and (not active or role is not before.role):
        raise NotAllowed("You can't take your own role or account away. Ask somebody else.")
    loses = not active or not role.reaches(before.role) or not before.sites <= set(sites)
    epoch = staff.c.session_epoch + (1 if loses else 0)
    conn.execute(
        update(staff).where(staff.c.id == person_id).values(role=role, active=active, session_epoch=epoch)
    )
    conn.execute(delete(staff_site).where(staff_site.c.staff == person_id))
    if sites:
        conn.execute(insert(staff_site), [{"staff": person_id, "site": site} for site in sites])


def set_password(conn: Connection, viewer: Viewer, person_id: UUID, password_hash: str) -> None:
    """Give an account a new password; its open sessions end."""
    person_of(conn, viewer, person_id)
    values = {"password_hash": password_hash, "session_epoch": staff.c.session_epoch + 1}
    conn.execute(update(staff).where(staff.c.id == person_id).values(values))

"""The people who sign in: their accounts, their sites, and the attempts that lock one out."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlalchemy import Connection, func, insert, select, update

from bot.core.ids import derived_id
from bot.store.engine import sealer_of
from bot.store.tables import login_attempt, site, staff, staff_site
from bot.store.viewer import Role, Viewer

NAME = "staff.name"


@dataclass(frozen=True, slots=True)
class Account:
    """A person of the staff. `epoch` goes up when all open sessions must end."""

    id: UUID
    login: str
    name: str
    role: Role
    language: str
    epoch: int
    active: bool
    password_hash: str
    sites: frozenset[UUID]

    @property
    def viewer(self) -> Viewer:
        return Viewer(self.id, self.role, self.sites)


@dataclass(frozen=True, slots=True)
class SiteName:
    """A site as people name it."""

    id: UUID
    code: str
    name: str
    zone: str


def add_account(
    conn: Connection,
    *,
    login: str,
    name: str,
    password_hash: str,
    role: Role,
    language: str,
    sites: Collection[UUID],
    now: datetime,
) -> UUID:
    """Store a new account and give its id. A login that exists raises IntegrityError."""
    made = derived_id(now, "staff", login)
    row = {
        "id": made,
        "login": login.strip().lower(),
        "name": sealer_of(conn).seal(name, made, NAME),
        "password_hash": password_hash,
        "role": role,
        "active": True,
        "language": language,
        "session_epoch": 1,
        "created_at": now,
    }
    conn.execute(insert(staff).values(row))
    if sites:
        conn.execute(insert(staff_site), [{"staff": made, "site": one} for one in sites])
    return made


def account_by_login(conn: Connection, login: str) -> Account | None:
    """Find who signs in with that name, however it was typed in upper or lower case."""
    return _one(conn, staff.c.login == login.strip().lower())


def account_by_id(conn: Connection, staff_id: UUID) -> Account | None:
    """Find the owner of a session."""
    return _one(conn, staff.c.id == staff_id)


def _one(conn: Connection, where: object) -> Account | None:
    row = conn.execute(select(staff).where(where)).one_or_none()  # type: ignore[arg-type]
    if row is None:
        return None
    sites = conn.scalars(select(staff_site.c.site).where(staff_site.c.staff == row.id))
    return Account(
        id=row.id,
        login=row.login,
        name=sealer_of(conn).open(row.name, row.id, NAME),
        role=row.role,
        language=row.language,
        epoch=row.session_epoch,
        active=row.active,
        password_hash=row.password_hash,
        sites=frozenset(sites),
    )


def colleagues(conn: Connection, viewer: Viewer, site_id: UUID | None = None) -> dict[UUID, str]:
    """Give the names of all who work at a site of the viewer's (or at that one), by id."""
    wanted = viewer.sites if site_id is None else viewer.sites & {site_id}
    rows = conn.execute(
        select(staff.c.id, staff.c.name)
        .distinct()
        .join(staff_site, staff_site.c.staff == staff.c.id)
        .where(staff_site.c.site.in_(wanted), staff.c.active)
    )
    names = {row.id: sealer_of(conn).open(row.name, row.id, NAME) for row in rows}
    return dict(sorted(names.items(), key=lambda item: item[1]))


def sites_of(conn: Connection, viewer: Viewer) -> list[SiteName]:
    """Give the viewer's sites by name."""
    rows = conn.execute(
        select(site.c.id, site.c.code, site.c.name, site.c.zone)
        .where(site.c.id.in_(viewer.sites))
        .order_by(site.c.name)
    )
    return [SiteName(row.id, row.code, row.name, row.zone) for row in rows]


def set_language(conn: Connection, staff_id: UUID, language: str) -> None:
    """Remember in which language a person's screens stand."""
    conn.execute(update(staff).where(staff.c.id == staff_id).values(language=language))


def end_sessions(conn: Connection, staff_id: UUID) -> None:
    """End every open session of an account."""
    conn.execute(update(staff).where(staff.c.id == staff_id).values(session_epoch=staff.c.session_epoch + 1))


def record_attempt(conn: Connection, login: str, at: datetime, *, succeeded: bool) -> None:
    """Keep an attempt to sign in."""
    conn.execute(insert(login_attempt).values(login=login.strip().lower(), at=at, succeeded=succeeded))


def failures_since(conn: Connection, login: str, start: datetime) -> int:
    """Count the failed attempts after `start` and after the last one that succeeded."""
    folded = login.strip().lower()
    last = conn.scalar(
        select(func.max(login_attempt.c.at)).where(login_attempt.c.login == folded, login_attempt.c.succeeded)
    )
    query = (
        select(func.count())
        .select_from(login_attempt)
        .where(login_attempt.c.login == folded, ~login_attempt.c.succeeded)
        .where(login_attempt.c.at > (max(start, last) if last else start))
    )
    return conn.scalar(query) or 0


def count_accounts(conn: Connection) -> int:
    """Tell how many accounts there are; none of what is in them."""
    return conn.scalar(select(func.count()).select_from(staff)) or 0

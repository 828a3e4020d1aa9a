"""Sites, which live in the database: added, changed and given by their codes."""

from __future__ import annotations

from dataclasses import replace

from sqlalchemy import Connection, delete, insert, select, update

from bot.core.errors import Conflict, NotFound
from bot.core.pair import Site
from bot.store import rows
from bot.store.engine import sealer_of
from bot.store.pairs import load_sites
from bot.store.tables import closed_day, site


def add_site(conn: Connection, new: Site) -> None:
    """Store a new site. Raises Conflict when its code is taken."""
    if conn.scalar(select(site.c.id).where(site.c.code == new.code)):
        raise Conflict(f"There is a site with the code {new.code} already.")
    conn.execute(insert(site), rows.sealed(sealer_of(conn), site, rows.site_row(new)))
    _keep_closed_days(conn, new)


def change_site(conn: Connection, changed: Site) -> Site:
    """Store a site's new facts under the next revision, by which running enrolments are planned anew."""
    after = replace(changed, revision=changed.revision + 1)
    row = rows.sealed(sealer_of(conn), site, rows.site_row(after))
    done = conn.execute(
        update(site).where(site.c.id == changed.id, site.c.revision == changed.revision).values(row)
    )
    if not done.rowcount:
        raise Conflict("Somebody else changed this site meanwhile. Look at it and make your change again.")
    conn.execute(delete(closed_day).where(closed_day.c.site == changed.id))
    _keep_closed_days(conn, after)
    return after


def all_sites(conn: Connection) -> list[Site]:
    """Give every site, by code."""
    found = load_sites(conn, conn.scalars(select(site.c.id)).all())
    return sorted(found.values(), key=lambda each: each.code)


def site_by_code(conn: Connection, code: str) -> Site:
    """Give the site of that code; raise NotFound."""
    found = conn.scalar(select(site.c.id).where(site.c.code == code))
    if found is None:
        raise NotFound(f"There is no site with the code {code}.")
    return load_sites(conn, [found])[found]


def _keep_closed_days(conn: Connection, of: Site) -> None:
    if of.closed_days:
        conn.execute(insert(closed_day), [{"site": of.id, "day": day} for day in sorted(of.closed_days)])

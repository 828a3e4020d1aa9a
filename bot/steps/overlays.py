"""A site's own thresholds: proved before they hold, kept as editions that stay, withdrawn by a further one.

Editions of the kind `overlay` are named by the site's code; an empty body means that the common rules hold.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import Connection

from bot.content.check_rules import Proof, prove
from bot.content.factory import load_factory
from bot.content.overlay import milder, overlaid
from bot.core.errors import Conflict, Invalid, NotFound, Problem
from bot.steps.content import OVERLAY, RULES, STANDARD
from bot.store import editions
from bot.store.editions import Edition
from bot.store.engine import Store
from bot.store.sites import site_by_code


def put_overlay(
    store: Store, site: str, overlay: Mapping[str, Any], why: str, now: datetime
) -> tuple[Proof, list[str]]:
    """Make an overlay hold at a site from now on, in the place of the one before. Gives the proof of the
    rules as they hold there, and which of them are milder than the common ones.

    Raises NotFound for an unknown site, Invalid with every fault of the overlay or of the proof of the rules
    as they would then hold; nothing has changed then.
    """
    with store.write() as conn:
        site_by_code(conn, site)
        body = _common(conn, now)
        proof = _proved(body, overlay)
        if proof.problems:
            raise Invalid(proof.problems)
        _publish(conn, site, overlay, why, now)
    return proof, milder(body, overlay)


def withdraw_overlay(store: Store, site: str, why: str, now: datetime) -> None:
    """Make the common rules hold at a site again. Raises NotFound where nothing differs there."""
    with store.write() as conn:
        standing = editions.newest(conn, OVERLAY, site)
        if standing is None or not standing.body:
            raise NotFound(f"The common rules hold at {site}.")
        _publish(conn, site, {}, why, now)


def overlays(conn: Connection, now: datetime) -> list[Edition]:
    """Give the overlays in force, by site."""
    found = editions.in_force(conn, OVERLAY, now)
    return [found[site] for site in sorted(found) if found[site].body]


def prove_sites(conn: Connection, now: datetime) -> Iterator[tuple[str, Proof]]:
    """Prove the rules of every site that differs, as they hold there now."""
    for edition in overlays(conn, now):
        try:
            yield edition.name, _proved(_common(conn, now), edition.body)
        except Invalid as fault:
            yield edition.name, Proof(tuple(fault.problems), 0, 0, 0)


def _common(conn: Connection, now: datetime) -> Mapping[str, Any]:
    rules = editions.in_force(conn, RULES, now).get(STANDARD)
    if rules is None:
        raise Conflict("No rules are published yet. Start the service once, then try again.")
    return rules.body


def _proved(body: Mapping[str, Any], overlay: Mapping[str, Any]) -> Proof:
    return prove(overlaid(body, overlay), set(load_factory().texts.keys))


def _publish(conn: Connection, site: str, overlay: Mapping[str, Any], why: str, now: datetime) -> None:
    if not why.strip():
        raise Invalid([Problem("why", "Say who decided this, and why.")])
    editions.publish(conn, OVERLAY, site, overlay, at=now, effective_from=now, why=why.strip())

"""A changed rule set over what was stored: nothing is written, nothing is sent.

Both sides are judged anew from the facts kept with each judgement: the rules in force now, and the same with
the change, each with the site's own overlay on top. What an earlier edition made of them does not mix in.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection

from bot.content.factory import changed_body, rules_of
from bot.content.overlay import overlaid
from bot.core.backtest import Judged
from bot.core.errors import Conflict, Invalid
from bot.core.triage import facts_from_json, triage
from bot.core.triage_rules import RuleSet
from bot.steps.content import OVERLAY, RULES, STANDARD
from bot.store import editions
from bot.store.views_judged import judgements


def changed_rules(conn: Connection, text: str, without: tuple[str, ...], now: datetime) -> dict[str, Any]:
    """Give the rules in force with a change; see `changed_body`. Raises Conflict where none are published."""
    return changed_body(_in_force(conn, now), text, without)


def judged_twice(
    conn: Connection, changed: Mapping[str, Any], first: date, last: date, now: datetime, unread: list[str]
) -> Iterator[Judged]:
    """Judge each stored judgement under the rules in force and under the `changed` ones, by pair and time.
    Facts that a rule set of today can't read are left out and named in `unread`."""
    standing = _in_force(conn, now)
    before, after = _by_site(conn, standing, now), _by_site(conn, changed, now)
    for run in judgements(conn, first, last, now):
        one, two = before(run.site), after(run.site)
        try:
            sides = [triage(facts_from_json(run.facts, rules.vocabulary), rules) for rules in (one, two)]
        except Invalid as fault:
            unread.append(str(fault))
            continue
        yield Judged(run.pair, run.day, *sides)


def _by_site(conn: Connection, body: Mapping[str, Any], now: datetime) -> Callable[[str], RuleSet]:
    """Give the rules as they hold at a site; each set is built once."""
    common = rules_of(body)
    local = {
        site: overlaid(body, edition.body)
        for site, edition in editions.in_force(conn, OVERLAY, now).items()
        if edition.body
    }
    return lambda site: local.get(site, common)


def _in_force(conn: Connection, now: datetime) -> Mapping[str, Any]:
    found = editions.in_force(conn, RULES, now).get(STANDARD)
    if found is None:
        raise Conflict("No rules are published yet. Start the service once, then try again.")
    return found.body

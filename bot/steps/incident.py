"""The whole story of one pair as one file: what happened, in order, and each decision judged again under the
rules of its day. Nothing is changed but the audit, which says that the file was made.

What cover, alert list and texts were is told by what was stored then; of the site's hours only today's are
kept, and the file says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from sqlalchemy import Connection

from bot.content.factory import rules_of
from bot.content.overlay import overlaid
from bot.core.cover import is_covered, place_for, woken_in_order
from bot.core.errors import Invalid, NotFound
from bot.core.pair import Pair
from bot.core.triage import facts_from_json, triage
from bot.core.triage_rules import RuleSet
from bot.steps.content import OVERLAY, RULES, STANDARD
from bot.store import editions, pulse
from bot.store.pairs import load_pairs
from bot.store.record import hold_of
from bot.store.viewer import Viewer
from bot.store.views_incident import Happening, happenings

_AROUND = timedelta(hours=1)
_SAID = "Follow your local protocol and licensed practice. Times are UTC."


class _Replay:
    """Judges facts again under the editions of their day; each is read once."""

    def __init__(self, conn: Connection) -> None:
        self._conn = conn
        self._rules = {each.number: each for each in editions.history(conn, RULES, STANDARD)}
        self._built: dict[tuple[int, str, int], RuleSet] = {}

    def of(self, detail: Mapping[str, Any], site: str) -> str:
        """Say 'same', or what comes out today from the same facts and editions."""
        key = detail["rules_edition"], site, detail["overlay"]
        if key[0] not in self._rules:
            return "the edition is not kept here"
        try:
            if key not in self._built:
                self._built[key] = self._build(*key)
            rules = self._built[key]
            verdict = triage(facts_from_json(detail["facts"], rules.vocabulary), rules)
        except Invalid as fault:
            return f"can't be judged again: {fault}"
        then = {fired["rule"] for fired in detail["fired"]}
        now = {fired.rule for fired in verdict.fired}
        if verdict.urgency.name == detail["urgency"] and then == now:
            return "same"
        return f"{verdict.urgency.name}: {', '.join(sorted(now)) or 'nothing'}"

    def _build(self, number: int, site: str, overlay: int) -> RuleSet:
        body = self._rules[number].body
        if not overlay:
            return rules_of(body)
        local = {each.number: each for each in editions.history(self._conn, OVERLAY, site)}
        return overlaid(body, local[overlay].body)


def incident(conn: Connection, viewer: Viewer, enrolment: UUID, now: datetime) -> dict[str, Any]:
    """Give the record of a pair as plain values. Raises NotFound where the viewer's sites do not hold it."""
    found = happenings(conn, viewer, enrolment)
    pair = next(iter(load_pairs(conn, [enrolment], lock=False)), None)
    if pair is None or not found:
        raise NotFound("There is no such pair at your sites.")
    replayed = _Replay(conn)
    story = [_entry(each, pair, replayed) for each in found]
    first, last = found[0].at, found[-1].at
    health = pulse.between(conn, first - _AROUND, last + _AROUND)
    standing = hold_of(conn, enrolment)
    record: dict[str, Any] = _plain(
        {
            "enrolment": enrolment,
            "made_at": now,
            "says": _SAID,
            "pair": _who(pair),
            "legal_hold": None if standing is None else {"since": standing[0], "why": standing[1]},
            "site_today": _site(pair),
            "health": [asdict(each) for each in health],
            "replay": {
                "decisions": sum(each["kind"] == "triage" for each in story),
                "same": sum(each.get("replay") == "same" for each in story),
            },
            "story": story,
        }
    )
    return record


def _entry(each: Happening, pair: Pair, replayed: _Replay) -> dict[str, Any]:
    entry: dict[str, Any] = {"at": each.at, "kind": each.kind, "what": each.what, **each.detail}
    if each.kind == "triage":
        entry["replay"] = replayed.of(each.detail, pair.site.code)
        entry["covered"] = is_covered(pair.site, each.at)
    return entry


def _who(pair: Pair) -> dict[str, Any]:
    return {
        "external_id": pair.external_id,
        "state": pair.state.value,
        "babies": [{"ordinal": b.ordinal, "born_on": b.born_on, "state": b.state.value} for b in pair.babies],
        "discharged_at": pair.discharged_at,
        "episodes": [
            {"opened_at": e.opened_at, "state": e.state.value, "place": e.place, "outcome": e.outcome}
            for e in pair.episodes
        ],
    }


def _site(pair: Pair) -> dict[str, Any]:
    return {
        "code": pair.site.code,
        "name": pair.site.name,
        "on_call": [each.who for each in woken_in_order(pair.site)],
        "place": place_for(pair.site, pair.extra).name,
    }


def _plain(value: Any) -> Any:
    """Values as JSON has them."""
    if isinstance(value, dict):
        return {str(key): _plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    if isinstance(value, datetime | date):
        return value.isoformat()
    return str(value) if isinstance(value, UUID) else value

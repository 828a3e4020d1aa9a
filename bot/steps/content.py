"""The content in force: published editions from the database, the factory's own where nobody edited."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import Connection

from bot.clock import Clock
from bot.content.factory import Factory, rules_body, rules_of
from bot.content.overlay import overlaid
from bot.content.schedule import schedule_from, schedule_to
from bot.core.errors import Invalid
from bot.core.follow import Content
from bot.core.triage_rules import RuleSet
from bot.steps.languages import unsigned
from bot.store import editions, pulse
from bot.store.editions import Edition
from bot.store.engine import Store

SCHEDULE, RULES, OVERLAY, STANDARD = "schedule", "rules", "overlay", "standard"
log = logging.getLogger(__name__)
# How stale the content may be, by the machine and by programme time: publishing looks a day ahead.
_FRESH = timedelta(seconds=1)
_SAME_MINUTE = timedelta(minutes=1)
# An outage counts when it was longer than this, and for as long as a check-in could have waited in it.
_DEAF, _REMEMBERED = timedelta(minutes=30), timedelta(days=4)


def publish_factory(store: Store, factory: Factory, now: datetime) -> None:
    """Publish what the program brings where nobody edited; an edited piece is left as it stands."""
    with store.write() as conn:
        for name, schedule in factory.schedules.items():
            _publish(conn, SCHEDULE, name, schedule_to(schedule), now)
        _publish(conn, RULES, STANDARD, rules_body(), now)


def _publish(conn: Connection, kind: str, name: str, body: Mapping[str, Any], now: datetime) -> None:
    standing = editions.newest(conn, kind, name)
    if standing is None or (standing.origin == "factory" and standing.sha256 != editions.digest(body)):
        editions.publish(conn, kind, name, body, at=now, effective_from=now, origin="factory")


class LiveContent:
    """Gives the content in force each time it is called; editions are parsed once."""

    def __init__(self, store: Store, factory: Factory, clock: Clock) -> None:
        self._store, self._factory, self._clock = store, factory, clock
        self._content: Content | None = None
        self._machine = self._programme = datetime.min.replace(tzinfo=UTC)
        self._parsed: dict[str, Any] = {}

    def __call__(self) -> Content:
        machine, programme = self._clock.machine(), self._clock.now()
        if self._content is None or not self._is_fresh(machine, programme):
            self._content = self._load(programme)
            self._machine, self._programme = machine, programme
        return self._content

    def _is_fresh(self, machine: datetime, programme: datetime) -> bool:
        return machine - self._machine < _FRESH and abs(programme - self._programme) < _SAME_MINUTE

    def _load(self, now: datetime) -> Content:
        with self._store.read() as conn:
            schedules = editions.in_force(conn, SCHEDULE, now)
            rules = editions.in_force(conn, RULES, now)[STANDARD]
            overlays = editions.in_force(conn, OVERLAY, now)
            open_languages = unsigned(conn, self._unapproved())
            ahead = now - self._clock.machine()
            deaf = pulse.outages(conn, self._clock.machine() - _REMEMBERED, _DEAF)
        return Content(
            schedule=self._once(schedules[STANDARD], schedule_of),
            rules=self._once(rules, lambda edition: rules_of(edition.body)),
            occasions=self._factory.occasions,
            questions=frozenset(self._factory.questions),
            unsigned=open_languages,
            local_rules=self._local_rules(rules, overlays.values()),
            outages=tuple((begins + ahead, ends + ahead) for begins, ends in deaf),
        )

    def _local_rules(self, rules: Edition, overlays: Iterable[Edition]) -> dict[str, RuleSet]:
        """The rules of each site whose protocol differs. An overlay that the rules have outgrown is left out:
        the common rules hold there, and `dunnock check --sites` names it."""
        found = {}
        for overlay in overlays:
            key = f"{RULES}:{rules.number}:{OVERLAY}:{overlay.name}:{overlay.number}"
            if key not in self._parsed:
                try:
                    self._parsed[key] = overlaid(rules.body, overlay.body) if overlay.body else None
                except Invalid as fault:
                    log.error("the overlay of site %s does not fit the rules: %s", overlay.name, fault)
                    self._parsed[key] = None
            if self._parsed[key] is not None:
                found[overlay.name] = self._parsed[key]
        return found

    def _unapproved(self) -> list[str]:
        """The languages whose files name nobody who approved their words."""
        return [code for code, lexicon in self._factory.lexicons.items() if not lexicon.reviewed_by]

    def _once(self, edition: Edition, parse: Callable[[Edition], Any]) -> Any:
        key = f"{edition.kind}:{edition.name}:{edition.number}"
        if key not in self._parsed:
            self._parsed[key] = parse(edition)
        return self._parsed[key]


def schedule_of(edition: Edition) -> Any:
    """The schedule of an edition; it carries the number, so that a plan says what it was made from."""
    return schedule_from({**edition.body, "edition": edition.number})

"""The weeks before the demo begins, lived by the real program: an empty database comes in, and goes out with
every mother's history in it, as if texts, replies and staff had come and gone at their times.

Only three things are not what they are in service: the clock, which stands at each moment until all that is
due there is done; the network, which puts texts straight on the stand-in's phones; and the people, who follow
their stories.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from itertools import count
from typing import Any

from bot.clock import Clock
from bot.content.factory import Factory
from bot.core.follow import Content
from bot.core.outbox import Accepted, OutboundText, Outcome, Permanent
from bot.demo.phones import Phones
from bot.gateway.profile import Profile
from bot.steps.deliveries import tell_deliveries
from bot.steps.outbox import Sender, take_reports
from bot.steps.replies import read_replies
from bot.steps.wake import wake
from bot.store.claims import Claimed
from bot.store.due import next_due
from bot.store.engine import Store
from bot.store.intake import IncomingReply, IncomingReport, Intake

# Moments are done together in steps of this length, so that six weeks pass in seconds.
GRID = timedelta(minutes=15)
REPORTS_EVERY = timedelta(hours=1)
_MOST = 1000  # pairs or replies in one pass

Told = Callable[[str, str], None]  # a number and the key of the text that came on it


@dataclass(slots=True)
class Past:
    """The world of the past. `at` puts something to do into its calendar; `live` runs it."""

    store: Store
    content: Content
    factory: Factory
    profile: Profile
    phones: Phones
    now: datetime
    told: Told
    look: Callable[[], None]  # what staff do after every moment
    off: frozenset[str] = frozenset()  # numbers that the network refuses
    _due: list[tuple[datetime, int, Callable[[], None]]] = field(default_factory=list)
    _order: Any = field(default_factory=count)
    _keys: dict[str, str] = field(default_factory=dict)
    _sender: Sender | None = None
    _intake: Intake | None = None
    _written: bool = False
    _reported: datetime | None = None

    def at(self, moment: datetime, do: Callable[[], None]) -> None:
        """Do something at a moment; a moment that has passed is now."""
        heapq.heappush(self._due, (max(moment, self.now), next(self._order), do))

    def live(self, until: datetime, progress: Callable[[datetime], None]) -> None:
        """Let time pass until `until`, doing at each moment what is due there."""
        self._intake = Intake(self.store)
        self._sender = Sender(
            self.store, self, self.profile, Clock(machine=lambda: self.now), self._render, in_flight=1
        )
        try:
            while (moment := self._next()) <= until:
                left = moment == self.now  # something due was not done by the usual pass: it says 'go now'
                self.now = moment
                progress(moment)
                self._moment(urgent=left)
            self.now = until
            self._moment(urgent=True)
        finally:
            self._sender.close()
            self._intake.close()

    def write(self, number: str, text: str) -> None:
        """She writes: her text is on the phone and at our door."""
        assert self._intake is not None
        self._written = True
        reply = self.phones.write(number, text, self.now)
        name = self.profile.name
        self._intake.take([IncomingReply(name, reply, number, text, "", self.now, self.now)])

    # ---- the network: the port of bot/gateway

    def send(self, text: OutboundText) -> Outcome:
        """Put a text on the phone and report it at once."""
        assert self._intake is not None
        if text.to in self.off:
            return Permanent("the demo's network refuses this number", number=True)
        ref = self.phones.receive(text.id, text.to, text.text, self.now)
        report = IncomingReport(self.profile.name, f"{ref} delivered", ref, "delivered", "", self.now)
        self._intake.take([report])
        self.told(text.to, self._keys.pop(text.id, ""))
        return Accepted(ref)

    def _render(self, message: Claimed) -> str:
        self._keys[str(message.id)] = message.text_key
        return self.factory.texts.render(
            message.text_key, message.language, message.values, neutral=message.shared_phone
        )

    # ---- time

    def _next(self) -> datetime:
        with self.store.read() as conn:
            due = next_due(conn)
        moments = [moment for moment in (due, self._due[0][0] if self._due else None) if moment]
        return _on_grid(max(min(moments), self.now)) if moments else datetime.max.replace(tzinfo=UTC)

    def _moment(self, *, urgent: bool) -> None:
        assert self._sender is not None
        while self._due and self._due[0][0] <= self.now:
            heapq.heappop(self._due)[2]()
        if self._written:
            read_replies(self.store, self.content, self.factory.lexicons, self.now, _MOST)
            self._written = False
        wake(self.store, self.content, self.now, _MOST)
        self._sender.send()
        if urgent:
            self._sender.send_urgent()
        if urgent or self._reported is None or self.now - self._reported >= REPORTS_EVERY:
            self._reported = self.now
            take_reports(self.store, self.now)
            tell_deliveries(self.store, self.content, self.now, _MOST)
        self.look()


def _on_grid(moment: datetime) -> datetime:
    """The first moment of the grid at or after `moment`."""
    past = timedelta(seconds=moment.timestamp() % GRID.total_seconds())
    return moment + (GRID - past) % GRID

"""Sends what is due. In: queued messages. Out: posts to the gateway, and what came of each, stored.

A pass claims a batch, makes and stores the words still missing, posts through a pool of threads, and records
the outcomes in batches as they come in. What dies in between is queued again when its lease is over, with the
same id. Urgent texts have a pass and threads of their own, so that no slow post stands before them.
"""

from __future__ import annotations

import logging
import random
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from queue import Empty, SimpleQueue
from threading import Event
from uuid import UUID, uuid4

from sqlalchemy import Connection

from bot.clock import Clock
from bot.core.outbox import (
    Accepted,
    Denied,
    OutboundText,
    Outcome,
    Permanent,
    Priority,
    Temporary,
    Unknown,
    after_attempt,
    got_through,
    rest,
)
from bot.core.routing import Routing, cost, only, routes_helped, routes_through
from bot.core.segments import count, sendable
from bot.gateway import Carrier, Gateway
from bot.store import claims, gateways, outbox, receipts
from bot.store.claims import Claimed
from bot.store.engine import Store
from bot.store.outbox import Recorded

log = logging.getLogger(__name__)

Render = Callable[[Claimed], str]
_Attempt = tuple[Claimed, Outcome | None]  # None: not tried

_URGENT_IN_FLIGHT = 8  # claimed at once, too: their lease is short, so a crash delays them least
_MOST_AT_ONCE = 128  # outcomes recorded in one transaction
_GATHER_S = 0.05  # what a crash could make go twice is no more than this and what is in flight


@dataclass(frozen=True, slots=True)
class _Lane:
    """One way out: the priorities it serves, its threads, and how many it claims at once."""

    priorities: Sequence[Priority]
    in_flight: int
    limit: int
    threads: ThreadPoolExecutor

    @property
    def urgent(self) -> bool:
        return Priority.go_now in self.priorities


@dataclass(frozen=True, slots=True)
class _Batch:
    """What one claim took. `now` is programme time at the claim, `deadline` machine time by which to post."""

    token: UUID
    now: datetime
    deadline: float
    claimed: Sequence[Claimed]
    segments: dict[UUID, int] = field(default_factory=dict)  # of the words made since the claim


class Sender:
    """Sends through one gateway. `render` makes the words of a message that has none yet; `routing` says
    which texts the gateway carries (all, if left out)."""

    def __init__(
        self,
        store: Store,
        gateway: Gateway,
        profile: Carrier,
        clock: Clock,
        render: Render,
        routing: Routing | None = None,
        *,
        in_flight: int = 64,
        claim: int = 500,
    ) -> None:
        self._store, self._gateway, self._profile = store, gateway, profile
        self._clock, self._render = clock, render
        self._routing = routing or only(profile.name)
        few = _URGENT_IN_FLIGHT
        urgent, others = (Priority.go_now,), (Priority.answer, Priority.reminder, Priority.rest)
        self._urgent = _Lane(urgent, few, few, ThreadPoolExecutor(few, "send-urgent"))
        self._others = _Lane(others, in_flight, claim, ThreadPoolExecutor(in_flight, "send"))

    def send_urgent(self) -> int:
        """Send texts that say 'go now', whatever the rate and however the gateway fares; give how many."""
        return self._pass(self._urgent)

    def send(self) -> int:
        """Send the other texts that are due, one batch of them; give how many were claimed."""
        return self._pass(self._others)

    def close(self) -> None:
        """Wait for what is being posted, and end the threads."""
        self._urgent.threads.shutdown()
        self._others.threads.shutdown()

    def _pass(self, lane: _Lane) -> int:
        batch = self._claim(lane)
        if batch.claimed:
            self._note(self._post_and_record(batch, lane))
        return len(batch.claimed)

    def _claim(self, lane: _Lane) -> _Batch:
        name, rate = self._profile.name, self._profile.rate
        token, now, machine = uuid4(), self._clock.now(), self._clock.machine()
        lease = self._profile.lease(lane.limit, lane.in_flight)
        deadline = time.monotonic() + (lease - self._profile.timeout).total_seconds()
        with self._store.write() as conn:
            limit = lane.limit
            if not lane.urgent:
                limit = gateways.quota(conn, name, rate, machine, limit)
            claimed = claims.claim(
                conn,
                name,
                token=token,
                now=now,
                lease=lease,
                limit=limit,
                priorities=lane.priorities,
                routes=self._routes(conn, lane, machine),
            )
            gateways.spend(conn, name, rate, machine, len(claimed))
        return _Batch(token, now, deadline, claimed)

    def _routes(self, conn: Connection, lane: _Lane, machine: datetime) -> dict[str, int]:
        """Give the routes to take from, in another order each time, so that none waits for the others. A text
        that failed twice elsewhere, or once if it says 'go now', is helped by every gateway of its route."""
        name, routes = self._profile.name, self._routing.routes
        resting = gateways.resting(conn, machine) if len(routes) > 1 or len(routes[0].gateways) > 1 else ()
        helped = dict.fromkeys(routes_helped(routes, name), 1 if lane.urgent else 2)
        mine = helped | dict.fromkeys(routes_through(routes, name, resting), 0)
        return dict(random.sample(sorted(mine.items()), len(mine)))

    def _words(self, batch: _Batch) -> dict[UUID, str]:
        """Give the words of each message, made and stored now where there were none; a message that can't be
        put into words has none."""
        words = {
            each.id: each.text
            for each in batch.claimed
            if each.segments is not None and each.text is not None
        }
        made: dict[UUID, str] = {}
        for each in batch.claimed:
            if each.id not in words:
                try:
                    made[each.id] = sendable(self._render(each) if each.text is None else each.text)
                except Exception:
                    log.exception("message %s (%s) can't be put into words", each.id, each.text_key)
        if made:
            counted = {row_id: (text, count(text)) for row_id, text in made.items()}
            batch.segments.update((row_id, each.segments) for row_id, (_, each) in counted.items())
            with self._store.write() as conn:
                claims.keep_texts(conn, counted)
        return words | made

    def _post_and_record(self, batch: _Batch, lane: _Lane) -> list[Outcome]:
        """Post all and record each; stop posting when the first posts show that none gets through."""
        hopeless = Event()
        results: SimpleQueue[_Attempt] = SimpleQueue()
        words = self._words(batch)
        for each in batch.claimed:
            lane.threads.submit(self._post, each, words.get(each.id), batch.deadline, hopeless, results)
        outcomes: list[Outcome] = []
        untried: list[Claimed] = []
        for attempts in _as_they_come(results, len(batch.claimed)):
            tried = [(each, outcome) for each, outcome in attempts if outcome is not None]
            untried += [each for each, outcome in attempts if outcome is None]
            outcomes += [outcome for _, outcome in tried]
            if len(outcomes) >= lane.in_flight and not any(map(got_through, outcomes)):
                hopeless.set()
            self._record(batch, tried)
        if untried:
            with self._store.write() as conn:
                claims.put_back(conn, batch.token, untried, batch.now)
        return outcomes

    def _post(
        self,
        each: Claimed,
        text: str | None,
        deadline: float,
        hopeless: Event,
        results: SimpleQueue[_Attempt],
    ) -> None:
        outcome: Outcome | None = None
        try:
            if text is None:
                outcome = Permanent("could not be put into words")
            elif not hopeless.is_set() and time.monotonic() < deadline:
                outcome = self._gateway.send(OutboundText(str(each.id), each.to, text, each.expires_at))
        except Exception as error:
            log.exception("message %s: the gateway's client failed", each.id)
            outcome = Unknown(type(error).__name__)
        finally:
            results.put((each, outcome))

    def _record(self, batch: _Batch, tried: Sequence[tuple[Claimed, Outcome]]) -> None:
        if not tried:
            return
        now = self._clock.now()
        recorded = [self._result(each, outcome, batch, now) for each, outcome in tried]
        with self._store.write() as conn:
            kept = outbox.record(conn, self._profile.name, batch.token, recorded, now)
        if kept < len(recorded):
            log.warning("%d outcomes came after their lease; those texts go again", len(recorded) - kept)

    def _result(self, each: Claimed, outcome: Outcome, batch: _Batch, now: datetime) -> Recorded:
        decision = after_attempt(
            outcome,
            attempts=each.attempts,
            now=now,
            expires_at=each.expires_at,
            priority=each.priority,
            jitter=random.random(),
        )
        left_now = isinstance(outcome, Accepted | Unknown)
        sent_at = each.sent_at if left_now or each.sent_at != batch.now else None
        return Recorded(
            each.id, each.attempts, decision, sent_at, self._cost(each, batch) if left_now else None
        )

    def _cost(self, each: Claimed, batch: _Batch) -> tuple[Decimal, str] | None:
        """Give the price of what may have left, by the tariff of that day."""
        tariffs = self._routing.tariffs.get(self._profile.name, ())
        segments = batch.segments.get(each.id, each.segments)
        return cost(tariffs, each.to, batch.now.date(), segments) if segments else None

    def _note(self, outcomes: Sequence[Outcome]) -> None:
        """Let the gateway rest if nothing got through, or note that it works."""
        name = self._profile.name
        denied = next((outcome for outcome in outcomes if isinstance(outcome, Denied)), None)
        if denied:
            log.error("gateway %s denies us (%s): check its address and password", name, denied.reason)
        with self._store.write() as conn:
            if denied:
                gateways.denied(conn, name, denied.reason, self._clock.machine())
            if any(map(got_through, outcomes)):
                gateways.works(conn, name)
            elif outcomes:
                asked = [o.retry_after for o in outcomes if isinstance(o, Temporary) and o.retry_after]
                failures = gateways.note_failures(conn, name, len(outcomes))
                pause = rest(failures, max(asked, default=None), denied=denied is not None)
                if pause is not None:
                    log.warning("gateway %s rests %d s: %d texts failed", name, pause.seconds, failures)
                    gateways.rest(conn, name, self._clock.machine() + pause)


def _as_they_come(results: SimpleQueue[_Attempt], number: int) -> Iterator[list[_Attempt]]:
    """Give `number` results in batches: those that come within a moment of the first."""
    while number:
        batch = [results.get()]
        end = time.monotonic() + _GATHER_S
        while len(batch) < min(number, _MOST_AT_ONCE):
            try:
                batch.append(results.get(timeout=max(0.0, end - time.monotonic())))
            except Empty:
                break
        number -= len(batch)
        yield batch


def sweep(store: Store, now: datetime) -> int:
    """Queue again what a dead sender held, end what ran out of time; give how many messages changed."""
    with store.write() as conn:
        changed = claims.release_lapsed(conn) + outbox.expire(conn, now) + outbox.give_up_reports(conn, now)
        return changed + receipts.set_aside_unmatched(conn, now)


def take_reports(store: Store, now: datetime) -> int:
    """Bring messages to the states that delivery reports name; give how many reports were used."""
    with store.write() as conn:
        return receipts.apply_reports(conn, now)

"""The program as wiring joins it, on a clock that the tests move and a gateway of their choice: what a worker
and the hooks do, step by step, in this very thread."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import cast
from uuid import UUID

from bot import wiring
from bot.clock import Clock
from bot.content.factory import load_factory
from bot.core.follow.events import Enrolled
from bot.core.pair import Pair
from bot.core.routing import only
from bot.gateway import Gateway
from bot.gateway.profile import make_profile
from bot.settings import Config, Limits, Settings
from bot.steps.content import LiveContent, publish_factory
from bot.steps.following import Change, followed, store_changes
from bot.steps.forward import drain
from bot.steps.languages import sign
from bot.steps.outbox import Sender
from bot.store.engine import Store
from bot.store.intake import IncomingReply, IncomingReport, Intake
from bot.store.pairs import load_pairs
from tests.support.texts import GATEWAY

SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"


@dataclass
class Service:
    """One program at work. `now` is both programme and machine time."""

    store: Store
    gateway: Gateway
    now: datetime
    in_flight: int = 1
    claim: int = 500
    program: wiring.Program = field(init=False)
    intake: Intake = field(init=False)

    def __post_init__(self) -> None:
        clock, factory = Clock(timedelta, lambda: self.now), load_factory()
        profile = make_profile(
            GATEWAY, url="http://127.0.0.1:9", token="t", sender="+447700900001", secrets=[SECRET]
        )
        content = LiveContent(self.store, factory, clock)
        no_settings = cast(Settings, None)  # all that they say is joined already
        config = Config(limits=Limits(batch=100))
        self.program = wiring.Program(
            no_settings, config, self.store, clock, factory, content, {GATEWAY: profile}, only(GATEWAY)
        )
        self.intake = Intake(self.store)
        self._sender = Sender(
            self.store, self.gateway, profile, clock, self.program.render,
            in_flight=self.in_flight, claim=self.claim,
        )  # fmt: skip
        work = wiring.passes(self.program, [self._sender])
        # Here time leaps: what lies between two beats is no outage.
        self.passes = {name: each for name, each in work.items() if name != "pulse"}

    def close(self) -> None:
        self._sender.close()
        self.intake.close()

    def publish(self) -> None:
        """Put the factory's content in force, as `dunnock init` does."""
        publish_factory(self.store, self.program.factory, self.now)
        with self.store.write() as conn:
            for code in self.program.factory.lexicons:
                sign(conn, code, "A. Test", "midwife", "0", self.now.date())

    def drain(self, *, sending: bool = True) -> None:
        """Work until nothing is left to do now; without `sending`, as if every sender were down."""
        drain({name: work for name, work in self.passes.items() if sending or not name.startswith("send ")})

    def enrol(self, pairs: Sequence[Pair], *, bedside: bool = True) -> None:
        """Store pairs with what follows from their enrolment."""
        changes = [followed(pair, Enrolled(bedside), self.program.content(), self.now) for pair in pairs]
        with self.store.write() as conn:
            new = [Change(None, change.after, change.effects) for change in changes]
            store_changes(conn, new, self.now)

    def reply(self, phone: str, text: str, key: str) -> None:
        """The hook: a reply is on disk when this returns."""
        self.intake.take([IncomingReply(GATEWAY, key, phone, text, "{}", self.now, self.now)])

    def report(self, message: UUID, state: str) -> None:
        """The hook: a delivery report about a text that the gateway took as `ref-<id>`."""
        ref = f"ref-{message}"
        self.intake.take([IncomingReport(GATEWAY, f"{ref} {state}", ref, state, "{}", self.now)])

    def pairs(self, ids: Sequence[UUID]) -> list[Pair]:
        with self.store.read() as conn:
            return load_pairs(conn, ids, lock=False)

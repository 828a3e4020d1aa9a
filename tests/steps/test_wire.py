"""The wire over real HTTP on both sides: our sender and hooks against the stand-in and its faults."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import Any

import httpx
import pytest
from flask import Flask
from sqlalchemy import select

from bot.clock import Clock, machine_now
from bot.core.outbox import Priority
from bot.core.states import MessageState
from bot.gateway.http import HttpGateway
from bot.gateway.profile import make_profile
from bot.steps.outbox import Sender, sweep, take_reports
from bot.store.engine import Store
from bot.store.inbound import unread
from bot.store.intake import Intake
from bot.store.tables import inbound, receipt
from bot.web.hooks import create_hooks
from tests.support.standin import SECRET, TOKEN, asked, running_standin, serving, set_faults, until
from tests.support.texts import MOTHER, queue_text, stored_text


@dataclass
class Wire:
    """Both ends. `later` moves programme time on, past back-off; the gateway's rest is machine time."""

    store: Store
    hooks: str
    standin: str
    sender: Sender = field(init=False)
    ahead: timedelta = timedelta()

    @property
    def clock(self) -> Clock:
        return Clock(lambda: self.ahead)

    def queue(self) -> Any:
        return queue_text(self.store, self.clock.now(), priority=Priority.go_now, text="Go now.")

    def work(self) -> None:
        """What a worker does between two ticks."""
        sweep(self.store, self.clock.now())
        self.sender.send_urgent()
        take_reports(self.store, self.clock.now())

    def work_until(self, row_id: Any, state: MessageState) -> None:
        def there() -> bool:
            self.work()
            self.ahead += timedelta(seconds=30)
            return stored_text(self.store, row_id).state is state

        until(there)

    def shown(self, row_id: Any) -> int:
        """How often a text stands on her phone."""
        lines = asked(self.standin, f"/phones/{MOTHER}")["lines"]
        return sum(line["id"] == str(row_id) for line in lines)


@dataclass
class Door:
    """The address that the stand-in calls, before whatever application serves the hooks of this test."""

    app: Flask = field(default_factory=lambda: Flask(__name__))

    def __call__(self, environ: Any, start_response: Any) -> Any:
        return self.app(environ, start_response)


@pytest.fixture(scope="module")
def ends() -> Iterator[tuple[Door, str, str]]:
    """Our door, its address, and the address of the stand-in; one process for all tests here."""
    door = Door()
    with serving(door) as ours, running_standin(f"{ours}/hooks/standin") as standin:
        yield door, f"{ours}/hooks/standin", standin


@pytest.fixture
def wire(store: Store, ends: tuple[Door, str, str]) -> Iterator[Wire]:
    door, hooks, standin = ends
    profile = make_profile(
        "standin", url=f"{standin}/messages", token=TOKEN, sender="+447700900001", secrets=[SECRET]
    )
    profile = replace(profile, timeout=timedelta(seconds=1))
    wire = Wire(store, hooks, standin)
    gateway, intake = HttpGateway(profile, machine_now), Intake(store)
    wire.sender = Sender(store, gateway, profile, wire.clock, _no_words)
    app = Flask(__name__)
    app.register_blueprint(create_hooks(intake, {"standin": profile}, wire.clock))
    door.app = app  # only when it is whole: reports of an earlier test may still be coming in
    set_faults(standin)
    yield wire
    wire.sender.close()
    gateway.close()
    intake.close()


def _no_words(_claimed: Any) -> str:
    raise AssertionError("all texts of these tests have their words")


@pytest.mark.parametrize(
    ("faults", "most_shown"),
    [
        ({}, 1),
        ({"fail_times": 3}, 1),
        ({"fail_times": 1, "fail_status": 429, "retry_after": 2}, 1),
        ({"reset_times": 1}, 2),
        ({"hang_times": 1, "hang_seconds": 2}, 2),
        ({"early": True}, 1),
        ({"reorder": True, "double": True}, 1),
    ],
)
def test_a_text_is_delivered_in_the_end_under_one_id_whatever_goes_wrong(wire, faults, most_shown):
    set_faults(wire.standin, **faults)
    before = asked(wire.standin, "/counts")["texts"]
    row_id = wire.queue()
    wire.work_until(row_id, MessageState.delivered)
    assert 1 <= wire.shown(row_id) <= most_shown
    assert asked(wire.standin, "/counts")["texts"] == before + 1


def test_a_refused_number_and_a_dead_phone_are_told_apart(wire):
    set_faults(wire.standin, refuse=[MOTHER])
    refused = wire.queue()
    wire.work_until(refused, MessageState.failed)
    set_faults(wire.standin, undelivered=True)
    off = wire.queue()
    wire.work_until(off, MessageState.undelivered)


def test_a_reply_sent_twice_is_read_once(wire):
    set_faults(wire.standin, double=True)
    httpx.post(f"{wire.standin}/phones/{MOTHER}/replies", json={"text": "٨"}).raise_for_status()
    set_faults(wire.standin)
    httpx.post(f"{wire.standin}/phones/{MOTHER}/replies", json={"text": "no pain"}).raise_for_status()

    def read() -> Any:
        with wire.store.write() as conn:
            return [reply.text for replies in unread(conn, machine_now(), 10).values() for reply in replies]

    until(lambda: "no pain" in read())
    assert read() == ["٨", "no pain"]


def test_a_forged_hook_stores_nothing(wire, store):
    for door in ("replies", "receipts"):
        answer = httpx.post(f"{wire.hooks}/{door}", json={"id": "x", "from": MOTHER, "text": "8"})
        assert answer.status_code == 401
    with store.read() as conn:
        assert conn.execute(select(inbound.c.id)).all() == conn.execute(select(receipt.c.id)).all() == []

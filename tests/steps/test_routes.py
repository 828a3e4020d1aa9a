"""Two gateways: who carries what, who helps when one is down, what it costs, and a wrong password."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy import select, update

from bot.clock import Clock
from bot.core.outbox import Denied, Outcome, Priority, Temporary, Unknown
from bot.core.routing import Routing, Tariff, routes_of
from bot.core.states import Texting
from bot.gateway.memory import MemoryGateway
from bot.gateway.profile import make_profile
from bot.steps.outbox import Sender
from bot.store import claims, gateways
from bot.store import tables as t
from bot.store.engine import Store
from bot.store.sites import add_site
from bot.store.viewer import Role, Viewer
from bot.store.views_report import Cost, costs_of
from tests.support.pairs import DISCHARGED, a_pair, a_site, an_id
from tests.support.service import Service

SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
TARIFFS = {"near": [Tariff(date(2026, 1, 1), "+44", Decimal("0.04"), "GBP")]}


@dataclass
class Two:
    """Gateways `near` and `far` on one database; everything goes by near unless it rests."""

    store: Store
    now: datetime = DISCHARGED
    near: MemoryGateway = field(default_factory=MemoryGateway)
    far: MemoryGateway = field(default_factory=MemoryGateway)
    senders: dict[str, Sender] = field(default_factory=dict)

    def __post_init__(self) -> None:
        routing = Routing(routes_of([(None, "+4477009002", ("far", "near"))], ["near", "far"]), TARIFFS)
        clock = Clock(timedelta, lambda: self.now)
        for name, gateway in (("near", self.near), ("far", self.far)):
            profile = make_profile(
                name, url="http://127.0.0.1:9", token="t", sender="+447700900001", secrets=[SECRET]
            )
            words: Callable[[Any], str] = lambda claimed: claimed.text_key  # noqa: E731
            self.senders[name] = Sender(self.store, gateway, profile, clock, words, routing)
        self.routing = routing

    def pass_(self) -> None:
        for sender in self.senders.values():
            sender.send_urgent()
            sender.send()

    def close(self) -> None:
        for sender in self.senders.values():
            sender.close()


@pytest.fixture
def two(store: Store) -> Iterator[Two]:
    with store.write() as conn:
        add_site(conn, a_site())
    two = Two(store)
    routed = replace(store, routes=two.routing.routes)
    service = Service(routed, MemoryGateway(), DISCHARGED)
    service.publish()
    service.close()
    yield two
    two.close()


def enrol(two: Two, phone: str, n: int) -> None:
    """One pair whose practice text is queued by its route."""
    service = Service(replace(two.store, routes=two.routing.routes), MemoryGateway(), two.now)
    pair = a_pair()
    texting = Texting.unverified
    mother = replace(pair.mother, id=an_id("mother", n), phone=phone, texting=texting)
    babies = tuple(replace(b, id=an_id("baby", n)) for b in pair.babies)
    seen = tuple(replace(a, id=an_id("seen", n)) for a in pair.assessments)
    changed = replace(pair, id=an_id("pair", n), external_id=str(n), mother=mother, babies=babies)
    service.enrol([replace(changed, assessments=seen)])
    service.close()


def failing(gateway: MemoryGateway, outcome: Outcome, times: int) -> None:
    gateway.script.extend([outcome] * times)


def test_a_number_goes_by_the_gateway_of_its_prefix(two):
    enrol(two, "+447700900123", 1)
    enrol(two, "+447700900223", 2)
    two.pass_()
    assert [text.to for text in two.near.sent] == ["+447700900123"]
    assert [text.to for text in two.far.sent] == ["+447700900223"]


def test_the_other_gateway_takes_over_while_the_first_rests_and_gives_back(two):
    for n in range(4):
        enrol(two, f"+44770090012{n}", n)
    failing(two.near, Temporary("down"), 4)
    two.pass_()
    assert not two.far.sent
    two.now += timedelta(seconds=20)  # the texts are due again, the gateway still rests
    with two.store.write() as conn:
        conn.execute(update(t.gateway_state).values(open_until=two.now + timedelta(minutes=1)))
    two.pass_()
    assert len(two.far.sent) == 4
    two.now += timedelta(minutes=2)
    enrol(two, "+447700900130", 9)
    two.pass_()
    assert two.near.sent[-1].to == "+447700900130"


def test_what_says_go_now_is_helped_at_once_by_the_other(two):
    enrol(two, "+447700900123", 1)
    with two.store.write() as conn:
        conn.execute(update(t.message).values(priority=int(Priority.go_now)))
    failing(two.near, Unknown("no answer"), 1)
    two.pass_()
    two.now += timedelta(seconds=30)
    two.senders["far"].send_urgent()
    assert [text.to for text in two.far.sent] == ["+447700900123"]


def test_a_text_that_failed_twice_is_tried_by_the_other_though_the_first_does_not_rest(two):
    enrol(two, "+447700900123", 1)
    failing(two.near, Temporary("down"), 2)
    for _ in range(2):
        two.pass_()
        assert not two.far.sent
        two.now += timedelta(seconds=30)
    two.senders["far"].send()
    assert [text.to for text in two.far.sent] == ["+447700900123"]


def test_what_waits_for_a_route_that_is_gone_goes_by_the_common_one(two):
    enrol(two, "+447700900223", 1)
    with two.store.write() as conn:
        assert claims.adopt_strays(conn, ["", "another"]) == 1
        assert claims.adopt_strays(conn, ["", "another"]) == 0
    two.senders["near"].send()
    assert [text.to for text in two.near.sent] == ["+447700900223"]


def test_the_cost_of_what_left_is_kept_and_nothing_for_what_did_not(two):
    enrol(two, "+447700900123", 1)
    failing(two.near, Temporary("down"), 1)
    two.pass_()
    two.now += timedelta(minutes=1)
    two.pass_()
    with two.store.read() as conn:
        rows = conn.execute(select(t.send_attempt).order_by(t.send_attempt.c.n)).all()
    assert [(row.cost, row.currency) for row in rows] == [(None, None), (40_000, "GBP")]
    lead = Viewer(an_id("staff", "leila"), Role.lead, frozenset({a_site().id}))
    elsewhere = Viewer(an_id("staff", "salma"), Role.lead, frozenset({an_id("site", "other")}))
    day = two.now.date()
    with two.store.read() as conn:
        assert costs_of(conn, lead, day, day, two.now) == [Cost("lakeside", "near", "GBP", 1, 40_000)]
        assert costs_of(conn, elsewhere, day, day, two.now) == []


def test_a_wrong_password_is_an_alarm_until_a_text_passes(two):
    enrol(two, "+447700900123", 1)
    failing(two.near, Denied("answered 403"), 1)
    two.pass_()
    with two.store.read() as conn:
        (denial,) = gateways.denials(conn)
    assert (denial.gateway, denial.reason, denial.since) == ("near", "answered 403", two.now)
    two.now += timedelta(minutes=2)
    two.pass_()
    with two.store.read() as conn:
        assert gateways.denials(conn) == []


def test_a_gateway_that_denies_us_is_left_alone_at_once(two):
    for n in range(3):
        enrol(two, f"+44770090012{n}", n)
    failing(two.near, Denied("answered 403"), 3)
    two.pass_()
    asked = len(two.near.sent)
    two.now += timedelta(seconds=10)
    two.pass_()
    assert len(two.near.sent) == asked

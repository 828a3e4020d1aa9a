"""Stored replies are read and followed: whose they are, what counts for all on a phone, what fails."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import select

from bot.core.pair import Pair
from bot.core.reader import read
from bot.core.states import InboundState, Texting, Urgency
from bot.gateway.memory import MemoryGateway
from bot.store import tables as t
from bot.store.engine import Store
from bot.store.sites import add_site
from tests.support.pairs import DISCHARGED, a_mother, a_pair, a_site, an_id
from tests.support.service import Service

AMINA, BETTY = "+447700900123", "+447700900124"
MINUTE = timedelta(minutes=1)


def named(name: str, phone: str, **changes: object) -> Pair:
    pair = a_pair()
    mother = a_mother(id=an_id("mother", name), name=name, phone=phone, **changes)
    babies = tuple(replace(b, id=an_id("baby", name)) for b in pair.babies)
    seen = tuple(replace(a, id=an_id("seen", name)) for a in pair.assessments)
    return replace(
        pair, id=an_id("pair", name), external_id=name, mother=mother, babies=babies, assessments=seen
    )


@pytest.fixture
def service(store: Store) -> Iterator[Service]:
    service = Service(store, MemoryGateway(), DISCHARGED)
    with store.write() as conn:
        add_site(conn, a_site())
    service.publish()
    yield service
    service.close()


def shared(service: Service) -> tuple[Pair, Pair]:
    """Two mothers on one phone; the first one's question is open."""
    both = [named("Amina", AMINA, phone_shared=True), named("Betty", AMINA, phone_shared=True)]
    service.enrol(both)
    service.now = DISCHARGED.replace(day=4, hour=8, minute=30)
    service.drain()
    first, second = sorted(service.pairs([p.id for p in both]), key=lambda p: p.open_check_in is None)
    assert first.open_check_in is not None
    assert second.open_check_in is None
    return first, second


def says(service: Service, text: str, phone: str = AMINA) -> None:
    service.now += 5 * MINUTE
    service.reply(phone, text, f"{phone} at {service.now}")
    service.drain()


def texts(service: Service, pair: Pair) -> list[str]:
    with service.store.read() as conn:
        m = t.message.c
        return list(conn.scalars(select(m.text_key).where(m.enrolment == pair.id).order_by(m.created_at)))


def test_on_a_shared_phone_an_answer_belongs_to_the_one_who_was_asked(service):
    first, second = shared(service)
    says(service, "no")
    assert [a.key for a in service.pairs([first.id])[0].answers] == ["worry"]
    assert service.pairs([second.id])[0].answers == ()


def test_on_a_shared_phone_a_danger_counts_for_both_and_is_answered_once(service):
    first, second = shared(service)
    says(service, "the baby has fits")
    for pair in service.pairs([first.id, second.id]):
        assert pair.open_escalation is not None
        assert pair.open_escalation.urgency is Urgency.go_now
    assert (texts(service, first) + texts(service, second)).count("advice-go-now") == 1


def test_on_a_shared_phone_stop_is_meant_by_the_number(service):
    first, second = shared(service)
    says(service, "STOP")
    assert {p.mother.texting for p in service.pairs([first.id, second.id])} == {Texting.stopped}
    assert (texts(service, first) + texts(service, second)).count("opt-out-done") == 1


def test_a_danger_from_a_number_nobody_knows_opens_an_item_of_its_own(service):
    says(service, "my baby is having fits", BETTY)
    with service.store.read() as conn:
        (item,) = conn.execute(select(t.escalation)).all()
        (inbound,) = conn.execute(select(t.inbound)).all()
    assert (item.enrolment, item.urgency) == (None, Urgency.go_now)
    assert (inbound.state, inbound.enrolment) == (InboundState.read, None)


def test_a_reply_that_makes_the_program_fail_is_set_aside_for_a_person_and_the_rest_is_read(
    service, monkeypatch
):
    def broken(text, *args):
        if "boom" in text:
            raise RuntimeError("a fault in the reader")
        return read(text, *args)

    monkeypatch.setattr("bot.steps.replies.read", broken)
    amina, betty = named("Amina", AMINA), named("Betty", BETTY)
    service.enrol([amina, betty])
    service.now = DISCHARGED.replace(day=4, hour=8, minute=30)
    service.drain()
    service.reply(AMINA, "boom", "1")
    service.reply(BETTY, "no", "2")
    service.drain()
    failed, well = service.pairs([amina.id]), service.pairs([betty.id])
    assert failed[0].open_escalation is not None
    assert {f.rule for f in failed[0].open_escalation.findings} == {"reader_failed"}
    assert [a.key for a in well[0].answers] == ["worry"]
    with service.store.read() as conn:
        states = dict(conn.execute(select(t.inbound.c.external_key, t.inbound.c.state)).all())
    assert states == {"1": InboundState.set_aside, "2": InboundState.read}

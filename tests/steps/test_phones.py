"""Phones over both databases: parts of a reply, names that write, old numbers, calls, moves between sites."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import select

from bot.core.errors import Conflict, NotFound
from bot.core.follow.events import ChangePhone, OfferMove
from bot.core.pair import Pair
from bot.core.states import InboundState, Texting, Urgency
from bot.gateway.memory import MemoryGateway
from bot.steps.inbox import act
from bot.steps.moves import answer_offer
from bot.store import tables as t
from bot.store.engine import Store
from bot.store.inbound import PARTS_WAIT, Kind
from bot.store.intake import IncomingReply
from bot.store.sites import add_site
from bot.store.viewer import Role, Viewer
from tests.support.pairs import DISCHARGED, a_pair, a_site, an_id
from tests.support.service import Service

GATEWAY = "standin"
OLD, NEW, STRANGER = "+447700900123", "+447700900124", "+447700900199"
HILL = replace(a_site(), id=an_id("site", "hill"), code="hill", name="Hill Clinic")


@pytest.fixture
def service(store: Store) -> Iterator[Service]:
    service = Service(store, MemoryGateway(), DISCHARGED)
    with store.write() as conn:
        add_site(conn, a_site())
        add_site(conn, HILL)
    service.publish()
    yield service
    service.close()


@pytest.fixture
def pair(service: Service) -> Pair:
    pair = a_pair()
    service.enrol([replace(pair, mother=replace(pair.mother, phone=OLD, texting=Texting.unverified))])
    service.drain()
    service.now += timedelta(minutes=3)
    service.reply(OLD, "1", "first")
    service.drain()
    return current(service, pair)


def current(service: Service, pair: Pair) -> Pair:
    return service.pairs([pair.id])[0]


def brings(service: Service, **changes: object) -> None:
    service.now += timedelta(seconds=1)
    fields = {"gateway": GATEWAY, "key": f"k{service.now}", "phone": OLD, "text": "", "raw": "{}"}
    times = {"received_at": service.now, "stored_at": service.now}
    service.intake.take([IncomingReply(**(fields | times | changes))])  # type: ignore[arg-type]


def part(service: Service, number: int, text: str, total: int = 2, ref: str = "cc") -> None:
    brings(service, text=text, part=(ref, number, total))


def states(service: Service) -> list[InboundState]:
    with service.store.read() as conn:
        return list(conn.scalars(select(t.inbound.c.state).order_by(t.inbound.c.id)))


def test_a_long_reply_in_parts_out_of_order_is_read_as_one(service, pair):
    part(service, 2, "hot and does not wake up for feeding")
    service.drain()
    assert states(service)[-1] is InboundState.stored  # half a text is not read
    part(service, 1, "since this morning my baby is very ")
    service.drain()
    after = current(service, pair)
    assert after.open_escalation is not None
    assert after.open_escalation.urgency is Urgency.go_now
    assert {a.key for a in after.answers} >= {"baby_hot", "lethargic"}
    assert len({a.inbound for a in after.answers if a.key != "practice"}) == 1
    assert set(states(service)) == {InboundState.read}


def test_a_part_that_never_comes_does_not_hold_back_a_danger(service, pair):
    part(service, 1, "the baby has fits ", total=3)
    service.drain()
    assert current(service, pair).open_escalation is None
    service.now += PARTS_WAIT
    service.drain()
    item = current(service, pair).open_escalation
    assert item is not None
    assert item.urgency is Urgency.go_now


def test_parts_of_two_replies_are_not_mixed(service, pair):
    part(service, 1, "baby is ", ref="aa")
    part(service, 1, "I am ", ref="bb")
    part(service, 2, "hot", ref="aa")
    part(service, 2, "fine", ref="bb")
    service.drain()
    with service.store.read() as conn:
        readings = conn.execute(select(t.reading)).all()
    assert len(readings) == 3  # with that of the practice answer


def test_a_name_or_short_code_that_writes_is_an_advert_and_opens_nothing(service, pair):
    brings(service, phone="PHARMACY", text="Baby hot? Fever? Buy now!", kind=Kind.no_number)
    service.drain()
    with service.store.read() as conn:
        assert conn.execute(select(t.escalation)).all() == []
    assert states(service)[-1] is InboundState.read


def test_an_advert_from_a_real_number_opens_nothing_either(service, pair):
    brings(service, phone=STRANGER, text="WIN 1000 today! Reply YES")
    service.drain()
    with service.store.read() as conn:
        assert conn.execute(select(t.escalation)).all() == []


def test_a_missed_call_opens_an_item_for_her_and_one_for_a_stranger(service, pair):
    brings(service, kind=Kind.missed_call)
    brings(service, phone=STRANGER, kind=Kind.missed_call)
    service.drain()
    item = current(service, pair).open_escalation
    assert item is not None
    assert [f.rule for f in item.findings] == ["missed_call"]
    with service.store.read() as conn:
        strange = conn.execute(select(t.escalation).where(t.escalation.c.enrolment.is_(None))).one()
    assert strange.urgency is Urgency.routine


def test_the_number_of_before_is_still_known_but_ends_and_answers_nothing(service, pair):
    viewer = Viewer(an_id("staff", "njeri"), Role.counsellor, frozenset({a_site().id}))
    act(service.store, service.program.content(), viewer, pair.id, [ChangePhone(NEW, False)], service.now)
    service.drain()
    brings(service, phone=NEW, text="1")
    service.drain()
    assert current(service, pair).mother.texting is Texting.on
    brings(service, phone=OLD, text="STOP")
    service.drain()
    after = current(service, pair)
    assert after.mother.texting is Texting.on
    assert after.open_escalation is not None
    assert [f.rule for f in after.open_escalation.findings] == ["other_number"]
    with service.store.read() as conn:
        kept = conn.execute(select(t.other_phone)).one()
    assert (kept.kind, kept.mother) == ("earlier", pair.mother.id)


def test_a_danger_from_the_second_contacts_phone_is_about_her(service):
    pair = a_pair()
    service.enrol([replace(pair, extra={"second_contact_phone": STRANGER, "second_contact_name": "Juma"})])
    service.drain()
    brings(service, phone=STRANGER, text="the baby is having fits")
    service.drain()
    item = current(service, pair).open_escalation
    assert item is not None
    assert item.urgency is Urgency.go_now


def test_only_the_site_that_was_asked_takes_over_and_a_number_of_its_register_is_not_taken_twice(
    service, pair
):
    here = Viewer(an_id("staff", "njeri"), Role.counsellor, frozenset({a_site().id}))
    there = Viewer(an_id("staff", "amara"), Role.counsellor, frozenset({HILL.id}))
    content = service.program.content()
    act(service.store, content, here, pair.id, [OfferMove(HILL.id)], service.now)
    with pytest.raises(NotFound):
        answer_offer(service.store, content, here, pair.id, True, service.now)
    twin = replace(
        a_pair(), id=an_id("pair", 9), site=HILL, mother=replace(a_pair().mother, id=an_id("m", 9))
    )
    babies = tuple(replace(b, id=an_id("b", 9)) for b in twin.babies)
    seen = tuple(replace(a, id=an_id("a", 9)) for a in twin.assessments)
    service.enrol([replace(twin, babies=babies, assessments=seen)])
    with pytest.raises(Conflict):
        answer_offer(service.store, content, there, pair.id, True, service.now)
    assert current(service, pair).site.code == a_site().code


def test_the_accepting_site_sees_them_and_the_other_no_more(service, pair):
    here = Viewer(an_id("staff", "njeri"), Role.counsellor, frozenset({a_site().id}))
    there = Viewer(an_id("staff", "amara"), Role.counsellor, frozenset({HILL.id}))
    content = service.program.content()
    act(service.store, content, here, pair.id, [OfferMove(HILL.id)], service.now)
    after = answer_offer(service.store, content, there, pair.id, True, service.now)
    assert after.site.code == "hill"
    with pytest.raises(NotFound):
        act(service.store, content, here, pair.id, [OfferMove(HILL.id)], service.now)
    service.drain()
    assert service.program is not None
    with service.store.read() as conn:
        said = list(conn.scalars(select(t.message.c.text_key).where(t.message.c.enrolment == pair.id)))
    assert "site-changed" in said

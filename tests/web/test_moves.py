"""Endings and moves on the pages: another site takes over, a death, her language, a gateway that denies."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from sqlalchemy import select

from bot.core.pair import Pair
from bot.core.states import MotherState, Texting
from bot.store import gateways
from bot.store.tables import event_log
from tests.support.ward import Visitor, Ward

Visit = Callable[[str], Visitor]


@pytest.fixture
def amina(ward: Ward) -> Pair:
    return ward.enrol("Amina")


def offered(ward: Ward, amina: Pair, visit: Visit) -> None:
    page = f"/pairs/{amina.id}"
    status, _ = visit("njeri").sends(f"{page}/offer", page, site=str(ward.sites["coast"].id))
    assert status == 303


def test_a_pair_is_offered_and_the_other_site_takes_it_over(ward: Ward, amina: Pair, visit: Visit) -> None:
    offered(ward, amina, visit)
    assert "Amina" in visit("salma").page("/ward")
    assert ward.load(amina.id).site.code == "lakeside"
    status, _ = visit("salma").sends(f"/ward/offers/{amina.id}", "/ward", answer="accept")
    assert status == 303
    assert ward.load(amina.id).site.code == "coast"
    visit("njeri").page(f"/pairs/{amina.id}", status=404)
    visit("salma").page(f"/pairs/{amina.id}")
    with ward.store.read() as conn:
        moves = [row.to_state for row in conn.execute(select(event_log).where(event_log.c.what == "move"))]
    assert moves == ["offered", "coast"]


def test_an_offer_is_declined_or_withdrawn_and_nothing_has_changed(
    ward: Ward, amina: Pair, visit: Visit
) -> None:
    offered(ward, amina, visit)
    visit("salma").sends(f"/ward/offers/{amina.id}", "/ward", answer="decline")
    after = ward.load(amina.id)
    assert (after.site.code, after.offered_to) == ("lakeside", None)
    offered(ward, amina, visit)
    page = f"/pairs/{amina.id}"
    assert "Withdraw the offer" in visit("njeri").page(page)
    visit("njeri").sends(f"{page}/withdraw-offer", page)
    assert ward.load(amina.id).offered_to is None


def test_nobody_else_can_answer_an_offer(ward: Ward, amina: Pair, visit: Visit) -> None:
    offered(ward, amina, visit)
    visit("njeri").sends(f"/ward/offers/{amina.id}", "/ward", answer="accept")
    assert ward.load(amina.id).site.code == "lakeside"


def test_a_mothers_death_needs_a_tick_and_ends_every_text(ward: Ward, amina: Pair, visit: Visit) -> None:
    page = f"/pairs/{amina.id}"
    status, body = visit("njeri").sends(f"{page}/mother-death", page)
    assert status == 422
    assert "Tick that you are sure" in body
    status, _ = visit("njeri").sends(f"{page}/mother-death", page, mother_death_sure="1")
    assert status == 303
    mother = ward.load(amina.id).mother
    assert (mother.state, mother.texting) == (MotherState.died, Texting.none)
    assert "nothing is texted any more" in visit("njeri").page(page)


def test_her_language_is_changed_to_one_that_has_texts(ward: Ward, amina: Pair, visit: Visit) -> None:
    page = f"/pairs/{amina.id}"
    status, _ = visit("njeri").sends(f"{page}/language", page, language="tlh")
    assert status == 422
    status, refused = visit("njeri").sends(f"{page}/language", page, language="ar")
    assert status == 422
    assert "it is she who asks for it" in refused
    visit("njeri").sends(f"{page}/language", page, language="ar", herself="1")
    assert ward.load(amina.id).mother.language == "ar"


def test_the_inbox_says_that_a_gateway_denies_us_until_a_text_passes(ward: Ward, visit: Visit) -> None:
    with ward.store.write() as conn:
        gateways.denied(conn, "north", "answered 401", ward.clock().machine())
    assert "Texts by the gateway north have not gone out" in visit("njeri").page("/inbox")
    assert 'dunnock_gateway_denied{gateway="north"} 1.0' in visit("njeri").page("/metrics")
    with ward.store.write() as conn:
        gateways.works(conn, "north")
    assert "have not gone out" not in visit("njeri").page("/inbox")

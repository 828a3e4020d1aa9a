"""The bedside form, the page that waits for her answer, the ward's list and the slip, without JavaScript."""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import Any
from uuid import UUID

import pytest
from sqlalchemy import select, update

from bot.core.pair import Pair
from bot.core.states import MessageState, Texting
from bot.store.tables import enrolment, message
from bot.web.formats import grouped
from tests.support.bedside import demo_app, filled_in
from tests.support.ward import Visitor, Ward


@pytest.fixture
def njeri(ward: Ward) -> Visitor:
    visitor = Visitor(demo_app(ward).test_client())
    assert visitor.sign_in("njeri") == 302
    return visitor


def send(visitor: Visitor, **changes: Any) -> tuple[int, str]:
    return visitor.sends("/enrol", "/enrol", **filled_in(**changes))


def pairs(ward: Ward) -> list[Pair]:
    with ward.store.read() as conn:
        return [ward.load(found) for found in conn.scalars(select(enrolment.c.id))]


def practice_texts(ward: Ward) -> list[Any]:
    with ward.store.read() as conn:
        return list(conn.execute(select(message).where(message.c.text_key == "practice")))


def links_of(page: str) -> set[str]:
    """The fields that the list of faults leads to."""
    faults = page.split('class="faults"', 1)[1].split("</div>", 1)[0]
    return set(re.findall(r'href="#([^"]+)"', faults))


def test_a_form_filled_in_enrols_the_pair_and_leads_to_the_page_that_waits(ward, njeri):
    status, page = send(njeri)
    assert status == 303
    (pair,) = pairs(ward)
    baby = pair.babies[0]
    assert (pair.external_id, pair.mother.name, pair.mother.phone) == (
        "W-77",
        "Amina Wanjiru",
        "+447700900555",
    )
    assert (pair.consent.texts, pair.consent.calls, pair.consent.home_visit) == (True, True, False)
    assert pair.consent.taken_by == "Njeri"
    assert (baby.birth_weight_g, baby.gestation_weeks, baby.sex) == (3100, 38.43, "female")
    assert baby.born_at is not None
    assert pair.discharged_at == ward.now
    assert pair.assessments[0].signs["position_neck"] == "yes"
    assert pair.mother.texting is Texting.unverified
    assert "Amina Wanjiru" in page
    assert "waits to be sent" in page
    (text,) = practice_texts(ward)
    assert text.send_after == ward.now  # at once, at the bedside


def test_an_empty_form_names_every_fault_with_a_link_to_its_field(ward, njeri):
    status, page = njeri.sends("/enrol", "/enrol", site="lakeside", key="bed-1", babies="1")
    assert status == 422
    assert links_of(page) == {
        "mother.name",
        "mother.phone",
        "mother.language",
        "consent",
        "discharged_at",
        "babies.0.born_at",
        "babies.0.sex",
        "babies.0.birth_weight_g",
        "babies.0.gestation_weeks",
    }
    for field in links_of(page):
        assert f'id="{field}"' in page
    assert pairs(ward) == []


def test_nothing_typed_is_lost_when_the_form_is_refused(ward, njeri):
    status, page = send(njeri, babies__0__birth_weight_g="90", lives_at="Hill Road <3>")
    assert status == 422
    assert links_of(page) == {"babies.0.birth_weight_g"}
    for name in ("W-77", "Amina Wanjiru", "+44 7700 900555", "38+3", "2026-03-04", "03:20", "90"):
        assert f'value="{name}"' in page
    assert "Hill Road &lt;3&gt;" in page
    for name, value in (("mother.phone_shared", "no"), ("mother.language", "en"), ("babies.0.sex", "female")):
        assert re.search(rf'name="{re.escape(name)}" value="{value}" checked', page)
    assert pairs(ward) == []


def test_unknown_facts_are_ticked_as_unknown(ward, njeri):
    unknown = {f"babies.0.{name}.unknown": "1" for name in ("born_at", "birth_weight_g", "gestation_weeks")}
    empty = {"babies.0.born_at.hour": "", "babies.0.birth_weight_g": "", "babies.0.gestation_weeks": ""}
    status, _ = send(njeri, **unknown, **empty, **{"babies.0.sex": "unknown"})
    assert status == 303
    baby = pairs(ward)[0].babies[0]
    assert (baby.born_at, baby.born_on) == (None, date(2026, 3, 4))
    assert (baby.birth_weight_g, baby.gestation_weeks, baby.sex) == (None, None, None)


def test_an_unusual_fact_asks_for_one_tick(ward, njeri):
    status, page = send(njeri, babies__0__birth_weight_g="1400")
    assert status == 422
    assert 'name="confirmed" value="babies.0.birth_weight_g"' in page
    assert 'class="faults"' not in page
    status, _ = send(njeri, babies__0__birth_weight_g="1400", confirmed="babies.0.birth_weight_g")
    assert status == 303
    assert pairs(ward)[0].babies[0].birth_weight_g == 1400


def test_a_confirmed_fact_stays_confirmed_while_other_faults_are_mended(njeri):
    changes = {"babies.0.birth_weight_g": "1400", "confirmed": "babies.0.birth_weight_g", "mother.name": ""}
    _, page = send(njeri, **changes)
    assert links_of(page) == {"mother.name"}
    assert '<input type="hidden" name="confirmed" value="babies.0.birth_weight_g">' in page


def test_twins_get_room_and_are_stored_together(ward, njeri):
    status, page = send(njeri, add="1")
    assert status == 200
    assert 'name="babies.1.born_at.day"' in page
    assert 'value="Amina Wanjiru"' in page
    assert pairs(ward) == []
    second = {
        "babies": "2",
        "babies.1.name": "Baraka",
        "babies.1.born_at.day": "2026-03-04",
        "babies.1.born_at.unknown": "1",
        "babies.1.sex": "male",
        "babies.1.birth_weight_g": "2600",
        "babies.1.gestation_weeks.unknown": "1",
    }
    assert send(njeri, **second)[0] == 303
    assert [baby.name for baby in pairs(ward)[0].babies] == ["Nia", "Baraka"]


def test_sent_twice_the_form_enrols_once(ward, njeri):
    assert send(njeri)[0] == 303
    status, page = send(njeri)
    assert status == 303
    assert "Enrolled already" in page
    assert len(pairs(ward)) == 1
    assert len(practice_texts(ward)) == 1


def test_without_a_number_on_the_ward_the_form_has_one_of_its_own(ward, njeri):
    for _ in range(2):
        assert send(njeri, external_id="")[0] == 303
    (pair,) = pairs(ward)
    assert pair.external_id == "bed-0001"
    assert pair.external_id not in njeri.page(f"/pairs/{pair.id}")  # it says nothing to people


def test_a_pair_without_a_phone_is_enrolled_to_be_visited(ward, njeri):
    assert send(njeri, mother__phone="", mother__phone_shared=None, follow_up_by="visit")[0] == 303
    assert pairs(ward)[0].mother.texting is Texting.none
    assert practice_texts(ward) == []


def test_a_discharge_at_another_time_is_read_at_the_site(ward, njeri):
    assert send(njeri, leaves="other", discharged_at="2026-03-05T08:00")[0] == 303
    assert pairs(ward)[0].discharged_at.isoformat() == "2026-03-05T05:00:00+00:00"


def test_a_counsellor_enrols_and_sees_at_her_own_sites_only(ward, njeri):
    status, page = send(njeri, site="coast")
    assert status == 422
    assert "site" in links_of(page)
    assert send(njeri)[0] == 303
    salma = Visitor(demo_app(ward).test_client())
    assert salma.sign_in("salma") == 302
    pair = pairs(ward)[0]
    for address in (f"/pairs/{pair.id}/practice", f"/pairs/{pair.id}/slip", "/slips/lakeside/en"):
        salma.page(address, 404)
    assert pair.mother.name not in salma.page("/ward")


def test_strangers_are_asked_to_sign_in(ward):
    client = demo_app(ward).test_client()
    for address in ("/enrol", "/ward", f"/pairs/{UUID(int=1)}/practice", "/slips"):
        assert client.get(address).status_code == 302


# ---- the page that waits


def waiting(ward: Ward, visitor: Visitor) -> Pair:
    assert send(visitor)[0] == 303
    return pairs(ward)[0]


def test_the_page_shows_what_became_of_the_practice_text(ward, njeri):
    pair = waiting(ward, njeri)
    with ward.store.write() as conn:
        conn.execute(update(message).values(state=MessageState.undelivered))
    page = njeri.page(f"/pairs/{pair.id}/practice")
    assert "did not reach her phone" in page
    assert "Check the number" in page


def test_the_part_that_asks_again_stops_when_she_has_answered(ward, njeri):
    pair = waiting(ward, njeri)
    address = f"/pairs/{pair.id}/practice?part=1"
    part = njeri.client.get(address, headers={"HX-Request": "true"}).text
    assert "every 3s" in part
    assert "<html" not in part
    njeri.sends(f"/pairs/{pair.id}/practice/confirm", f"/pairs/{pair.id}/practice")
    part = njeri.client.get(address, headers={"HX-Request": "true"}).text
    assert "every 3s" not in part
    assert "She has answered" in part


def test_the_practice_text_goes_again_once_for_one_click(ward, njeri):
    pair = waiting(ward, njeri)
    for _ in range(2):
        njeri.sends(f"/pairs/{pair.id}/practice/again", f"/pairs/{pair.id}/practice", key="one")
    assert len(practice_texts(ward)) == 2  # the first, and one more


def test_staff_confirm_the_number(ward, njeri):
    pair = waiting(ward, njeri)
    _, page = njeri.sends(f"/pairs/{pair.id}/practice/confirm", f"/pairs/{pair.id}/practice")
    assert "You confirmed the number" in page
    assert ward.load(pair.id).mother.texting is Texting.on
    _, page = njeri.sends(f"/pairs/{pair.id}/practice/again", f"/pairs/{pair.id}/practice", key="late")
    assert "not waiting for an answer" in page


def test_a_mistyped_number_is_mended_and_tried(ward, njeri):
    pair = waiting(ward, njeri)
    address = f"/pairs/{pair.id}/practice"
    _, page = njeri.sends(f"{address}/number", address, phone="12")
    assert "no possible number" in page
    assert ward.load(pair.id).mother.phone == "+447700900555"
    _, page = njeri.sends(f"{address}/number", address, phone="+44 7700 900556")
    assert "it is she who gives this number" in page
    assert ward.load(pair.id).mother.phone == "+447700900555"
    _, page = njeri.sends(f"{address}/number", address, phone="+44 7700 900556", herself="1")
    after = ward.load(pair.id)
    assert (after.mother.phone, after.mother.texting) == ("+447700900556", Texting.unverified)
    states = sorted(text.state.value for text in practice_texts(ward))
    assert states == ["cancelled", "queued"]


def test_a_phone_that_shows_latin_letters_only_gets_the_practice_text_in_them(ward, njeri):
    hindi = filled_in(mother__language="hi")
    assert njeri.sends("/enrol", "/enrol", **hindi)[0] == 303
    pair = pairs(ward)[0]
    address = f"/pairs/{pair.id}/practice"
    assert "Can she read it on her phone?" in njeri.page(address)
    _, page = njeri.sends(f"{address}/letters", address, latin="yes", key="again")
    assert "Her texts stand in Latin letters from now on." in page
    assert ward.load(pair.id).mother.reads == "hi-Latn"
    assert [text.language for text in practice_texts(ward)] == ["hi", "hi-Latn"]
    assert "Hindi, in Latin letters" in njeri.page(f"/pairs/{pair.id}")
    njeri.sends(f"{address}/letters", address, latin="no", key="back")
    assert ward.load(pair.id).mother.reads == "hi"


def test_the_form_asks_what_her_phone_shows(ward, njeri):
    assert "Her texts then stand in Latin letters: Hindi, Urdu." in njeri.page("/enrol")
    urdu = filled_in(mother__language="ur", mother__latin="1")
    assert njeri.sends("/enrol", "/enrol", **urdu)[0] == 303
    assert [text.language for text in practice_texts(ward)] == ["ur-Latn"]
    amharic = filled_in(external_id="W-78", mother__language="am", mother__latin="1")
    status, page = njeri.sends("/enrol", "/enrol", **amharic)
    assert status == 422
    assert "no texts exist in Latin letters in this language" in page


# ---- the ward's list


def test_the_list_puts_numbers_that_have_not_answered_first(ward, njeri):
    pair = waiting(ward, njeri)
    njeri.sends(f"/pairs/{pair.id}/practice/confirm", f"/pairs/{pair.id}/practice")
    other = filled_in(external_id="W-78", mother__name="Halima", mother__phone="+44 7700 900556")
    assert njeri.sends("/enrol", "/enrol", **other)[0] == 303
    page = njeri.page("/ward")
    assert "1 number has not answered yet" in page
    assert page.index("Halima") < page.index("Amina Wanjiru")


def test_who_has_answered_leaves_the_list_after_two_days_and_who_has_not_stays(ward, njeri):
    pair = waiting(ward, njeri)
    ward.now += timedelta(days=3)
    ward.machine = ward.now  # a session does not outlive that
    njeri.sign_in("njeri")
    assert "Amina Wanjiru" in njeri.page("/ward")
    njeri.sends(f"/pairs/{pair.id}/practice/confirm", f"/pairs/{pair.id}/practice")
    assert "Amina Wanjiru" not in njeri.page("/ward")


def test_an_empty_list_says_how_to_begin(njeri):
    assert "Enrol each pair at the bedside" in njeri.page("/ward")


# ---- the slip


def test_the_slip_holds_what_she_needs_and_no_names(ward, njeri):
    pair = waiting(ward, njeri)
    page = njeri.page(f"/pairs/{pair.id}/slip")
    slip = page.split('<article class="slip"', 1)[1]
    numbers = pair.site.numbers
    for needed in (
        grouped(numbers.call),
        grouped(numbers.text),
        numbers.place,
        numbers.hours,
        "at least 8 times in 24 hours",
    ):
        assert needed in slip
    assert pair.expected_review is not None
    assert str(pair.expected_review.on_day.day) in slip
    assert slip.count("<svg") == 3
    assert pair.mother.phone is not None
    for name in ("Amina", "Wanjiru", "Nia", grouped(pair.mother.phone)):
        assert name not in slip


def test_the_slip_names_her_by_her_first_name_when_somebody_asks_for_it(ward, njeri):
    pair = waiting(ward, njeri)
    slip = njeri.page(f"/pairs/{pair.id}/slip?names=1").split('<article class="slip"', 1)[1]
    assert "For Amina and Nia" in slip
    assert "Wanjiru" not in slip


def test_a_mother_who_gets_no_texts_is_told_no_number_to_text(ward, njeri):
    assert send(njeri, mother__phone="", mother__phone_shared=None, follow_up_by="call")[0] == 303
    pair = pairs(ward)[0]
    slip = njeri.page(f"/pairs/{pair.id}/slip").split('<article class="slip"', 1)[1]
    assert grouped(pair.site.numbers.call) in slip
    assert grouped(pair.site.numbers.text) not in slip


@pytest.mark.parametrize(("language", "direction"), [("en", "ltr"), ("ar", "rtl")])
def test_empty_slips_stand_in_every_language(njeri, language, direction):
    assert f"/slips/lakeside/{language}" in njeri.page("/slips")
    assert f'<article class="slip" lang="{language}" dir="{direction}">' in njeri.page(
        f"/slips/lakeside/{language}"
    )

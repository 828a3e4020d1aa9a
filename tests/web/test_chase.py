"""The list of those whom texts do not reach: who is on it, what is noted in a line, two names to give up."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import select

from bot.core.follow.events import StopTexts, Tried
from bot.core.pair import Consent, Pair
from bot.core.states import ChaseState, Texting
from bot.store.tables import attempt, event_log, message
from tests.support.ward import Visitor, Ward, csrf_of

Visit = Callable[[str], Visitor]
AGREED = Consent(texts=True, calls=True, second_contact=True, home_visit=True, taken_by="the ward")
SECOND = {
    "second_contact_name": "Wanjiru",
    "second_contact_phone": "+447700900950",
    "second_contact_may_know": "no",
    "lives_at": "behind the mill",
}
NO_ANSWER = Tried("call", "no_answer")


def agreed(ward: Ward, pair: Pair) -> Pair:
    """She agreed to a second contact and to a visit."""
    change = replace(pair, consent=AGREED, extra=SECOND)
    ward._store(pair, change)
    return change


@pytest.fixture
def zawadi(ward: Ward) -> Pair:
    """She did not answer three calls."""
    return ward.acts("njeri", agreed(ward, ward.enrol("Zawadi")), NO_ANSWER, NO_ANSWER, NO_ANSWER)


def chase_of(ward: Ward, pair: Pair) -> ChaseState:
    return ward.load(pair.id).chases[-1].state


def test_an_empty_list_says_who_would_stand_there(ward: Ward, visit: Visit) -> None:
    ward.enrol("Amina")
    page = visit("njeri").page("/chase")
    assert "Everybody can be reached." in page
    assert "Amina" not in page


def test_the_list_says_why_what_was_tried_and_what_is_left(ward: Ward, zawadi: Pair, visit: Visit) -> None:
    page = visit("njeri").page("/chase")
    for words in (
        "Zawadi", "Baby Zawadi 1", "Lakeside Hospital", "Three calls without reaching her",
        "under 7 days old", "Called: no answer", "Still to try: ask the second contact, visit",
        "Wanjiru", "may not know what it is about", "behind the mill",
    ):  # fmt: skip
        assert words in page


def test_the_graver_stands_first_and_one_site_can_be_chosen(ward: Ward, zawadi: Pair, visit: Visit) -> None:
    older = ward.enrol("Older")
    grown = replace(
        older, babies=tuple(replace(b, born_at=ward.now - timedelta(days=20)) for b in older.babies)
    )
    ward._store(older, grown)
    ward.acts("njeri", grown, StopTexts("she_asked"))
    coast = ward.enrol("Salama", code="coast")
    ward.acts("salma", coast, StopTexts("she_asked"))
    page = visit("wairimu").page("/chase")
    assert page.index("Zawadi") < page.index("Older")
    assert "Salama" in page
    only = visit("wairimu").page("/chase?site=coast")
    assert "Salama" in only
    assert "Zawadi" not in only
    assert "Salama" not in visit("njeri").page("/chase")


def test_what_was_tried_is_noted_in_one_line_with_who_did(ward: Ward, zawadi: Pair, visit: Visit) -> None:
    njeri, here = visit("njeri"), f"/chase/{zawadi.id}"
    status, page = njeri.sends(f"{here}/done", "/chase", done="second_contact:passed_on")
    assert status == 303
    assert "Noted: Second contact: asked to tell her that she should call." in page
    last = ward.load(zawadi.id).attempts[-1]
    assert (last.kind, last.result, last.by) == ("second_contact", "passed_on", ward.staff["njeri"])

    assert "Choose what was tried" in njeri.sends(f"{here}/done", "/chase", done="call:perhaps")[1]
    page = njeri.sends(f"{here}/done", "/chase", done="call:reached")[1]
    assert "she was spoken to, and is off the list" in page
    assert chase_of(ward, zawadi) is ChaseState.reached
    story = njeri.page(f"/pairs/{zawadi.id}")
    assert "Off the list to be reached" in story
    assert "Second contact: asked to tell her that she should call" in story


def test_a_visit_is_planned_with_a_name_and_a_day_and_gets_its_result(
    ward: Ward, zawadi: Pair, visit: Visit
) -> None:
    njeri, here = visit("njeri"), f"/chase/{zawadi.id}"
    page = njeri.sends(f"{here}/visit", "/chase", visit_on="2026-03-01", visit_who="")[1]
    assert "This day is over." in page
    assert "Say who goes." in page
    page = njeri.sends(f"{here}/visit", "/chase", visit_on="2026-03-06", visit_who="Achieng")[1]
    assert "Visit planned on" in page
    assert "Achieng goes" in page
    ward.now += timedelta(days=2)
    ward.machine = ward.now
    otieno = visit("otieno")
    assert "a visit has no result" in otieno.page("/chase")
    page = otieno.sends(f"{here}/done", "/chase", done="visit:not_home")[1]
    assert "Visit: nobody at home (Achieng)" in page
    with ward.store.read() as conn:
        kept = conn.scalar(select(attempt.c.who).where(attempt.c.kind == "visit"))
    assert kept is not None
    assert b"Achieng" not in kept


def test_unresolved_is_signed_by_a_second_person(ward: Ward, zawadi: Pair, visit: Visit) -> None:
    njeri, otieno, here = visit("njeri"), visit("otieno"), f"/chase/{zawadi.id}"
    assert "Not everything was tried yet" in njeri.sends(f"{here}/give-up", "/chase", why="all_tried")[1]
    page = njeri.sends(f"{here}/give-up", "/chase", why="no_way")[1]
    assert "Njeri gives up" in page
    assert "A second person signs it." in page
    assert "somebody else than who gave up" in njeri.sends(f"{here}/sign", "/chase")[1]
    assert chase_of(ward, zawadi) is ChaseState.given_up
    assert "Signed by two" in otieno.sends(f"{here}/sign", "/chase")[1]
    assert chase_of(ward, zawadi) is ChaseState.unresolved
    assert "Not reached, signed by two" in njeri.page(f"/pairs/{zawadi.id}")


def test_those_who_are_ticked_are_texted_each_in_her_language(ward: Ward, zawadi: Pair, visit: Visit) -> None:
    other = ward.acts("njeri", ward.enrol("Halima", language="ar"), NO_ANSWER, NO_ANSWER, NO_ANSWER)
    stopped = ward.acts("njeri", ward.enrol("Amina"), StopTexts("she_asked"))
    njeri = visit("njeri")
    page = njeri.page("/chase")
    assert page.count('name="pair"') == 2
    assert "no text can go" in page
    assert "Tick whom to text first." in njeri.sends("/chase/text", "/chase")[1]
    chosen = [str(zawadi.id), str(other.id), str(stopped.id)]
    page = njeri.sends("/chase/text", "/chase", pair=chosen)[1]
    assert "2 are asked by text to call." in page
    assert "1 can&#39;t be texted now." in page
    njeri.sends("/chase/text", "/chase", pair=chosen)
    with ward.store.read() as conn:
        sent = conn.execute(
            select(message.c.enrolment, message.c.language).where(message.c.text_key == "please-call")
        ).all()
    assert sorted(sent) == sorted([(zawadi.id, "en"), (other.id, "ar")])


def test_nobody_texts_or_notes_what_is_not_at_their_sites(ward: Ward, zawadi: Pair, visit: Visit) -> None:
    salma = visit("salma")
    salma.sends("/chase/text", "/inbox", pair=str(zawadi.id))
    with ward.store.read() as conn:
        assert conn.scalar(select(message.c.id).where(message.c.text_key == "please-call")) is None
    token = csrf_of(salma.page("/inbox"))
    answer = salma.client.post(f"/chase/{zawadi.id}/done", data={"csrf_token": token, "done": "call:reached"})
    assert answer.status_code == 404
    assert chase_of(ward, zawadi) is ChaseState.trying


# ---------------------------------------------------------------- on the case


def test_who_is_on_the_line_is_made_sure_of_and_kept_in_the_audit(ward: Ward, visit: Visit) -> None:
    amina, njeri = ward.enrol("Amina"), visit("njeri")
    case, checked = f"/pairs/{amina.id}", f"/chase/{amina.id}/checked"
    assert "Who is on the line?" in njeri.page(case)
    assert "Tick both" in njeri.sends(checked, case, back="case", name="1")[1]
    page = njeri.sends(checked, case, back="case", name="1", born="1")[1]
    assert "Njeri made sure at 9:30 that it is she." in page or "Njeri made sure at 09:30" in page
    with ward.store.read() as conn:
        kept = conn.execute(select(event_log).where(event_log.c.what == "identity")).all()
    assert [(row.subject, row.actor) for row in kept] == [(amina.id, str(ward.staff["njeri"]))]
    ward.now += timedelta(hours=2)
    ward.machine = ward.now
    assert "made sure at" not in visit("njeri").page(case)


def test_she_rang_the_ward_counts_as_spoken_to(ward: Ward, visit: Visit) -> None:
    amina = ward.writes(ward.enrol("Amina"), "please call me")
    case = f"/pairs/{amina.id}"
    page = visit("njeri").sends(f"/chase/{amina.id}/she-rang", case, back="case")[1]
    assert "she rang, and was spoken to" in page
    item = ward.load(amina.id).open_escalation
    assert item is not None
    assert item.spoken_at is not None


def test_a_call_that_somebody_else_answered_is_noted_on_the_case(ward: Ward, visit: Visit) -> None:
    amina, njeri = ward.enrol("Amina"), visit("njeri")
    case = f"/pairs/{amina.id}"
    assert "no word about mother or baby" in njeri.page(case)
    for _ in range(3):
        page = njeri.sends(f"/chase/{amina.id}/done", case, back="case", done="call:other_person")[1]
    assert "On the list to be reached: Three calls without reaching her" in page
    njeri.sends(f"/chase/{amina.id}/done", case, back="case", done="call:wrong_number")
    assert ward.load(amina.id).mother.texting is Texting.none

"""The case: what it shows, what can be done there, and what is refused."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from uuid import uuid4

import pytest
from sqlalchemy import select

from bot.core.follow.events import Hold, Take
from bot.core.pair import Escalation, Pair
from bot.core.states import EnrolmentState, EscalationState, Texting, Urgency
from bot.core.triage_rules import RuleSet
from bot.store.tables import escalation, event_log, message
from tests.support.ward import Visitor, Ward, csrf_of

Visit = Callable[[str], Visitor]
HOURS = timedelta(hours=1)


def item_of(pair: Pair) -> Escalation:
    item = pair.open_escalation
    assert item is not None
    return item


@pytest.fixture
def amina(ward: Ward) -> Pair:
    """A baby of three days who was fed five times."""
    return ward.writes(ward.enrol("Amina"), "only 5", asking=["feeds"], before=HOURS)


def test_a_pair_of_another_site_is_not_there(amina: Pair, visit: Visit) -> None:
    visit("salma").page(f"/pairs/{amina.id}", status=404)
    visit("njeri").page(f"/pairs/{uuid4()}", status=404)


def test_a_counsellor_of_another_site_can_do_nothing_to_it(ward: Ward, amina: Pair, visit: Visit) -> None:
    salma = visit("salma")
    for what in ("take", "close", "answers", "write", "hold", "finish", "death", "count"):
        status, _ = salma.sends(f"/pairs/{amina.id}/{what}", "/inbox", text="x")
        assert status == 404
    assert item_of(ward.load(amina.id)).state is EscalationState.waiting


def test_the_case_shows_whom_to_call_what_to_ask_and_why(amina: Pair, visit: Visit) -> None:
    page = visit("njeri").page(f"/pairs/{amina.id}")
    assert f'href="tel:{amina.mother.phone}"' in page
    assert "3 days old" in page
    assert "her own phone" in page
    assert "Ask first:" in page
    assert "Only 4 or 5 feeds in 24 hours; 8 or more are expected." in page
    assert "Source:" in page
    assert "Follow your local protocol and licensed practice" in page


def test_the_words_that_were_matched_are_marked_under_how_they_were_read(amina: Pair, visit: Visit) -> None:
    page = visit("njeri").page(f"/pairs/{amina.id}")
    assert re.search(r'<blockquote[^>]*>.*<mark title="Feeds">5</mark>', page)
    assert "Read as: Feeds: 5" in page
    assert re.search(r"<li><mark><bdi[^>]*>5</bdi></mark> <bdi[^>]*>Feeds</bdi></li>", page)


def test_what_is_expected_at_the_age_comes_from_the_rules(amina: Pair, visit: Visit) -> None:
    page = visit("njeri").page(f"/pairs/{amina.id}")
    assert "expected now: 8 or more" in page
    row = page.split("<tbody>", 1)[1].split("</tbody>", 1)[0]
    assert "<strong><bdi>5</bdi></strong>" in row
    assert "8 or more" in row


def judged_part(page: str) -> str:
    """The part that says how a pair was judged, without markup."""
    part = page.split('id="judged"', 1)[1].split("</details>", 1)[0]
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", part))


def test_the_case_shows_which_facts_met_which_rule(ward: Ward, amina: Pair, visit: Visit) -> None:
    part = judged_part(visit("njeri").page(f"/pairs/{amina.id}"))
    assert "3 days old, by edition" in part
    assert "Only 4 or 5 feeds in 24 hours; 8 or more are expected. (Today)" in part
    assert "Feeds: 5 (threshold: at most 5)" in part


def test_the_case_shows_what_was_just_inside_its_threshold(ward: Ward, visit: Visit) -> None:
    pair = ward.writes(ward.enrol("Wanjiku"), "8", asking=["feeds"], before=HOURS)
    assert pair.open_escalation is None
    part = judged_part(visit("njeri").page(f"/pairs/{pair.id}"))
    met, near = part.split("Just inside the threshold", 1)
    assert "No rule was met." in met
    assert "Feeds: 8 (threshold: at most 7)" in near


def test_a_rule_that_changed_since_is_not_explained_by_todays_threshold(
    ward: Ward, amina: Pair, visit: Visit
) -> None:
    rules = ward.content.rules
    stricter = [
        replace(rule, all=tuple(replace(c, bound=c.bound + 1) for c in rule.all))
        if rule.id == "feeds-4-or-5"
        else rule
        for rule in rules.rules
    ]
    ward.content = replace(ward.content, rules=RuleSet(rules.vocabulary, tuple(stricter)))
    part = judged_part(visit("njeri").page(f"/pairs/{amina.id}"))
    assert "The rule has changed since." in part
    assert "Feeds: 5" not in part


def test_what_a_counsellor_hears_more_exactly_is_judged_and_told(
    ward: Ward, amina: Pair, visit: Visit
) -> None:
    njeri, case = visit("njeri"), f"/pairs/{amina.id}"
    heard = {"q.0.temperature_c": "37,8", "q.0.jaundice_extent": "legs", "more.0.mother": "fainting"}
    njeri.sends(f"{case}/answers", case, **heard)
    item = item_of(ward.load(amina.id))
    assert {"baby-temperature-37-5", "jaundice-legs-or-unknown", "mother-fainting"} <= {
        finding.rule for finding in item.findings
    }
    page = njeri.page(case)
    assert "Temperature of the baby: 37.8" in page
    assert "Yellow down to: legs" in page
    assert "Temperature of the baby: 37.8 (threshold: 37.5 or more)" in judged_part(page)


def test_the_cause_of_her_fever_is_settled_by_a_person(ward: Ward, visit: Visit) -> None:
    """WHO 2009 Model Chapter 7.4: a fever with one red painful breast, otherwise well, is for today."""
    pair = ward.enrol("Wanjiku")
    case = f"/pairs/{pair.id}"
    heard = {"sign.0.mother": "mother_fever", "q.0.fever_cause": "one_breast"}
    visit("njeri").sends(f"{case}/answers", case, **heard)
    item = item_of(ward.load(pair.id))
    assert {finding.rule for finding in item.findings} == {"mother-fever-breast"}
    assert item.urgency is Urgency.same_day


@pytest.mark.parametrize(
    ("field", "value", "fault"),
    [
        ("q.0.temperature_c", "378", "at most 45 can be true."),
        ("q.0.temperature_c", "3", "less than 25 can&#39;t be true."),
        ("q.0.phq2", "2.5", "write a whole number."),
        ("q.0.pain", "2.3", "write a number"),
    ],
)
def test_what_can_not_be_true_is_refused_and_kept_in_its_field(
    ward: Ward, amina: Pair, visit: Visit, field: str, value: str, fault: str
) -> None:
    case = f"/pairs/{amina.id}"
    status, page = visit("njeri").sends(f"{case}/answers", case, **{field: value})
    assert status == 422
    assert fault in page
    assert f'value="{value}"' in page


def test_each_twin_is_judged_apart(ward: Ward, visit: Visit) -> None:
    pair = ward.writes(ward.enrol("Zawadi", babies=2), "6", asking=["feeds"], before=HOURS)
    part = judged_part(visit("njeri").page(f"/pairs/{pair.id}"))
    assert "Baby Zawadi 1" in part
    assert "Baby Zawadi 2" in part


def test_what_she_wrote_can_not_become_markup(ward: Ward, visit: Visit) -> None:
    pair = ward.writes(ward.enrol("Amina"), "<script>alert(1)</script> please call me")
    page = visit("njeri").page(f"/pairs/{pair.id}")
    assert "<script>alert" not in page
    assert "&lt;script&gt;" in page


def test_a_call_from_take_to_close(ward: Ward, amina: Pair, visit: Visit) -> None:
    njeri, case = visit("njeri"), f"/pairs/{amina.id}"
    assert "The clock runs until you have spoken to her" in njeri.sends(f"{case}/take", case)[1]
    assert "The clock has stopped" in njeri.sends(f"{case}/spoke", case)[1]
    status, page = njeri.sends(
        f"{case}/close",
        case,
        found="advice_given",
        note="Sleepy, wakes when undressed",
        step=["feeds.now", "feeds.count"],
    )
    assert status == 303
    assert "Closed. Amina is with the schedule again." in page
    closed = ward.load(amina.id).escalations[-1]
    assert closed.state is EscalationState.closed
    assert closed.disposition == "advice_given"
    assert closed.note is not None
    assert "Sleepy, wakes when undressed" in closed.note
    assert "Count the feeds of the last day and night together" in closed.note
    assert "Sleepy, wakes when undressed" in njeri.page(case)


def test_the_note_is_sealed_and_not_in_the_audit(ward: Ward, amina: Pair, visit: Visit) -> None:
    case = f"/pairs/{amina.id}"
    visit("njeri").sends(f"{case}/close", case, found="feeding_well", note="her sister Zuri helps", spoke="1")
    with ward.store.read() as conn:
        sealed = conn.scalars(select(escalation.c.note).where(escalation.c.enrolment == amina.id)).one()
        whys = conn.scalars(select(event_log.c.why)).all()
    assert sealed
    assert b"Zuri" not in sealed
    assert not any("Zuri" in why for why in whys)


def test_closing_needs_to_say_what_was_found(ward: Ward, amina: Pair, visit: Visit) -> None:
    case = f"/pairs/{amina.id}"
    status, page = visit("njeri").sends(f"{case}/close", case, note="half a note", step=["feeds.now"])
    assert status == 422
    assert "Choose what was found" in page
    assert "half a note" in page  # nothing written is lost
    assert 'value="feeds.now" checked' in page
    assert item_of(ward.load(amina.id)).state is EscalationState.waiting


def test_closing_is_refused_when_something_new_came_in_meanwhile(
    ward: Ward, amina: Pair, visit: Visit
) -> None:
    njeri, case = visit("njeri"), f"/pairs/{amina.id}"
    page = njeri.page(case)
    seen = page.split('name="seen" value="', 1)[1].split('"', 1)[0]
    ward.writes(amina, "she is very hot and will not wake up")
    status, page = njeri.sends(f"{case}/close", case, found="feeding_well", seen=seen)
    assert status == 303
    assert "something new came in" in page
    assert item_of(ward.load(amina.id)).urgency is Urgency.go_now


def test_closing_again_does_no_harm(amina: Pair, visit: Visit) -> None:
    njeri, case = visit("njeri"), f"/pairs/{amina.id}"
    token = csrf_of(njeri.page(case))
    fields = {"csrf_token": token, "found": "feeding_well", "spoke": "1"}
    for words in ("Closed. Amina", "has nothing open in the inbox any more"):
        answer = njeri.client.post(f"{case}/close", data=fields, follow_redirects=True)
        assert answer.status_code == 200
        assert words in answer.text


def test_what_a_colleague_has_taken_is_not_closed_by_another(ward: Ward, amina: Pair, visit: Visit) -> None:
    ward.acts("otieno", amina, Take())
    njeri, case = visit("njeri"), f"/pairs/{amina.id}"
    for what in ("take", "release", "hand-over", "spoke", "close"):
        page = njeri.sends(f"{case}/{what}", case, found="feeding_well")[1]
        assert "Otieno has taken this" in page
    assert item_of(ward.load(amina.id)).taken_by == ward.staff["otieno"]


def test_an_item_is_put_back_and_handed_over(ward: Ward, amina: Pair, visit: Visit) -> None:
    njeri, case = visit("njeri"), f"/pairs/{amina.id}"
    njeri.sends(f"{case}/take", case)
    njeri.sends(f"{case}/release", case)
    assert item_of(ward.load(amina.id)).taken_by is None
    njeri.sends(f"{case}/take", case)
    page = njeri.sends(f"{case}/hand-over", case, to=str(ward.staff["otieno"]))[1]
    assert "Otieno is asked to take it over" in page
    assert item_of(ward.load(amina.id)).taken_by == ward.staff["njeri"]
    otieno = visit("otieno")
    assert "asks you to take it over" in otieno.page("/inbox")
    assert "Njeri asks you to take this over." in otieno.page(case)
    assert "Yours now" in otieno.sends(f"{case}/accept", case)[1]
    assert item_of(ward.load(amina.id)).taken_by == ward.staff["otieno"]


def test_nobody_of_another_site_can_be_handed_an_item(ward: Ward, amina: Pair, visit: Visit) -> None:
    case = f"/pairs/{amina.id}"
    status, _ = visit("njeri").sends(f"{case}/hand-over", case, to=str(ward.staff["salma"]))
    assert status == 422


# ---------------------------------------------------------------- what she said on the phone


def test_answers_entered_on_the_phone_go_through_the_same_triage(ward: Ward, visit: Visit) -> None:
    pair = ward.writes(ward.enrol("Amina"), "please call me")
    njeri, case = visit("njeri"), f"/pairs/{pair.id}"
    fields = {
        "q.0.feeds": "3",
        "q.0.wet_nappies": "4-5",
        "q.0.other_food": "no",
        "sign.0.baby": ["lethargic"],
    }
    page = njeri.sends(f"{case}/answers", case, **fields)[1]
    assert "Stored and judged" in page
    item = item_of(ward.load(pair.id))
    assert item.urgency is Urgency.go_now
    assert {"baby-lethargic", "feeds-3-or-fewer"} <= {f.rule for f in item.findings}
    assert item.spoken_at is not None
    assert "Njeri entered what she said" in page
    assert "Wet nappies: 4 to 5" in page


def test_a_doubled_click_stores_answers_once(ward: Ward, amina: Pair, visit: Visit) -> None:
    njeri, case = visit("njeri"), f"/pairs/{amina.id}"
    njeri.sends(f"{case}/answers", case, **{"q.0.feeds": "9"})
    before = ward.load(amina.id).answers
    page = njeri.sends(f"{case}/answers", case, **{"q.0.feeds": "9"})[1]
    assert "This is stored already." in page
    assert ward.load(amina.id).answers == before


@pytest.mark.parametrize(
    ("written", "fault"),
    [
        ("80", "at most 30 can be true"),
        ("many", "write a number"),
        ("2.5", "write a whole number"),
        ("9-7", "the first number is larger"),
        ("-3", "write a number"),
    ],
)
def test_an_impossible_number_is_refused_and_kept_in_its_field(
    ward: Ward, amina: Pair, visit: Visit, written: str, fault: str
) -> None:
    case = f"/pairs/{amina.id}"
    status, page = visit("njeri").sends(
        f"{case}/answers", case, **{"q.0.feeds": written, "q.0.wet_nappies": "6"}
    )
    assert status == 422
    assert fault in page
    assert f'value="{written}"' in page
    assert 'value="6"' in page
    assert len(ward.load(amina.id).answers) == len(amina.answers)


def test_numbers_in_arabic_digits_are_understood(ward: Ward, amina: Pair, visit: Visit) -> None:
    case = f"/pairs/{amina.id}"
    visit("njeri").sends(f"{case}/answers", case, **{"q.0.feeds": "١٠"})
    assert [a.low for a in ward.load(amina.id).answers if a.by] == [10.0]


def test_nothing_entered_is_said_to_be_nothing(amina: Pair, visit: Visit) -> None:
    case = f"/pairs/{amina.id}"
    status, page = visit("njeri").sends(f"{case}/answers", case)
    assert status == 422
    assert "Enter at least one thing that she said." in page


def test_signs_and_none_of_these_exclude_each_other(amina: Pair, visit: Visit) -> None:
    case = f"/pairs/{amina.id}"
    fields = {"sign.0.baby": ["baby_hot"], "none.0.baby": "1"}
    status, page = visit("njeri").sends(f"{case}/answers", case, **fields)
    assert status == 422
    assert "Take one away" in page


def test_twins_have_fields_of_their_own(ward: Ward, visit: Visit) -> None:
    pair = ward.writes(ward.enrol("Grace", babies=2), "please call me")
    njeri, case = visit("njeri"), f"/pairs/{pair.id}"
    njeri.sends(f"{case}/answers", case, **{"q.1.feeds": "9", "q.2.feeds": "3", "sign.2.baby": ["baby_cold"]})
    told = {(a.key, a.baby): a.low for a in ward.load(pair.id).answers}
    assert told == {("feeds", 1): 9, ("feeds", 2): 3, ("baby_cold", 2): 1}
    findings = {(f.rule, f.baby) for f in item_of(ward.load(pair.id)).findings}
    assert ("feeds-3-or-fewer", 2) in findings
    assert ("feeds-3-or-fewer", 1) not in findings


# ---------------------------------------------------------------- the rest


def test_her_own_words_go_out_once_however_often_the_form_is_sent(
    ward: Ward, amina: Pair, visit: Visit
) -> None:
    njeri, case = visit("njeri"), f"/pairs/{amina.id}"
    with ward.store.read() as conn:
        before = len(conn.scalars(select(message.c.id)).all())
    for _ in range(2):
        page = njeri.sends(f"{case}/write", case, text="I call you at nine.", key="once")[1]
        assert "It goes out now, as 1 part." in page
    with ward.store.read() as conn:
        assert len(conn.scalars(select(message.c.id)).all()) == before + 1


def test_a_text_is_counted_without_being_sent(ward: Ward, amina: Pair, visit: Visit) -> None:
    njeri, case = visit("njeri"), f"/pairs/{amina.id}"
    status, page = njeri.sends(f"{case}/count", case, text="م" * 71)
    assert status == 200
    assert "2 parts are paid for" in page
    assert "UCS-2, 71" in page


def test_a_finding_is_taken_back_with_a_reason(ward: Ward, amina: Pair, visit: Visit) -> None:
    njeri, case = visit("njeri"), f"/pairs/{amina.id}"
    finding = item_of(amina).findings[0]
    fields = {"rule": finding.rule, "baby": str(finding.baby or "")}
    assert njeri.sends(f"{case}/withdraw", case, **fields)[0] == 422
    assert "Withdrawn." in njeri.sends(f"{case}/withdraw", case, why="misread", **fields)[1]
    assert item_of(ward.load(amina.id)).findings[0].withdrawn_by == ward.staff["njeri"]


def test_a_person_lowers_the_urgency_with_a_reason(ward: Ward, amina: Pair, visit: Visit) -> None:
    njeri, case = visit("njeri"), f"/pairs/{amina.id}"
    assert njeri.sends(f"{case}/urgency", case, urgency="routine")[0] == 422
    njeri.sends(f"{case}/urgency", case, urgency="routine", why="milder_on_phone")
    assert item_of(ward.load(amina.id)).urgency is Urgency.routine


def test_the_review_moves_to_an_open_day_only(ward: Ward, amina: Pair, visit: Visit) -> None:
    njeri, case = visit("njeri"), f"/pairs/{amina.id}"
    page = njeri.page(case)
    assert 'value="2026-03-08"' not in page  # a Sunday: closed
    status, page = njeri.sends(f"{case}/review", case, on_day="2026-03-08")
    assert status == 422
    page = njeri.sends(f"{case}/review", case, on_day="2026-03-09", at="10:30")[1]
    assert "The review is on Mon 9 Mar now." in page
    review = ward.load(amina.id).expected_review
    assert review is not None
    assert (review.on_day.isoformat(), str(review.at)) == ("2026-03-09", "10:30:00")
    assert "on that day already" in njeri.sends(f"{case}/review", case, on_day="2026-03-09", at="10:30")[1]


def test_hold_and_follow_again(ward: Ward, amina: Pair, visit: Visit) -> None:
    njeri, case = visit("njeri"), f"/pairs/{amina.id}"
    assert (
        "nothing is sent until somebody decides" in njeri.sends(f"{case}/hold", case, why="death_feared")[1]
    )
    assert ward.load(amina.id).state is EnrolmentState.held
    refused = njeri.sends(f"{case}/close", case, found="feeding_well")[1]
    assert "Decide first what happens to this pair" in refused
    njeri.sends(f"{case}/resume", case, texting="no")
    after = ward.load(amina.id)
    assert (after.state, after.mother.texting) == (EnrolmentState.following, Texting.none)


def test_away_until_a_day(ward: Ward, amina: Pair, visit: Visit) -> None:
    njeri, case = visit("njeri"), f"/pairs/{amina.id}"
    assert njeri.sends(f"{case}/away", case, why="in_hospital", until="2026-03-05")[0] == 422
    assert (
        "Looked at again on Tue 10 Mar"
        in njeri.sends(f"{case}/away", case, why="in_hospital", until="2026-03-10")[1]
    )
    assert ward.load(amina.id).state is EnrolmentState.away


def test_texts_stop_and_a_number_is_confirmed(ward: Ward, amina: Pair, visit: Visit) -> None:
    njeri, case = visit("njeri"), f"/pairs/{amina.id}"
    assert "No more texts." in njeri.sends(f"{case}/stop", case, why="she_asked")[1]
    assert ward.load(amina.id).mother.texting is Texting.stopped
    new = ward.enrol("Esther", texting=Texting.unverified)
    page = njeri.sends(f"/pairs/{new.id}/phone", f"/pairs/{new.id}")[1]
    assert "The number is confirmed" in page
    assert ward.load(new.id).mother.texting is Texting.on


def test_a_death_is_recorded_only_when_sure(ward: Ward, amina: Pair, visit: Visit) -> None:
    njeri, case = visit("njeri"), f"/pairs/{amina.id}"
    assert njeri.sends(f"{case}/death", case, baby="1")[0] == 422
    njeri.sends(f"{case}/death", case, baby="1", death_sure="1")
    after = ward.load(amina.id)
    assert (after.state, after.closed_reason) == (EnrolmentState.closed, "baby_died")


def test_the_follow_up_ends_with_a_reason(ward: Ward, amina: Pair, visit: Visit) -> None:
    njeri, case = visit("njeri"), f"/pairs/{amina.id}"
    assert njeri.sends(f"{case}/finish", case, reason="moved")[0] == 422
    assert njeri.sends(f"{case}/finish", case, reason="bored", finish_sure="1")[0] == 422
    njeri.sends(f"{case}/finish", case, reason="moved", finish_sure="1")
    assert ward.load(amina.id).closed_reason == "moved"
    assert "Closed: nobody follows this pair any more." in njeri.page(case)


def test_a_held_pair_says_so(ward: Ward, amina: Pair, visit: Visit) -> None:
    ward.acts("njeri", amina, Hold("family_asked"))
    assert "Held: nothing is sent until somebody decides." in visit("njeri").page(f"/pairs/{amina.id}")


def test_the_guide_fits_the_finding_that_leads(ward: Ward, amina: Pair, visit: Visit) -> None:
    njeri = visit("njeri")
    assert "The call: Few feeds" in njeri.page(f"/pairs/{amina.id}")
    ward.writes(amina, "she is very hot and will not wake up")
    assert "The call: Danger for the baby" in njeri.page(f"/pairs/{amina.id}")

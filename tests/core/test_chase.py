"""Who is on the list of those to be reached comes first by risk, and what is left to try."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.core.chase import RISKS, Place, failed_calls, left_to_try, ranked, risks_of
from bot.core.pair import Attempt, Chase, Consent, Episode, Escalation, Finding, Pair
from bot.core.states import ChaseState, EpisodeState, EscalationState, Texting, Urgency
from tests.support.life import standard_content
from tests.support.pairs import DISCHARGED, a_baby, a_mother, a_pair, an_assessment, an_id

OLD = DISCHARGED + timedelta(days=20)
STAFF = an_id("staff")
OCCASIONS = standard_content().occasions


def listed(name: str = "one", hours: int = 0, **changes: Any) -> Pair:
    opened = OLD - timedelta(hours=hours)
    chase = Chase(an_id("chase", name), ChaseState.trying, "opted_out", opened, opened)
    return a_pair(id=an_id("pair", name), chases=(chase,), **changes)


def an_item(rule: str, urgency: Urgency = Urgency.same_day, withdrawn: bool = False) -> Escalation:
    finding = Finding(rule, None, urgency, DISCHARGED, DISCHARGED, withdrawn_by=STAFF if withdrawn else None)
    return Escalation(
        an_id("item", rule), urgency, DISCHARGED, DISCHARGED, EscalationState.waiting, (finding,)
    )


def attempt(n: int, kind: str, result: str, **more: Any) -> Attempt:
    at = DISCHARGED + timedelta(hours=n)
    return Attempt(an_id("attempt", n), kind, result, at, STAFF, **more)


def tries(*told: str) -> tuple[Attempt, ...]:
    """Attempts in words: 'call no_answer', one after the other."""
    return tuple(attempt(n, *words.split()) for n, words in enumerate(told, 1))


SMALL = a_baby(birth_weight_g=2100)
RISKY: Mapping[str, Mapping[str, Any]] = {
    "danger": {"episodes": (Episode(an_id("e"), an_id("i"), EpisodeState.told, DISCHARGED, "Lakeside"),)},
    "small": {"babies": (SMALL,)},
    "warned": {"escalations": (an_item("wet-1"),)},
    "poor_attachment": {"assessments": (an_assessment(attachment_chin="no"),)},
}


@pytest.mark.parametrize("risk", [*RISKY])
def test_each_risk_is_seen_from_what_the_pair_holds(risk: str) -> None:
    assert risks_of(listed(), OCCASIONS, OLD) == ()
    assert risk in risks_of(listed(**RISKY[risk]), OCCASIONS, OLD)


@pytest.mark.parametrize(
    ("age", "young"), [(timedelta(days=7, minutes=-1), True), (timedelta(days=7), False)]
)
def test_a_baby_is_young_until_it_is_seven_days_old(age: timedelta, young: bool) -> None:
    pair = listed()
    born = pair.babies[0].born_at
    assert born is not None
    assert ("under_7_days" in risks_of(pair, OCCASIONS, born + age)) is young


@pytest.mark.parametrize(
    "item",
    [
        an_item("contact_by_call"),
        an_item("unreachable"),
        an_item("wet-1", Urgency.routine),
        an_item("wet-1", withdrawn=True),
    ],
)
def test_what_is_no_standing_clinical_finding_is_no_warning(item: Escalation) -> None:
    assert "warned" not in risks_of(listed(escalations=(item,)), OCCASIONS, OLD)


def test_the_list_has_only_who_is_on_it_gravest_first_then_longest() -> None:
    danger = listed("danger", **RISKY["danger"])
    two = listed("two", **{**RISKY["small"], **RISKY["warned"]})
    small, poor = listed("small", **RISKY["small"]), listed("poor", **RISKY["poor_attachment"])
    long, short = listed("long", hours=30), listed("short", hours=2)
    ended = replace(long.chases[0], state=ChaseState.reached, closed_at=OLD, look_at=None)
    off = replace(listed("off"), chases=(ended,))
    places = ranked([short, off, poor, long, small, danger, two, a_pair()], OCCASIONS, OLD)
    assert [place.pair.id for place in places] == [p.id for p in (danger, two, small, poor, long, short)]


@given(st.sets(st.sampled_from([*RISKY])), st.sampled_from([*RISKY]))
def test_one_more_risk_never_puts_anybody_further_down(held: set[str], more: str) -> None:
    other = listed("other", hours=5, **RISKY["small"])

    def place(risks: set[str]) -> int:
        given_risks: dict[str, Any] = {}
        for risk in sorted(risks):
            given_risks |= RISKY[risk]
        places = ranked([other, listed("me", **given_risks)], OCCASIONS, OLD)
        return [each.pair.id for each in places].index(an_id("pair", "me"))

    assert place(held | {more}) <= place(held)


def test_risks_are_told_in_their_order() -> None:
    every: dict[str, Any] = {}
    for changes in RISKY.values():
        every |= changes
    (place,) = ranked([listed(**every)], OCCASIONS, DISCHARGED)
    assert isinstance(place, Place)
    assert place.risks == RISKS


# ---------------------------------------------------------------- what is left to try

AGREED = Consent(texts=True, calls=True, second_contact=True, home_visit=True)
SECOND = {"second_contact_name": "Wanjiru", "second_contact_phone": "+447700900950"}


@pytest.mark.parametrize(
    ("told", "failed"),
    [
        ([], 0),
        (["call no_answer"], 1),
        (["call no_answer", "call other_person", "call no_answer"], 3),
        (["call no_answer", "second_contact no_answer", "call no_answer"], 2),
        (["call no_answer", "call reached", "call no_answer"], 1),
    ],
)
def test_failed_calls_are_counted_in_a_row(told: list[str], failed: int) -> None:
    assert failed_calls(a_pair(attempts=tries(*told))) == failed


@pytest.mark.parametrize(
    ("told", "left"),
    [
        ([], ("call", "second_contact", "visit")),
        (["call no_answer"] * 2, ("call", "second_contact", "visit")),
        (["call no_answer"] * 3, ("second_contact", "visit")),
        (["call wrong_number"], ("second_contact", "visit")),
        (["second_contact no_answer"], ("call", "second_contact", "visit")),
        (["second_contact no_answer"] * 3, ("call", "visit")),
        (["second_contact passed_on"], ("call", "visit")),
        (["call no_answer"] * 3 + ["second_contact not_in_touch", "visit not_home"], ()),
        (["call no_answer"] * 3 + ["second_contact not_in_touch", "visit not_made"], ("visit",)),
    ],
)
def test_what_is_left_to_try(told: list[str], left: tuple[str, ...]) -> None:
    visited = tuple(
        replace(each, on_day=each.at.date(), done_at=each.at) if each.kind == "visit" else each
        for each in tries(*told)
    )
    assert left_to_try(listed(attempts=visited, consent=AGREED, extra=SECOND)) == left


def test_nobody_is_asked_or_visited_to_whom_she_did_not_agree() -> None:
    refused = Consent(texts=True, calls=True)
    assert left_to_try(listed(consent=refused, extra=SECOND)) == ("call",)
    nobody = a_mother(phone=None, texting=Texting.none)
    assert left_to_try(listed(consent=refused, mother=nobody)) == ()
    assert left_to_try(listed(consent=refused, mother=nobody, **RISKY["danger"])) == ("visit",)

"""Risks recorded at discharge change what a mother is asked, and how soon silence and doubt count."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from bot.core.pair import Pair
from bot.core.plan import planned
from bot.core.risks import known_risks
from bot.core.states import Urgency
from tests.support.life import Life, a_life
from tests.support.pairs import a_baby, a_mother, a_pair, an_assessment
from tests.support.schedules import the_standard_schedule


def with_risks(*words: str, **of_mother: str) -> Pair:
    return a_pair(mother=a_mother(risks=frozenset(words), **of_mother))


def asked(pair: Pair) -> dict[str, tuple[str, ...]]:
    return {each.key: each.questions for each in planned(pair, the_standard_schedule()) if each.questions}


PLAIN = asked(a_pair())


@pytest.mark.parametrize(
    ("words", "birth_mode", "found"),
    [
        ({"high blood pressure"}, "", {"high_blood_pressure"}),
        ({"High-Blood-Pressure", "first baby"}, "", {"high_blood_pressure"}),
        ({"tear", "heavy_bleeding_at_birth"}, "", {"tear", "heavy_bleeding_at_birth"}),
        (set(), "caesarean", {"caesarean"}),
        ({"first baby"}, "vaginal", set()),
    ],
)
def test_a_risk_is_known_by_its_id_or_its_words(words: set[str], birth_mode: str, found: set[str]) -> None:
    assert known_risks(words, birth_mode) == found


@pytest.mark.parametrize(
    ("pair", "question", "contacts"),
    [
        (with_risks("high blood pressure"), "headache_or_sight", {"day-3", "day-5", "day-7"}),
        (with_risks("tear"), "wound", {"day-7", "day-10", "day-14"}),
        (with_risks(birth_mode="caesarean"), "wound", {"day-7", "day-10", "day-14"}),
        (with_risks("heavy bleeding at birth"), "mother_danger", {"day-2", "day-4", "day-10", "day-14"}),
        (
            a_pair(assessments=(an_assessment(attachment_mouth="no"),)),
            "pain",
            {"day-3", "day-5", "day-10"},
        ),
    ],
)
def test_a_risk_adds_its_question_right_after_the_first_and_takes_none_away(
    pair: Pair, question: str, contacts: set[str]
) -> None:
    found = asked(pair)
    assert {key for key, questions in found.items() if question in questions} == contacts
    for key, questions in found.items():
        assert set(PLAIN.get(key, ())) <= set(questions)
        if question in questions and question not in PLAIN.get(key, ()):
            assert questions.index(question) == 1
        assert len(questions) <= the_standard_schedule().max_asking_a_day


@pytest.mark.parametrize(
    ("pair", "extra"),
    [
        (a_pair(), False),
        (a_pair(babies=(a_baby(birth_weight_g=2200),)), True),
        (a_pair(babies=(a_baby(gestation_weeks=35.0),)), True),
        (a_pair(babies=(a_baby(1), a_baby(2))), True),
        (a_pair(assessments=(an_assessment(suckling="not_effective"),)), True),
    ],
)
def test_who_needs_a_close_watch_is_asked_on_every_day_of_the_first_week(pair: Pair, extra: bool) -> None:
    assert ("small-day-6" in asked(pair)) is extra


def test_several_risks_never_ask_more_than_the_day_allows() -> None:
    found = asked(with_risks("tear", "high blood pressure", "heavy bleeding at birth"))
    assert max(map(len, found.values())) == the_standard_schedule().max_asking_a_day
    assert all(set(PLAIN[key]) <= set(questions) for key, questions in found.items())


def life_of(pair: Pair) -> Life:
    return a_life(mother=pair.mother)


def silent(pair: Pair, check_ins: int) -> Life:
    life = life_of(pair)
    ended = 0
    for _ in range(60):
        open_before = life.pair.open_check_in
        life.wake()
        if open_before is not None and life.pair.open_check_in is not open_before:
            ended += 1
            if ended == check_ins:
                return life
    raise AssertionError("no check-in ended")


@pytest.mark.parametrize(
    ("pair", "after_one", "after_two"),
    [
        (a_pair(), set(), {"silence-2"}),
        (with_risks("high blood pressure"), {"silence-1-at-risk"}, {"silence-2-at-risk"}),
        (with_risks(birth_mode="caesarean"), {"silence-1-at-risk"}, {"silence-2-at-risk"}),
        (with_risks("heavy bleeding at birth"), {"silence-1-at-risk"}, {"silence-2-at-risk"}),
    ],
)
def test_silence_counts_sooner_for_a_pair_at_risk(
    pair: Pair, after_one: set[str], after_two: set[str]
) -> None:
    assert {rule for rule in silent(pair, 1).rules if rule.startswith("silence")} == after_one
    assert after_two <= silent(pair, 2).rules


def test_an_answer_that_stays_unclear_is_for_today_at_risk_and_for_later_without() -> None:
    plain, risky = a_pair(), with_risks("tear")
    urgency = {}
    for name, pair in (("plain", plain), ("risky", risky)):
        life = life_of(pair).live_until("day-21")
        life.reply("no")
        life.answer("many", "a lot")
        assert life.item is not None
        urgency[name] = life.item.urgency
    assert urgency == {"plain": Urgency.routine, "risky": Urgency.same_day}


@pytest.mark.parametrize(
    ("contact", "risk", "urgency"),
    [("day-3", "", Urgency.same_day), ("day-21", "", Urgency.routine), ("day-21", "tear", Urgency.same_day)],
)
def test_who_does_not_know_is_asked_an_easier_question_then_a_person_asks(
    contact: str, risk: str, urgency: Urgency
) -> None:
    life = life_of(with_risks(risk) if risk else a_pair()).live_until(contact)
    life.reply("no")
    counted = life.open_question
    assert counted in ("feeds", "wet_nappies")
    life.reply("I don't know")
    assert not life.rules
    assert life.new_texts[-1] == f"again-{counted}"
    life.reply("don't know")
    assert life.item is not None
    assert life.item.urgency is urgency


def test_an_open_answer_with_no_word_after_asking_again_is_for_today_in_the_first_week() -> None:
    life = a_life().wake_until("day-2").answer("no", "less than 6")
    assert life.new_texts[-1] == "again-feeds"
    life.wake_for(days=1)
    assert life.item is not None
    found = {f.rule: f.urgency for f in life.item.findings}
    assert found["answer_missing"] is Urgency.same_day


def test_a_yes_to_the_question_about_her_wound_is_for_today() -> None:
    life = life_of(with_risks("tear")).live_until("day-7")
    life.reply("no")
    assert life.open_question == "wound"
    life.reply("1")
    assert life.rules == {"mother-wound-said"}
    assert "advice-same-day" in life.new_texts


def test_a_yes_to_a_headache_after_high_blood_pressure_tells_her_to_go_now() -> None:
    life = life_of(with_risks("high blood pressure")).live_until("day-3")
    life.reply("no")
    assert life.open_question == "headache_or_sight"
    life.reply("yes", timedelta(minutes=2))
    assert "mother-headache-or-sight-said" in life.rules
    assert "advice-go-now-mother" in life.new_texts


def test_a_trend_over_her_own_answers_reaches_the_inbox() -> None:
    life = a_life().wake_until("day-2").answer("no", "12", "5")
    assert life.item is None
    life.live_until("day-4").answer("no", "8", "6")
    assert "feeds-fallen-third" in life.rules


def test_another_language_does_not_lose_the_risk() -> None:
    pair = with_risks("tear")
    assert asked(replace(pair, mother=replace(pair.mother, language="sw"))) == asked(pair)

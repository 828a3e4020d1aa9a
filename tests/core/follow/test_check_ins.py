"""One question at a time, nothing asked twice, what is unclear goes to a person."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from bot.core.follow.events import Take
from bot.core.states import CheckInState, MessageState, QuestionState, Urgency
from tests.support.life import Life, a_life
from tests.support.pairs import a_pair, an_id


@pytest.fixture
def day_2() -> Life:
    """The first check-in has just gone out; its opening question is open."""
    return a_life().wake_until("day-2")


def test_the_open_question_about_danger_and_worry_comes_first_then_feeds_then_wet_nappies(
    day_2: Life,
) -> None:
    assert day_2.new_texts == ["ask-worry"]
    assert day_2.reply("no").new_texts == ["ask-feeds"]
    assert day_2.reply("9").new_texts == ["ask-wet_nappies"]
    assert day_2.reply("4").new_texts == ["thanks-fine"]
    assert day_2.pair.check_ins[-1].state is CheckInState.complete


def test_an_answer_given_unasked_is_kept_and_its_question_is_not_put(day_2: Life) -> None:
    day_2.answer("no", "9 feeds and 4 wet nappies")
    assert day_2.open_question is None
    assert "ask-wet_nappies" not in day_2.texts


def test_an_unclear_answer_is_asked_once_more_and_then_goes_to_a_person(day_2: Life) -> None:
    day_2.reply("no")
    assert day_2.reply("many").new_texts == ["again-feeds"]
    day_2.reply("a lot")
    assert day_2.item is not None
    assert day_2.item.urgency is Urgency.same_day
    settled = {q.key: q.state for q in day_2.pair.check_ins[-1].questions}
    assert settled["feeds"] is QuestionState.to_person
    assert day_2.open_question == "wet_nappies"


def test_less_than_six_is_judged_at_five_and_asked_once_more(day_2: Life) -> None:
    day_2.answer("no", "less than 6")
    assert day_2.new_texts[-1] == "again-feeds"
    assert "open-answer-first-week" not in day_2.rules
    day_2.reply("less than 6")
    assert "open-answer-first-week" in day_2.rules


def test_a_partial_answer_is_triaged_at_once(day_2: Life) -> None:
    day_2.answer("no", "5")
    assert day_2.item is not None
    assert day_2.item.urgency is Urgency.same_day
    assert day_2.new_texts == ["advice-same-day", "ask-wet_nappies"]


def test_a_second_number_soon_after_corrects_the_first(day_2: Life) -> None:
    day_2.answer("no", "9", "4")
    day_2.reply("sorry 3", timedelta(minutes=2))
    standing = [a for a in day_2.pair.answers if a.key == "wet_nappies" and a.superseded_by is None]
    assert [(a.low, a.high) for a in standing] == [(3, 3)]


def test_a_danger_drops_the_questions_and_says_what_to_do_first(day_2: Life) -> None:
    day_2.reply("he is very hot and wont wake up")
    assert day_2.new_texts == ["advice-go-now"]
    assert day_2.pair.open_check_in is None
    assert day_2.item is not None
    assert day_2.item.due_at - day_2.now == timedelta(minutes=15)


def test_the_same_danger_again_within_half_an_hour_is_counted_but_not_answered_again(day_2: Life) -> None:
    day_2.reply("he is very hot")
    assert day_2.reply("he is very hot!!", timedelta(minutes=2)).new_texts == []
    assert day_2.reply("he is very hot", timedelta(minutes=40)).new_texts == ["advice-go-now"]


def test_silence_of_three_check_ins_in_a_row_rises_from_routine_to_same_day(day_2: Life) -> None:
    day_2.wake_until("day-3").wake_until("day-4")
    assert "silence-2" in day_2.rules
    day_2.wake_until("day-5")
    assert "silence-3" in day_2.rules


def test_what_never_reached_the_phone_is_not_silence(day_2: Life) -> None:
    day_2.network(MessageState.undelivered).wake_until("day-3")
    day_2.network(MessageState.undelivered).wake_until("day-4")
    assert not {rule for rule in day_2.rules if rule.startswith("silence")}
    assert "unreachable" in day_2.rules


def test_an_answer_in_part_is_no_silence_but_what_is_missing_is_told(day_2: Life) -> None:
    day_2.reply("no").wake_until("day-3")
    assert "answer_missing" in day_2.rules
    assert not {rule for rule in day_2.rules if rule.startswith("silence")}


def test_twins_are_asked_one_number_for_the_one_that_has_less() -> None:
    first = a_pair().babies[0]
    second = replace(first, id=an_id("baby", 2), ordinal=2, name="Zawadi")
    life = a_life(babies=(first, second)).wake_until("day-2").reply("no")
    assert life.new_texts == ["ask-feeds-twins"]
    life.reply("5")
    assert life.item is not None
    assert {finding.baby for finding in life.item.findings} == {1, 2}


def test_an_old_danger_is_not_brought_again_by_a_later_answer(day_2: Life) -> None:
    day_2.reply("his skin is yellow")
    assert day_2.item is not None
    brought = {finding.rule: finding.inbound for finding in day_2.item.findings}
    day_2.answer("9", "4")
    assert {f.rule: f.inbound for f in day_2.item.findings if f.rule in brought} == brought


def test_what_a_person_closed_is_not_raised_again_by_an_answer_about_something_else(day_2: Life) -> None:
    day_2.reply("his skin is yellow").staff(Take()).close("looked at, sent to the clinic")
    day_2.answer("9", "4")
    assert day_2.item is None


def test_a_danger_is_one_matter_for_a_person_and_one_text_to_her(day_2: Life) -> None:
    day_2.reply("his skin is yellow and he cries a lot")
    assert {rule.partition("-")[0] for rule in day_2.rules} == {"jaundice"}
    assert [text for text in day_2.new_texts if not text.startswith("ask-")] == ["advice-same-day"]


def test_a_yes_to_worry_is_one_matter_and_one_text_before_the_next_question(day_2: Life) -> None:
    day_2.reply("yes")
    assert day_2.rules == {"worry"}
    assert day_2.new_texts == ["advice-same-day", "ask-feeds"]

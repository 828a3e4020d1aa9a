"""Endings: what stops, what goes on, what is said once, and that a danger inside any of them is heard."""

from __future__ import annotations

from datetime import timedelta

import pytest

from bot.core.errors import Conflict
from bot.core.follow.events import Finish, RecordDeath, Resume
from bot.core.outbox import Priority
from bot.core.states import EnrolmentState, Texting, Urgency
from tests.support.life import Life, a_life, twins

MORNING = timedelta(hours=24)


@pytest.fixture
def day_2() -> Life:
    """The first check-in has just gone out; its opening question is open."""
    return a_life().wake_until("day-2")


@pytest.mark.parametrize("words", ["STOP", "stop please", "Please stop these messages", "no more sms"])
def test_an_opt_out_is_confirmed_once_and_then_there_is_silence(day_2: Life, words: str) -> None:
    day_2.reply(words)
    assert day_2.new_texts == ["opt-out-done"]
    assert day_2.withdrawn == ["all"]
    assert day_2.pair.mother.texting is Texting.stopped
    assert day_2.pair.open_check_in is None
    assert day_2.pair.state is EnrolmentState.following
    assert day_2.reply("STOP").new_texts == []
    assert day_2.wake_for(days=3).texts_since == []


def test_after_an_opt_out_people_call_for_each_contact(day_2: Life) -> None:
    day_2.reply("STOP").wake_until("day-3")
    assert day_2.outcome("day-3") == "call"
    assert {"opted_out", "contact_by_call"} <= day_2.rules


def test_she_may_opt_in_again(day_2: Life) -> None:
    day_2.reply("STOP")
    assert day_2.reply("START").new_texts == ["opt-in-done"]
    day_2.wake_until("day-3")
    assert day_2.outcome("day-3") == "texted"


def test_stop_after_a_question_about_feeds_may_mean_the_baby_so_a_person_asks() -> None:
    arabic = a_life(language="ar").wake_until("day-2").reply("لا")
    assert arabic.open_question == "feeds"
    arabic.reply("توقف")
    assert arabic.pair.mother.texting is Texting.on
    assert arabic.new_texts == ["opt-out-ask"]
    assert "opt_out_unsure" in arabic.rules


def test_a_wrong_number_is_answered_once_and_held_until_a_person_decides(day_2: Life) -> None:
    day_2.reply("wrong number, I am not Amina")
    assert day_2.new_texts == ["wrong-number-done"]
    assert day_2.pair.state is EnrolmentState.held
    assert day_2.reply("you have the wrong number").new_texts == []
    assert day_2.wake_for(days=2).texts_since == []
    assert {"wrong_number", "decision_awaited"} <= day_2.rules


def test_a_confirmed_wrong_number_is_followed_by_call_and_start_from_it_changes_nothing(day_2: Life) -> None:
    day_2.reply("wrong number").staff(Resume(texting=False))
    assert (day_2.pair.state, day_2.pair.mother.texting) == (EnrolmentState.following, Texting.none)
    assert day_2.reply("START").new_texts == []
    assert "reply_to_read" in day_2.rules
    day_2.wake_until("day-3")
    assert day_2.outcome("day-3") == "call"


@pytest.mark.parametrize("words", ["my baby died last night", "the baby has passed away"])
def test_a_death_stops_everything_and_the_program_says_nothing(day_2: Life, words: str) -> None:
    day_2.reply(words)
    assert day_2.new_texts == []
    assert day_2.withdrawn == ["all"]
    assert day_2.pair.state is EnrolmentState.held
    assert day_2.item is not None
    assert day_2.item.urgency is Urgency.same_day
    assert day_2.wake_for(days=3).texts_since == []


def test_while_held_a_person_is_reminded_every_morning(day_2: Life) -> None:
    day_2.reply("my baby died")
    wakes = [day_2.wake().pair.local(day_2.now) for _ in range(4)]
    mornings = [at for at in wakes if (at.hour, at.minute) == (8, 0)]
    assert len({at.date() for at in mornings}) == 3
    assert day_2.count("decision_awaited") == 3


def test_a_death_that_nobody_saw_to_for_a_day_is_alerted_again_and_nothing_is_texted(day_2: Life) -> None:
    day_2.reply("my baby died")
    told = day_2.now
    day_2.wake_for(hours=25)
    assert day_2.item is not None
    risen = [f for f in day_2.item.findings if f.risen_at]
    assert ("bereaved", told + timedelta(hours=24)) in {(f.rule, f.risen_at) for f in risen}
    assert day_2.texts_since == []


@pytest.mark.parametrize(
    "words", ["Please stop these messages. My baby is having fits", "wrong number but this baby has fits"]
)
def test_a_danger_inside_an_ending_goes_on(day_2: Life, words: str) -> None:
    day_2.reply(words)
    assert "advice-go-now" in day_2.standing_texts
    assert day_2.item is not None
    assert day_2.item.urgency is Urgency.go_now


def test_after_a_death_only_a_danger_to_the_mother_is_answered(day_2: Life) -> None:
    day_2.reply("my baby died, he was having fits")
    assert day_2.standing_texts == []
    assert day_2.item is not None
    assert day_2.item.urgency is Urgency.go_now
    day_2.reply("I am bleeding heavily")
    assert day_2.standing_texts == ["advice-go-now-alone"]


def test_an_opt_out_after_a_death_is_confirmed_without_a_word_of_the_baby(day_2: Life) -> None:
    day_2.reply("my baby died last night").reply("STOP")
    assert day_2.new_texts == ["opt-out-done-alone"]


def test_a_danger_from_a_stopped_number_is_answered_but_texts_stay_stopped(day_2: Life) -> None:
    day_2.reply("STOP").reply("my baby is having fits")
    assert day_2.new_texts == ["advice-go-now"]
    assert day_2.priorities == [Priority.go_now]
    assert day_2.pair.mother.texting is Texting.stopped
    assert day_2.wake_for(days=2).texts_since == []


@pytest.mark.parametrize("reason", ["finished", "declined", "moved", "admitted"])
def test_a_danger_after_the_end_is_answered_and_held_for_a_person(day_2: Life, reason: str) -> None:
    day_2.staff(Finish(reason))
    assert day_2.reply("hello, how are you").new_texts == []
    assert day_2.pair.state is EnrolmentState.closed
    day_2.reply("my baby is having fits", timedelta(days=1))
    assert day_2.standing_texts == ["advice-go-now"]
    assert (day_2.pair.state, day_2.pair.closed_reason) == (EnrolmentState.held, None)
    assert "closed_pair_danger" in day_2.rules
    assert day_2.wake_for(days=3).texts_since == []
    assert day_2.count("decision_awaited") == 3


def test_what_may_be_a_danger_after_the_end_is_read_by_a_person(day_2: Life) -> None:
    day_2.staff(Finish("finished")).reply("is it normal if a baby has fits?")
    assert day_2.pair.state is EnrolmentState.held
    assert "danger_unsure" in day_2.rules
    assert day_2.new_texts == []


def test_a_mother_in_danger_after_the_death_of_her_baby_is_told_what_to_do(day_2: Life) -> None:
    day_2.staff(RecordDeath(1))
    assert (day_2.pair.state, day_2.pair.closed_reason) == (EnrolmentState.closed, "baby_died")
    day_2.reply("I am bleeding heavily")
    assert day_2.standing_texts == ["advice-go-now-alone"]
    assert day_2.pair.state is EnrolmentState.held
    assert day_2.wake_for(days=3).texts_since == []


def test_nobody_is_followed_again_whose_baby_has_died(day_2: Life) -> None:
    day_2.staff(RecordDeath(1))
    with pytest.raises(Conflict):
        day_2.staff(Resume())


def test_after_one_twin_died_a_person_decides_before_any_text_then_the_other_is_followed() -> None:
    life = twins().wake_until("day-2")
    life.staff(RecordDeath(1))
    assert life.withdrawn == ["all"]
    assert [baby.ordinal for baby in life.pair.living] == [2]
    assert life.pair.state is EnrolmentState.held
    life.staff(Resume()).wake_until("day-3").reply("no")
    assert life.new_texts == ["ask-wet_nappies"]


def test_a_pair_is_followed_again_after_the_end_when_a_person_says_so(day_2: Life) -> None:
    day_2.staff(Finish("moved"))
    day_2.staff(Resume())
    assert (day_2.pair.state, day_2.pair.closed_reason) == (EnrolmentState.following, None)
    day_2.wake_until("day-3")
    assert day_2.outcome("day-3") == "texted"


def test_a_follow_up_that_has_ended_is_not_ended_again_for_another_reason(day_2: Life) -> None:
    day_2.staff(Finish("moved"))
    with pytest.raises(Conflict):
        day_2.staff(Finish("declined"))
    assert day_2.pair.closed_reason == "moved"


def test_the_follow_up_ends_by_itself_only_when_she_was_heard() -> None:
    heard = a_life().live_until("day-42").answer("no", "9", "no").wake_until("finished")
    heard.wake_for(days=3)
    assert (heard.pair.state, heard.pair.closed_reason) == (EnrolmentState.closed, "finished")
    silent = a_life().live_until("day-42").wake_for(days=5)
    assert silent.pair.state is EnrolmentState.following
    assert "last_check_in_unheard" in silent.rules

"""What staff may do and may not, in the inbox and to the follow-up."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, time, timedelta

import pytest

from bot.core.errors import Conflict, Invalid
from bot.core.follow import events as act
from bot.core.follow.events import Action
from bot.core.outbox import Priority
from bot.core.states import (
    BabyState,
    CheckInState,
    EnrolmentState,
    EscalationState,
    ReviewState,
    Texting,
    Urgency,
)
from tests.support.life import COLLEAGUE, COUNSELLOR, Life, a_life, twins

TODAY = date(2026, 3, 4)
MINUTE = timedelta(minutes=1)


@pytest.fixture
def day_2() -> Life:
    return a_life().wake_until("day-2")


@pytest.fixture
def danger(day_2: Life) -> Life:
    return day_2.reply("he is very hot")


def item_of(life: Life):
    assert life.item is not None
    return life.item


# ---------------------------------------------------------------- the inbox


def test_an_item_is_taken_put_back_and_handed_over(danger: Life) -> None:
    danger.staff(act.Take())
    assert (item_of(danger).state, item_of(danger).taken_by) == (EscalationState.taken, COUNSELLOR)
    danger.staff(act.Release())
    assert (item_of(danger).state, item_of(danger).taken_by) == (EscalationState.waiting, None)
    danger.staff(act.Take()).staff(act.HandOver(COLLEAGUE))
    assert (item_of(danger).taken_by, item_of(danger).offered_to) == (COUNSELLOR, COLLEAGUE)
    with pytest.raises(Conflict):
        danger.staff(act.AcceptHandOver(), by=COUNSELLOR)
    danger.staff(act.AcceptHandOver(), by=COLLEAGUE)
    assert (item_of(danger).state, item_of(danger).taken_by) == (EscalationState.taken, COLLEAGUE)


def test_two_cant_take_the_same_but_a_doubled_click_is_harmless(danger: Life) -> None:
    danger.staff(act.Take()).staff(act.Take())
    with pytest.raises(Conflict):
        danger.staff(act.Take(), by=COLLEAGUE)
    assert item_of(danger).taken_by == COUNSELLOR


def test_the_clock_stops_when_she_was_spoken_to_and_a_new_finding_starts_it_again(danger: Life) -> None:
    danger.staff(act.Spoke())
    stopped = danger.now
    assert item_of(danger).spoken_at == stopped
    danger.staff(act.Spoke())
    assert item_of(danger).spoken_at == stopped
    danger.reply("he is very hot", MINUTE)
    assert item_of(danger).spoken_at == stopped
    danger.reply("and I am bleeding heavily", MINUTE)
    assert item_of(danger).spoken_at is None
    assert item_of(danger).due_at == danger.now + timedelta(minutes=15)


def test_only_a_person_lowers_an_urgency_and_says_why(danger: Life) -> None:
    danger.reply("no fever now, thank you", timedelta(hours=2))
    assert item_of(danger).urgency is Urgency.go_now
    with pytest.raises(Invalid):
        danger.staff(act.SetUrgency(Urgency.routine, " "))
    danger.staff(act.SetUrgency(Urgency.same_day, "measured, 37.0"))
    assert item_of(danger).urgency is Urgency.same_day
    assert item_of(danger).due_at == item_of(danger).raised_at + timedelta(hours=4)


def test_a_finding_is_taken_back_with_a_reason_and_found_again_it_is_new(danger: Life) -> None:
    rule, baby = item_of(danger).findings[0].rule, item_of(danger).findings[0].baby
    with pytest.raises(Invalid):
        danger.staff(act.WithdrawFinding(rule, baby, ""))
    with pytest.raises(Conflict):
        danger.staff(act.WithdrawFinding("no-such-rule", None, "misread"))
    danger.staff(act.Spoke()).staff(act.WithdrawFinding(rule, baby, "she meant the weather"))
    assert rule not in danger.rules
    danger.reply("he is very hot")
    assert rule in danger.rules
    assert item_of(danger).spoken_at is None


@pytest.mark.parametrize("found", ["", "  "])
def test_an_item_is_closed_only_with_what_was_found(danger: Life, found: str) -> None:
    danger.staff(act.Spoke())
    with pytest.raises(Conflict):
        danger.staff(act.Close(found, outcome="treated_home"))
    danger.staff(act.Close("advised", "sent to the ward", "treated_home"))
    assert danger.item is None
    closed = danger.pair.escalations[-1]
    assert (closed.disposition, closed.note) == ("advised", "sent to the ward")


def test_a_held_pair_leaves_the_inbox_only_by_a_decision(day_2: Life) -> None:
    day_2.reply("my baby died")
    with pytest.raises(Conflict):
        day_2.close()
    day_2.staff(act.Finish("baby_died"))
    assert day_2.item is None
    assert (day_2.pair.state, day_2.pair.closed_reason) == (EnrolmentState.closed, "baby_died")


@pytest.mark.parametrize(
    "action",
    [
        act.Take(), act.Release(), act.HandOver(COLLEAGUE), act.Spoke(), act.Close("advised"),
        act.SetUrgency(Urgency.routine, "why"), act.WithdrawFinding("x", None, "why"),
    ],
    ids=lambda action: type(action).__name__,
)  # fmt: skip
def test_nothing_is_done_to_an_item_that_is_not_open(day_2: Life, action: Action) -> None:
    before = day_2.pair
    with pytest.raises(Conflict):
        day_2.staff(action)
    assert day_2.pair == before


# ---------------------------------------------------------------- what she said on the phone


def test_what_she_said_is_judged_like_a_text_and_counts_as_spoken_to(day_2: Life) -> None:
    day_2.staff(act.EnterAnswers({"feeds": (4.0, 4.0)}))
    assert item_of(day_2).urgency is Urgency.same_day
    assert item_of(day_2).spoken_at == day_2.now
    day_2.staff(act.EnterAnswers({}, signs=frozenset({"baby_hot"})))
    assert item_of(day_2).urgency is Urgency.go_now
    assert day_2.new_texts == []
    assert day_2.pair.check_ins[-1].state is CheckInState.dropped
    assert day_2.withdrawn_questions


def test_what_she_said_is_not_asked_by_text_again(day_2: Life) -> None:
    day_2.staff(act.EnterAnswers({"feeds": (9.0, 9.0)}))
    assert (day_2.open_question, day_2.new_texts) == ("worry", [])
    day_2.staff(act.EnterAnswers({"worry": (0.0, 0.0)}))
    assert day_2.withdrawn_questions
    assert day_2.open_question == "wet_nappies"
    day_2.staff(act.EnterAnswers({"wet_nappies": (4.0, 4.0)}))
    assert day_2.pair.check_ins[-1].state is CheckInState.complete
    assert day_2.new_texts == []


def test_answers_about_one_twin_concern_that_one(day_2: Life) -> None:
    life = twins().wake_until("day-2")
    life.staff(act.EnterAnswers({"feeds": (4.0, 4.0)}, baby=2))
    assert {finding.baby for finding in item_of(life).findings} == {2}


def test_nothing_said_is_refused(day_2: Life) -> None:
    with pytest.raises(Invalid):
        day_2.staff(act.EnterAnswers({}))


def test_a_counsellors_own_words_go_out_once_for_a_doubled_click(day_2: Life) -> None:
    with pytest.raises(Invalid):
        day_2.staff(act.Write("k", "  "))
    first = day_2.staff(act.Write("k", " I call at ten. ")).last
    again = day_2.staff(act.Write("k", "I call at ten.")).last
    says = [e for e in (*first, *again) if isinstance(e, act.Say)]
    assert {(say.once_key, say.text) for say in says} == {("write:k", "I call at ten.")}


@pytest.mark.parametrize(
    "begin",
    [
        lambda life: life.reply("STOP"),
        lambda life: life.reply("my baby died"),
        lambda life: life.staff(act.Finish("moved")),
    ],
    ids=["stopped", "held", "closed"],
)
def test_nothing_is_written_to_who_gets_no_texts(day_2: Life, begin: Callable[[Life], Life]) -> None:
    begin(day_2)
    with pytest.raises(Conflict):
        day_2.staff(act.Write("k", "I call at ten."))


# ---------------------------------------------------------------- the follow-up


def test_everything_stops_when_staff_hold_a_pair(day_2: Life) -> None:
    with pytest.raises(Invalid):
        day_2.staff(act.Hold(""))
    day_2.staff(act.Hold("a death in the family"))
    assert day_2.withdrawn == ["all"]
    assert day_2.pair.open_check_in is None
    assert day_2.wake_for(days=2).texts_since == []
    assert "decision_awaited" in day_2.rules


def test_an_away_pair_needs_a_reason_and_a_day_to_look_again_and_then_every_morning_a_person_looks(
    day_2: Life,
) -> None:
    for until in (TODAY, TODAY - timedelta(days=1)):
        with pytest.raises(Invalid):
            day_2.staff(act.Away(until, "baby in hospital"))
    with pytest.raises(Invalid):
        day_2.staff(act.Away(TODAY + timedelta(days=3), ""))
    day_2.staff(act.Away(TODAY + timedelta(days=3), "baby in hospital"))
    assert "back_from_away" not in day_2.wake_for(days=2).rules
    day_2.wake_for(days=3)
    assert day_2.count("back_from_away") == 3
    day_2.close()
    assert day_2.pair.state is EnrolmentState.away
    day_2.staff(act.Resume()).wake_until("home-day-1")
    assert day_2.outcome("home-day-1") == "texted"


def test_a_danger_from_a_pair_that_is_away_is_heard_and_answered(day_2: Life) -> None:
    day_2.staff(act.Away(TODAY + timedelta(days=3), "at her mother's")).reply("the baby has fits")
    assert day_2.new_texts == ["advice-go-now"]
    assert item_of(day_2).urgency is Urgency.go_now


def test_texts_stop_by_staff_with_a_reason(day_2: Life) -> None:
    with pytest.raises(Invalid):
        day_2.staff(act.StopTexts(""))
    assert day_2.staff(act.StopTexts("as she wishes")).pair.mother.texting is Texting.stopped


def test_a_death_is_recorded_once(day_2: Life) -> None:
    life = twins()
    life.staff(act.RecordDeath(2))
    with pytest.raises(Conflict):
        life.staff(act.RecordDeath(2))
    assert [baby.state for baby in life.pair.babies] == [BabyState.living, BabyState.died]
    life.staff(act.RecordDeath(1))
    assert (life.pair.state, life.pair.closed_reason) == (EnrolmentState.closed, "baby_died")


def test_a_follow_up_ends_only_for_a_known_reason_and_leaves_nothing_open(danger: Life) -> None:
    with pytest.raises(Invalid):
        danger.staff(act.Finish("tired of it"))
    danger.staff(act.Finish("admitted"))
    assert danger.item is None
    assert danger.pair.wake_at is None
    assert danger.pair.expected_review is None
    assert {review.state for review in danger.pair.reviews} == {ReviewState.cancelled}


@pytest.mark.parametrize(
    "action",
    [
        act.MoveReview(TODAY + timedelta(days=2)), act.SendPractice("k"), act.Hold("why"),
        act.StopTexts("why"), act.ChangePhone("+447700900199", False), act.RecordDeath(1),
        act.Away(TODAY + timedelta(days=9), "why"), act.ConfirmPhone(), act.Finish("declined"),
    ],
    ids=lambda action: type(action).__name__,
)  # fmt: skip
def test_after_the_end_the_pair_must_be_followed_again_first(day_2: Life, action: Action) -> None:
    day_2.staff(act.Finish("moved"))
    before = day_2.pair
    with pytest.raises(Conflict):
        day_2.staff(action)
    assert day_2.pair == before


# ---------------------------------------------------------------- the review


def test_a_review_moves_to_an_open_day_from_today_on(day_2: Life) -> None:
    sunday = date(2026, 3, 8)
    for day in (TODAY - timedelta(days=1), sunday):
        with pytest.raises(Invalid):
            day_2.staff(act.MoveReview(day))
    day_2.staff(act.MoveReview(date(2026, 3, 6), time(10)))
    assert day_2.new_texts == ["review-moved"]
    assert day_2.withdrawn == ["review"]
    assert [review.state for review in day_2.pair.reviews] == [ReviewState.cancelled, ReviewState.expected]


def test_a_review_moved_at_night_is_told_in_the_morning(day_2: Life) -> None:
    day_2.staff(act.MoveReview(date(2026, 3, 6)), after=timedelta(hours=14))
    (text,) = [e for e in day_2.last if isinstance(e, act.Say)]
    assert day_2.pair.local(text.send_after).time() == time(8)
    assert text.priority is Priority.reminder

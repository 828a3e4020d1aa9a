"""The list of those whom texts do not reach: how they come onto it, what is tried, and how they leave it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import pytest

from bot.core.chase import planned_visit
from bot.core.errors import Conflict, Invalid
from bot.core.follow.events import (
    Action,
    AskToCall,
    Delivered,
    Enrolled,
    Finish,
    GiveUp,
    PlanVisit,
    Resume,
    SheRang,
    SignUnresolved,
    Spoke,
    StopTexts,
    Tried,
    TryOn,
    Undelivered,
    Visited,
)
from bot.core.pair import Consent
from bot.core.states import ChaseState, Texting
from tests.support.life import COLLEAGUE, COUNSELLOR, Life, a_life
from tests.support.pairs import a_mother, a_pair

HOURS, DAY = timedelta(hours=1), timedelta(days=1)
AGREED = Consent(texts=True, calls=True, second_contact=True, home_visit=True)
SECOND = {"second_contact_name": "Wanjiru", "second_contact_phone": "+447700900950"}
NO_ANSWER = Tried("call", "no_answer")


def without_phone() -> Life:
    pair = a_pair(
        mother=a_mother(phone=None, texting=Texting.none), consent=AGREED, extra=SECOND, follow_up_by="call"
    )
    return Life(pair, pair.discharged_at).happens(Enrolled(bedside=True))


def opted_out() -> Life:
    return a_life(consent=AGREED, extra=SECOND).reply("STOP")


def not_hers() -> Life:
    return a_life().reply("wrong number")


def found_wrong_by_call() -> Life:
    return a_life().staff(Tried("call", "wrong_number"))


def refused_by_network() -> Life:
    return a_life().happens(Undelivered("contact:welcome:1", permanent=True))


def silent_phone() -> Life:
    return a_life().happens(Undelivered("contact:welcome:1", permanent=False)).wake_for(hours=48)


def never_answers() -> Life:
    return a_life(consent=AGREED, extra=SECOND).staff(NO_ANSWER).staff(NO_ANSWER).staff(NO_ANSWER)


def state(life: Life) -> ChaseState | None:
    return life.pair.chases[-1].state if life.pair.chases else None


@pytest.mark.parametrize(
    ("begin", "ground"),
    [
        (without_phone, "no_phone"),
        (opted_out, "opted_out"),
        (lambda: a_life().staff(StopTexts("she_asked")), "opted_out"),
        (not_hers, "wrong_number"),
        (found_wrong_by_call, "wrong_number"),
        (refused_by_network, "undelivered"),
        (silent_phone, "undelivered"),
        (never_answers, "calls_failed"),
    ],
)
def test_who_cannot_be_texted_or_does_not_answer_comes_onto_the_list(
    begin: Callable[[], Life], ground: str
) -> None:
    chase = begin().pair.open_chase
    assert chase is not None
    assert (chase.state, chase.ground) == (ChaseState.trying, ground)


def test_who_is_reached_by_text_is_not_on_it() -> None:
    assert a_life().live_until("day-3").pair.chases == ()


def test_two_days_without_delivery_begin_with_the_first_text_that_did_not_arrive() -> None:
    life = a_life().happens(Undelivered("a", permanent=False))
    life.happens(Undelivered("b", permanent=False), 40 * HOURS).wake_for(hours=7)
    assert life.pair.open_chase is None
    assert life.wake_for(hours=1).pair.open_chase is not None


def test_a_text_that_arrives_in_between_begins_the_two_days_anew() -> None:
    life = a_life().happens(Undelivered("a", permanent=False)).happens(Delivered("b"), HOURS)
    assert life.wake_for(hours=60).pair.open_chase is None


@pytest.mark.parametrize("begin", [silent_phone, refused_by_network])
def test_texts_that_arrive_again_take_them_off(begin: Callable[[], Life]) -> None:
    life = begin().happens(Delivered("day-3"))
    assert state(life) is ChaseState.reached
    assert life.pair.chases[-1].closed_by is None


def test_a_text_from_her_ends_the_search_but_her_stop_begins_one() -> None:
    assert state(never_answers().reply("hello")) is ChaseState.reached
    assert state(opted_out().reply("START")) is ChaseState.reached
    assert state(opted_out()) is ChaseState.trying


# ---------------------------------------------------------------- trying


def test_two_failed_calls_are_not_three_and_a_reply_between_them_counts_anew() -> None:
    assert a_life().staff(NO_ANSWER).staff(NO_ANSWER).pair.open_chase is None
    life = a_life().staff(NO_ANSWER).staff(NO_ANSWER).wake_until("day-2").reply("no").staff(NO_ANSWER)
    assert life.pair.open_chase is None


@pytest.mark.parametrize("how", [Tried("call", "reached"), Tried("second_contact", "reached"), SheRang()])
def test_who_was_spoken_to_leaves_the_list_and_stops_the_clock_of_the_inbox(how: Action) -> None:
    life = opted_out().staff(how)
    assert state(life) is ChaseState.reached
    assert life.item is not None
    assert life.item.spoken_at == life.now


def test_spoken_to_by_the_inbox_is_spoken_to() -> None:
    assert state(opted_out().staff(Spoke())) is ChaseState.reached


def test_she_rang_the_ward_needs_nothing_open() -> None:
    life = a_life().staff(SheRang())
    assert life.item is None
    assert life.pair.chases == ()


def test_the_next_contact_that_is_due_puts_them_on_the_list_again() -> None:
    life = opted_out().staff(SheRang())
    assert life.pair.open_chase is None
    chase = life.wake_until("day-3").pair.open_chase
    assert chase is not None
    assert chase.ground == "opted_out"


def test_somebody_else_on_the_line_is_a_call_that_failed() -> None:
    life = a_life()
    for _ in range(3):
        life.staff(Tried("call", "other_person"))
    assert life.pair.open_chase is not None


def test_nobody_is_asked_or_visited_against_her_wish() -> None:
    life = a_life(consent=Consent(texts=True, calls=True))
    with pytest.raises(Conflict):
        life.staff(Tried("second_contact", "passed_on"))
    with pytest.raises(Conflict):
        life.staff(PlanVisit(date(2026, 3, 5), "Achieng"))


def test_a_number_that_is_not_hers_gets_no_more_texts() -> None:
    life = found_wrong_by_call()
    assert life.pair.mother.texting is Texting.none
    assert life.wake_for(days=4).texts_since == []


@pytest.mark.parametrize(
    ("action", "faults"),
    [
        (PlanVisit(date(2026, 3, 2), "Achieng"), {"visit_on"}),
        (PlanVisit(date(2026, 3, 5), " "), {"visit_who"}),
        (PlanVisit(date(2026, 3, 2), ""), {"visit_on", "visit_who"}),
        (Tried("call", "maybe"), {"result"}),
        (GiveUp("tired"), {"why"}),
    ],
)
def test_what_cannot_be_noted_is_refused_with_every_fault(action: Action, faults: set[str]) -> None:
    with pytest.raises(Invalid) as refused:
        opted_out().staff(action)
    assert {problem.field for problem in refused.value.problems} == faults


def test_a_visit_has_a_name_a_day_and_a_result() -> None:
    life = opted_out().staff(PlanVisit(date(2026, 3, 5), "Achieng"))
    visit = planned_visit(life.pair)
    assert visit is not None
    assert (visit.on_day, visit.who, visit.result) == (date(2026, 3, 5), "Achieng", "")
    life.staff(PlanVisit(date(2026, 3, 6), "Beatrice"))
    assert [(each.on_day, each.who) for each in life.pair.attempts] == [(date(2026, 3, 6), "Beatrice")]
    life.staff(Visited("reached"))
    assert state(life) is ChaseState.reached
    assert life.pair.attempts[-1].done_at == life.now
    with pytest.raises(Conflict):
        life.staff(Visited("not_home"))


def test_a_visit_without_a_result_comes_into_the_inbox_the_morning_after_and_every_morning() -> None:
    life = opted_out().staff(PlanVisit(date(2026, 3, 5), "Achieng"))
    life.wake_for(days=1, hours=12)
    assert "not_reached" not in life.rules
    life.wake_for(days=2)
    assert life.count("not_reached") >= 1
    assert life.pair.wake_at is not None


def test_who_is_left_alone_on_the_list_for_two_days_comes_into_the_inbox() -> None:
    life = opted_out().wake_for(hours=47)
    assert "not_reached" not in life.rules
    assert "not_reached" in life.wake_for(hours=2).rules


def test_a_visit_that_is_needless_by_then_is_not_made() -> None:
    life = opted_out().staff(PlanVisit(date(2026, 3, 5), "Achieng")).staff(SheRang())
    assert life.pair.attempts[-1].result == "not_made"


# ---------------------------------------------------------------- giving up


def all_tried() -> Life:
    life = never_answers().staff(Tried("second_contact", "not_in_touch"))
    return life.staff(PlanVisit(date(2026, 3, 5), "Achieng")).staff(Visited("not_home"))


def test_unresolved_needs_two_people() -> None:
    life = all_tried().staff(GiveUp("all_tried"))
    assert state(life) is ChaseState.given_up
    with pytest.raises(Conflict):
        life.staff(SignUnresolved(), COUNSELLOR)
    life.staff(SignUnresolved(), COLLEAGUE)
    chase = life.pair.chases[-1]
    assert (chase.state, chase.given_up_by, chase.closed_by) == (
        ChaseState.unresolved,
        COUNSELLOR,
        COLLEAGUE,
    )


def test_nobody_signs_what_nobody_gave_up() -> None:
    with pytest.raises(Conflict):
        never_answers().staff(SignUnresolved(), COLLEAGUE)


def test_all_is_not_tried_while_something_is_left() -> None:
    for life in (never_answers(), opted_out(), all_tried().staff(PlanVisit(date(2026, 3, 6), "Beatrice"))):
        with pytest.raises(Conflict):
            life.staff(GiveUp("all_tried"))
    assert state(never_answers().staff(GiveUp("moved"))) is ChaseState.given_up


def test_nobody_gives_up_in_an_open_danger() -> None:
    life = all_tried().reply("the baby has fits", sure=False)
    with pytest.raises(Conflict):
        life.staff(GiveUp("moved"))


def test_a_danger_that_comes_after_giving_up_is_not_signed_away() -> None:
    life = all_tried().staff(GiveUp("moved")).reply("the baby has fits", sure=False)
    with pytest.raises(Conflict):
        life.staff(SignUnresolved(), COLLEAGUE)


@pytest.mark.parametrize("again", [TryOn(), NO_ANSWER])
def test_trying_on_takes_the_giving_up_back(again: Action) -> None:
    life = all_tried().staff(GiveUp("all_tried")).staff(again, COLLEAGUE)
    chase = life.pair.open_chase
    assert chase is not None
    assert (chase.state, chase.given_up_by, chase.why) == (ChaseState.trying, None, "")


def test_what_two_people_signed_is_begun_again_only_when_she_was_heard() -> None:
    life = opted_out().staff(GiveUp("refused")).staff(SignUnresolved(), COLLEAGUE)
    life.wake_until("day-3")
    assert life.pair.open_chase is None
    assert "contact_by_call" in life.rules
    life.staff(SheRang()).wake_until("day-4")
    assert life.pair.open_chase is not None


def test_the_end_of_the_follow_up_ends_the_search() -> None:
    life = never_answers().staff(Finish("declined"))
    assert state(life) is ChaseState.dropped
    assert life.pair.wake_at is None


def test_a_confirmed_wrong_number_stays_on_the_list_and_no_second_one_begins() -> None:
    life = not_hers().staff(Resume(texting=False))
    assert [chase.ground for chase in life.pair.chases] == ["wrong_number"]
    assert life.pair.open_chase is not None


def test_the_text_that_asks_her_to_call_goes_once_a_day_and_only_to_whom_texts_may_go() -> None:
    life = never_answers().staff(AskToCall())
    assert life.new_texts == ["please-call"]
    first = life.last
    life.staff(AskToCall())
    assert {e.once_key for e in life.last if hasattr(e, "text_key")} == {
        e.once_key for e in first if hasattr(e, "text_key")
    }
    with pytest.raises(Conflict):
        opted_out().staff(AskToCall())
    with pytest.raises(Conflict):
        a_life().staff(AskToCall())


def test_who_is_held_is_not_left_alone_either() -> None:
    assert "not_reached" in not_hers().wake_for(days=3).rules


def test_who_was_signed_as_unresolved_and_writes_is_found_after_all() -> None:
    life = never_answers().staff(GiveUp("moved")).staff(SignUnresolved(), COLLEAGUE).reply("hello")
    assert state(life) is ChaseState.reached

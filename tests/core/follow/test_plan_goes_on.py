"""The schedule as a pair lives it: what is held or skipped, limits of a day, quiet hours, clocks, twins."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from bot.core.follow import Content, follow
from bot.core.follow import events as act
from bot.core.outbox import Priority
from bot.core.pair import Pair
from bot.core.plan import is_quiet
from bot.core.states import CheckInState, Urgency
from tests.support.life import Life, a_life, standard_content, twins
from tests.support.pairs import a_baby, a_site


def edition_2(**changes: Any) -> Content:
    """The standard content with a new edition of the schedule, some contacts changed by key."""
    content = standard_content()
    contacts = tuple(replace(spec, **changes.get(spec.key, {})) for spec in content.schedule.contacts)
    return replace(content, schedule=replace(content.schedule, edition=2, contacts=contacts))


def replanned(pair: Pair, content: Content, now: datetime) -> tuple[Pair, list[str]]:
    after, effects = follow(pair, act.Replanned(), content, now)
    return after, [e.text_key for e in effects if isinstance(e, act.Say | act.Ask)]


# ---------------------------------------------------------------- go now


def test_while_a_danger_is_open_questions_and_reminders_are_held_and_people_call() -> None:
    life = a_life().wake_until("day-2").reply("he is very hot")
    assert life.wake_for(hours=24).texts_since == ["go-repeat", "go-repeat"]
    assert life.outcome("review-evening") == life.outcome("review-morning") == "call"
    life.close().wake_until("day-4")
    assert life.outcome("day-4") == "texted"


# ---------------------------------------------------------------- a new plan


def test_a_new_plan_moves_what_is_to_come() -> None:
    life = a_life().live_until("day-2")
    content = edition_2(**{"review-evening": {"at": time(17)}})
    after, texts = replanned(life.pair, content, life.now)
    assert texts == []
    assert after.wake_at is not None
    assert after.local(after.wake_at).time() == time(17)


def test_what_a_new_plan_puts_before_now_is_skipped_and_never_sent_late() -> None:
    life = a_life().live_until("day-2")
    content = edition_2(**{"practise-attach": {"key": "practise-again"}, "day-3": {"days": 2, "at": time(8)}})
    after, texts = replanned(life.pair, content, life.now + timedelta(hours=1))
    assert texts == []
    skipped = [(done.key, done.edition) for done in after.contacts if done.outcome == "skipped"]
    assert ("practise-again", 2) in skipped
    woken, effects = follow(after, act.Woke(), content, life.now + timedelta(hours=2))
    assert [e for e in effects if isinstance(e, act.Say | act.Ask)] == []
    assert woken.wake_at is not None


def test_a_contact_that_the_new_plan_leaves_out_is_not_made() -> None:
    life = a_life().live_until("day-2")
    content = edition_2(**{"day-3": {"on": False}})
    pair, _ = replanned(life.pair, content, life.now)
    while pair.wake_at is not None and not any(done.key == "day-4" for done in pair.contacts):
        pair, _ = follow(pair, act.Woke(), content, pair.wake_at)
    assert "day-3" not in {done.key for done in pair.contacts}


# ---------------------------------------------------------------- limits


def whole_life(language: str = "en") -> Life:
    """Six weeks of a mother whose answers are unclear, so that each question is asked twice."""
    life = a_life(language=language)
    while life.pair.wake_at is not None and life.now < life.pair.discharged_at + timedelta(days=45):
        if life.open_question is not None and life.replies < 400:
            life.reply("many")
        elif life.item is not None:
            life.close()
        else:
            life.wake()
    return life


@pytest.mark.parametrize("language", ["en", "ar"])
def test_at_most_four_texts_ask_her_on_one_day(language: str) -> None:
    life = whole_life(language)
    days = Counter(
        life.pair.local(at).date()
        for check_in in life.pair.check_ins
        for question in check_in.questions
        for at in (question.asked_at, question.asked_again_at)
        if at is not None
    )
    assert len(days) > 8
    assert max(days.values()) == 4


def test_what_she_did_not_ask_for_keeps_quiet_hours() -> None:
    life = whole_life()
    unasked = [
        effect
        for effect in life.effects
        if isinstance(effect, act.Say | act.Ask) and effect.priority in (Priority.reminder, Priority.rest)
    ]
    assert len(unasked) >= 15
    assert not [
        e.text_key
        for e in unasked
        if is_quiet(life.pair.local(e.send_after).time(), standard_content().schedule)
    ]


def test_an_answer_to_her_goes_at_once_by_night_too() -> None:
    life = a_life().wake_until("day-2")
    life.reply("no", timedelta(hours=16))
    (question,) = [e for e in life.last if isinstance(e, act.Ask)]
    assert (question.send_after, question.priority) == (life.now, Priority.answer)
    assert is_quiet(life.pair.local(life.now).time(), standard_content().schedule)


def test_no_text_is_made_twice_in_a_whole_life() -> None:
    keys = Counter(e.once_key for e in whole_life().effects if isinstance(e, act.Say | act.Ask))
    assert max(keys.values()) == 1


# ---------------------------------------------------------------- clocks


# Dates of the IANA time zone database: clocks went forward in Berlin on 29 March 2026 at 02:00, and back on
# 25 October 2026 at 03:00.
@pytest.mark.parametrize("born", [date(2026, 3, 26), date(2026, 10, 22)], ids=["short", "long"])
def test_across_a_change_of_clocks_she_is_asked_at_the_same_time_of_the_wall_clock(born: date) -> None:
    at = datetime.combine(born, time(6), ZoneInfo("Europe/Berlin"))
    site = a_site(zone="Europe/Berlin")
    life = a_life(
        babies=(a_baby(born_at=at, zone="Europe/Berlin"),), site=site, discharged_at=at + timedelta(hours=31)
    )
    for day in ("day-2", "day-3", "day-4", "day-5"):
        life.live_until(day)
    times = [life.pair.local(check_in.opened_at).time() for check_in in life.pair.check_ins]
    assert times == [time(8, 30)] * 4


# ---------------------------------------------------------------- twins


def test_of_twins_the_gravest_finding_leads_and_one_number_counts_for_both() -> None:
    life = twins().wake_until("day-2").reply("no").reply("5")
    assert life.item is not None
    assert {finding.baby for finding in life.item.findings} == {1, 2}
    life.staff(act.EnterAnswers({}, frozenset({"baby_hot"}), baby=2))
    assert life.item.urgency is Urgency.go_now
    assert {f.baby for f in life.item.findings if f.urgency is Urgency.go_now} == {2}


def test_a_sign_of_the_mother_of_twins_is_one_finding() -> None:
    life = twins().wake_until("day-2").reply("I am bleeding heavily")
    assert life.item is not None
    assert [f.baby for f in life.item.findings if f.urgency is Urgency.go_now] == [None]


def test_twins_are_asked_on_the_sixth_day_too() -> None:
    life = twins().wake_until("day-7")
    assert life.outcome("small-day-6") == "texted"
    assert {c.state for c in life.pair.check_ins} <= {CheckInState.expired, CheckInState.open}

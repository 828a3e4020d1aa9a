"""What is for today and nobody settles goes up; a graver danger never hides in an item that waits already."""

from __future__ import annotations

from datetime import timedelta

import pytest

from bot.core.escalation import News, join, rises_at
from bot.core.follow import events as act
from bot.core.follow.events import Raise
from bot.core.pair import Escalation
from bot.core.states import Urgency
from tests.support.life import COUNSELLOR, Life, a_life

DAY, MINUTE = timedelta(days=1), timedelta(minutes=1)


@pytest.fixture
def few_feeds() -> Life:
    """She counts 5 feeds on day 2: for today."""
    life = a_life().wake_until("day-2").answer("no", "5", "4")
    assert item_of(life).urgency is Urgency.same_day
    return life


def item_of(life: Life) -> Escalation:
    assert life.item is not None
    return life.item


def alerts(life: Life) -> list[Raise]:
    return [effect for effect in life.last if isinstance(effect, Raise)]


def wake_at_the_rise(life: Life) -> Life:
    due = rises_at(life.item)
    assert due is not None
    while life.now < due:
        life.wake()
    return life


def test_what_nobody_spoke_to_her_about_for_a_day_goes_up_with_a_due_time_of_its_own(few_feeds: Life) -> None:
    raised = item_of(few_feeds).raised_at
    wake_at_the_rise(few_feeds)
    item = item_of(few_feeds)
    assert few_feeds.now == raised + DAY
    assert (item.urgency, item.due_at) == (Urgency.go_now, few_feeds.now + 15 * MINUTE)
    assert {"feeds-4-or-5"} <= {f.rule for f in item.findings if f.risen_at == few_feeds.now}
    (alert,) = alerts(few_feeds)
    assert (alert.urgency, alert.due_at) == (Urgency.go_now, item.due_at)


def test_it_goes_up_once(few_feeds: Life) -> None:
    wake_at_the_rise(few_feeds)
    before = item_of(few_feeds)
    few_feeds.wake_for(days=1, hours=12)
    rose = [f for f in item_of(few_feeds).findings if f.risen_at == before.due_at - 15 * MINUTE]
    assert len(rose) == len([f for f in before.findings if f.risen_at])


def test_she_is_not_told_to_go_and_is_still_asked_when_only_nobody_called(few_feeds: Life) -> None:
    wake_at_the_rise(few_feeds)
    assert not [text for text in few_feeds.new_texts if "go-now" in text]
    few_feeds.wake_until("day-4")
    assert few_feeds.outcome("day-4") == "texted"


def test_who_was_spoken_to_waits_for_the_person(few_feeds: Life) -> None:
    few_feeds.staff(act.Spoke())
    assert rises_at(few_feeds.item) is None


def test_what_a_person_lowered_does_not_go_up(few_feeds: Life) -> None:
    few_feeds.staff(act.SetUrgency(Urgency.routine, "she was spoken to"))
    assert rises_at(few_feeds.item) is None


def test_what_was_taken_back_does_not_go_up(few_feeds: Life) -> None:
    for finding in item_of(few_feeds).findings:
        few_feeds.staff(act.WithdrawFinding(finding.rule, finding.baby, "misread"))
    assert rises_at(few_feeds.item) is None


def test_the_same_thing_said_again_a_day_after_somebody_spoke_to_her_goes_up(few_feeds: Life) -> None:
    few_feeds.staff(act.Spoke())
    few_feeds.reply("5 feeds", after=DAY)
    item = item_of(few_feeds)
    assert item.urgency is Urgency.go_now
    assert item.spoken_at is None
    assert item.due_at == few_feeds.now + 15 * MINUTE
    assert alerts(few_feeds)


def test_the_same_thing_said_again_within_the_day_does_not(few_feeds: Life) -> None:
    few_feeds.staff(act.Spoke())
    few_feeds.reply("5 feeds", after=timedelta(hours=20))
    assert item_of(few_feeds).urgency is Urgency.same_day


@pytest.mark.parametrize("taken", [False, True])
def test_a_danger_joining_an_overdue_item_has_its_own_due_time_and_is_alerted(
    few_feeds: Life, taken: bool
) -> None:
    if taken:
        few_feeds.staff(act.Take())
    few_feeds.reply("he has fits", after=timedelta(hours=6))
    item = item_of(few_feeds)
    assert (item.urgency, item.due_at) == (Urgency.go_now, few_feeds.now + 15 * MINUTE)
    assert item.taken_by == (COUNSELLOR if taken else None)
    (alert,) = alerts(few_feeds)
    assert alert.rules == ("baby-convulsions",)
    assert len(few_feeds.pair.escalations) == 1


def test_something_no_graver_never_moves_an_overdue_time_away(few_feeds: Life) -> None:
    item, later = item_of(few_feeds), few_feeds.now + timedelta(hours=6)
    after = join(item, [News("pain-severe", None, Urgency.same_day)], few_feeds.pair.id, later)
    assert after.due_at == item.due_at < later

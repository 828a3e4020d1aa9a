"""The review: booked, reminded of, moved, attended, missed; what follows from each."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from bot.core.errors import Conflict, NotFound
from bot.core.follow import events as act
from bot.core.states import ReviewState, Urgency
from tests.support.life import COUNSELLOR, Life, a_life
from tests.support.pairs import a_baby, a_site, an_assessment, an_id

REMINDERS = {"review-evening", "review-morning"}


def at_review(life: Life) -> Life:
    """Until the site opens on the day of the review."""
    return life.live_until("review-morning")


def weighed(life: Life, grams: int | None, **signs: Any) -> Life:
    return life.reviewed([an_assessment(life.now, occasion="review", weight_g=grams, **signs)])


def test_every_pair_has_a_review_two_days_after_discharge_with_a_reminder_before_and_on_the_day() -> None:
    life = a_life()
    assert life.pair.expected_review is not None
    assert life.pair.expected_review.on_day == date(2026, 3, 5)
    at_review(life)
    assert [key for key in life.texts if key in REMINDERS] == ["review-evening", "review-morning"]


def test_where_no_day_is_open_a_person_calls_instead() -> None:
    closed = frozenset(date(2026, 3, day) for day in range(3, 10))
    life = a_life(site=a_site(closed_days=closed))
    assert life.pair.expected_review is None
    assert "no_open_day" in life.rules
    assert life.item is not None
    assert life.item.urgency is Urgency.same_day


def test_after_a_move_she_is_reminded_of_the_new_day_once() -> None:
    life = a_life().live_until("day-2").staff(act.MoveReview(date(2026, 3, 6)))
    life.wake_for(days=3)
    assert [key for key in life.texts if key in REMINDERS] == ["review-evening", "review-morning"]


def test_moved_after_the_reminder_she_is_reminded_again() -> None:
    life = a_life().live_until("review-evening").staff(act.MoveReview(date(2026, 3, 6)))
    life.wake_for(days=1, hours=15)
    assert life.texts.count("review-evening") == 2
    assert life.texts.count("review-morning") == 1


def test_a_review_is_missed_when_the_site_closes_and_a_person_calls_today() -> None:
    life = a_life().live_until("review-morning").wake_for(hours=9)
    assert [review.state for review in life.pair.reviews] == [ReviewState.missed]
    assert "review-missed" in life.texts_since
    assert life.item is not None
    assert "missed_review" in life.rules
    assert life.item.urgency is Urgency.same_day
    closed = [e for e in life.effects if isinstance(e, act.Say) and e.text_key == "review-missed"]
    assert life.pair.local(closed[0].send_after).hour == 16


def test_who_comes_after_all_is_recorded_as_having_come() -> None:
    life = at_review(a_life())
    review = life.pair.expected_review
    assert review is not None
    life.reviewed(attended=False)
    life.happens(act.ReviewRecorded(COUNSELLOR, review.id, True), timedelta(hours=2))
    assert life.pair.reviews[0].state is ReviewState.attended
    assert life.withdrawn == ["review"]


def test_a_visit_is_recorded_once_and_only_for_this_pair() -> None:
    life = at_review(a_life())
    review = life.pair.expected_review
    assert review is not None
    life.reviewed()
    with pytest.raises(Conflict):
        life.happens(act.ReviewRecorded(COUNSELLOR, review.id, True))
    with pytest.raises(NotFound):
        life.happens(act.ReviewRecorded(COUNSELLOR, an_id("another"), True))


def test_a_review_that_finds_no_problem_sets_no_other() -> None:
    life = weighed(at_review(a_life()), 2900)
    assert life.pair.expected_review is None
    assert life.new_texts == []


# WHO IMCI chart booklet 2014, sick young infant: follow up a feeding problem in 2 days (from memory).
@pytest.mark.parametrize(
    "signs",
    [{"suckling": "not_effective"}, {"attachment_mouth": "no"}, {"position_neck": "no"}],
    ids=["suckling", "attachment", "position"],
)
def test_a_feeding_problem_is_seen_again_in_two_days(signs: dict[str, str]) -> None:
    life = weighed(at_review(a_life()), 2900, **signs)
    assert life.pair.expected_review is not None
    assert life.pair.expected_review.on_day == date(2026, 3, 7)
    assert life.pair.expected_review.kind == "feeding_problem"
    assert life.new_texts == ["review-next"]


def test_what_was_weighed_is_judged_with_the_rest() -> None:
    light, well = weighed(at_review(a_life()), 2500), weighed(at_review(a_life()), 2900)
    assert light.item is not None
    assert any("loss" in rule or "weight" in rule for rule in light.rules)
    assert well.item is None


def test_a_weight_of_a_baby_with_unknown_birth_weight_is_kept_and_judges_no_loss() -> None:
    life = weighed(at_review(a_life(babies=(a_baby(birth_weight_g=None),))), 2500)
    assert life.pair.assessments[-1].weight_g == 2500
    assert not {rule for rule in life.rules if "loss" in rule}


def at_fortnight(grams: int, **facts: Any) -> Life:
    """A girl of 2,500 g at birth who is weighed again at 14 days: -2 SD is 2653 g, -3 SD 2269 g (WHO Child
    Growth Standards 2006)."""
    life = at_review(a_life(babies=(a_baby(birth_weight_g=2500),)))
    life.reviewed().staff(act.MoveReview(date(2026, 3, 16)))
    life.wake_for(days=11)
    review = life.pair.expected_review
    assert review is not None
    seen = an_assessment(life.now, occasion="review", weight_g=grams)
    return life.happens(act.ReviewRecorded(COUNSELLOR, review.id, True, (seen,), **facts))


# Open University HEAT IMNCI Session 10 Table 10.2, and WHO IMCI chart booklet 2014 (from memory).
@pytest.mark.parametrize(
    ("grams", "said", "days", "kind"),
    [
        (2640, {}, 14, "low_weight"),
        (2640, {"thrush": (1, 1)}, 2, "feeding_problem"),
        (2640, {"feeds": (7, 7)}, 2, "feeding_problem"),
        (2300, {}, 2, "weight_loss"),  # 8 % below birth weight, at 14 days
    ],
)
def test_a_weight_and_what_she_says_set_the_nearest_day(grams, said, days, kind) -> None:
    life = at_fortnight(grams, said={1: said})
    review = life.pair.expected_review
    assert review is not None
    assert (review.kind, review.on_day) == (kind, date(2026, 3, 16) + timedelta(days=days))
    assert life.new_texts == ["review-next"]
    assert "weight-for-age-low" in life.rules


def test_what_was_said_at_a_review_is_kept_as_her_answers_and_judged() -> None:
    life = at_fortnight(2900, said={1: {"other_food": (1, 1), "thrush": (0, 0)}})
    assert [(a.key, a.high, a.by) for a in life.pair.answers if a.by] == [
        ("other_food", 1, COUNSELLOR), ("thrush", 0, COUNSELLOR),
    ]  # fmt: skip
    assert "other-food" in life.rules
    assert "thrush" not in life.rules


def test_in_danger_she_is_not_told_of_the_next_visit() -> None:
    life = weighed(at_review(a_life()), 2900, suckling="not_at_all")
    assert life.pair.expected_review is not None
    assert life.new_texts == []

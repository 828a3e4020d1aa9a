"""When mother and baby are seen again.

Two days for a feeding problem or thrush, fourteen for low weight: WHO IMCI chart booklet 2014, sick young
infant (from memory), and Open University HEAT IMNCI Session 10 Table 10.2 (seen in part). Which open day will
do, and that a first review waits 48 to 72 hours for one, is common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.content.rules import load_rules
from bot.content.source import content_root
from bot.core.pair import Answer
from bot.core.review import (
    first_review,
    late_after,
    next_review,
    seen_to_feed_well,
)
from bot.core.schedule import ReviewPolicy
from bot.core.states import BabyState
from tests.support.pairs import ZONE, a_baby, a_pair, a_review, a_site, an_assessment, an_id
from tests.support.schedules import a_schedule

VOCABULARY = load_rules(content_root()).vocabulary
DAY = timedelta(days=1)
EVERY_DAY = frozenset(range(7))
WEEKDAYS = frozenset(range(5))
REVIEWED = datetime(2026, 3, 5, 10, 20, tzinfo=ZoneInfo(ZONE))  # a Thursday


def wall(text: str, zone: str = ZONE) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(zone))


def an_answer(
    key: str, low: float | None, high: float | None, at: datetime = REVIEWED, **changes: Any
) -> Answer:
    answer = Answer(id=an_id("answer", key, at, low), key=key, baby=None, low=low, high=high, at=at)
    return replace(answer, **changes)


# ---------------------------------------------------------------- the first one


@pytest.mark.parametrize(
    ("discharged", "open_days", "closed", "on_day"),
    [
        pytest.param("2026-03-03 14:00", EVERY_DAY, [], "2026-03-05", id="48 hours later"),
        pytest.param(
            "2026-03-03 14:00", EVERY_DAY, ["2026-03-05"], "2026-03-06", id="closed: within 72 hours"
        ),
        pytest.param(
            "2026-03-06 14:00", frozenset(range(6)), [], "2026-03-09", id="Friday, Sunday closed: Monday"
        ),
        pytest.param(
            "2026-03-05 14:00", WEEKDAYS, [], "2026-03-06", id="Thursday, weekend closed: a day later"
        ),
        pytest.param(
            "2026-03-06 14:00", WEEKDAYS, [], "2026-03-09", id="Friday, weekend closed: 72 hours, Monday"
        ),
        pytest.param(
            "2026-03-06 14:00", WEEKDAYS, ["2026-03-09"], None, id="no open day from 24 to 72 hours"
        ),
        pytest.param("2026-03-03 14:00", frozenset({1}), [], None, id="open on the day of discharge only"),
    ],
)
def test_the_first_review_is_on_the_first_open_day_that_will_do(discharged, open_days, closed, on_day):
    site = a_site(open_days=open_days, closed_days=frozenset(map(date.fromisoformat, closed)))

    booking = first_review(a_pair(site=site, discharged_at=wall(discharged)), a_schedule())

    assert booking.on_day == (on_day and date.fromisoformat(on_day))
    assert (booking.at is None) is (on_day is None)
    assert booking.kind == "first"


@pytest.mark.parametrize(
    ("discharged", "at"),
    [("14:00", "14:00"), ("14:01", "15:00"), ("06:30", "08:00"), ("15:20", "15:00"), ("23:30", "15:00")],
)
def test_the_review_is_about_the_time_of_day_she_left_while_the_site_is_open(discharged, at):
    pair = a_pair(discharged_at=wall(f"2026-03-03 {discharged}"))

    assert first_review(pair, a_schedule()).at == time.fromisoformat(at)


def test_a_clock_change_in_the_night_does_not_move_the_day():
    left = wall("2026-03-28 00:30", "Europe/London")  # 48 elapsed hours would be 01:30 on the 30th, BST
    pair = a_pair(
        site=a_site(zone="Europe/London", open_days=EVERY_DAY), born_at=left - DAY, discharged_at=left
    )

    assert first_review(pair, a_schedule()).on_day == date(2026, 3, 30)
    autumn = wall("2026-10-24 23:30", "Europe/London")  # 48 elapsed hours would be 22:30 on the 26th
    assert first_review(replace(pair, discharged_at=autumn, enrolled_at=autumn), a_schedule()).on_day == date(
        2026, 10, 26
    )


@pytest.mark.parametrize(
    ("enrolled", "on_day"),
    [
        pytest.param("2026-03-04 20:00", "2026-03-05", id="in time"),
        pytest.param("2026-03-05 09:00", "2026-03-06", id="on the target day: the day after"),
        pytest.param("2026-03-10 09:00", "2026-03-11", id="a week late: the day after"),
        pytest.param("2026-03-07 09:00", "2026-03-09", id="the day after is a closed Sunday"),
    ],
)
def test_a_pair_enrolled_late_is_seen_from_the_day_after_on(enrolled, on_day):
    pair = a_pair(enrolled_at=wall(enrolled))

    assert first_review(pair, a_schedule()).on_day == date.fromisoformat(on_day)


LATER = a_schedule(review=ReviewPolicy(later_hours=96))


def test_later_is_for_pairs_seen_to_feed_well_and_only_where_the_schedule_says_so():
    pair = a_pair(site=a_site(open_days=EVERY_DAY))

    assert first_review(pair, a_schedule()).on_day == date(2026, 3, 5)
    assert first_review(pair, LATER).on_day == date(2026, 3, 7)


@pytest.mark.parametrize(
    "changes",
    [
        pytest.param({"assessments": ()}, id="nobody looked"),
        pytest.param({"assessments": (an_assessment(attachment_mouth="no"),)}, id="poor attachment"),
        pytest.param({"assessments": (an_assessment(position_neck="no"),)}, id="poor position"),
        pytest.param({"assessments": (an_assessment(suckling="not_effective"),)}, id="poor suckling"),
        pytest.param({"assessments": (an_assessment(attachment_chin="not_seen"),)}, id="a sign not seen"),
        pytest.param({"babies": [a_baby(birth_weight_g=2300)]}, id="low birth weight"),
        pytest.param({"babies": [a_baby(1), a_baby(2)]}, id="twins"),
    ],
)
def test_any_problem_or_doubt_keeps_the_early_review(changes):
    pair = a_pair(site=a_site(open_days=EVERY_DAY), **changes)

    assert not seen_to_feed_well(pair)
    assert first_review(pair, LATER).on_day == date(2026, 3, 5)


def test_the_latest_assessment_counts():
    poor, good = an_assessment(suckling="not_effective"), an_assessment(wall("2026-03-03 15:00"))

    assert seen_to_feed_well(a_pair(assessments=(good, poor)))


@given(
    st.sets(st.integers(0, 6)),
    st.sets(st.dates(date(2026, 3, 1), date(2026, 3, 20))),
    st.integers(0, 24 * 7),
    st.integers(0, 24 * 7),
)
def test_a_first_review_is_always_on_an_open_day_after_discharge_and_enrolment(open_days, closed, left, late):
    site = a_site(open_days=frozenset(open_days), closed_days=frozenset(closed))
    discharged = wall("2026-03-03 00:00") + left * timedelta(hours=1)
    pair = a_pair(site=site, discharged_at=discharged, enrolled_at=discharged + late * timedelta(hours=1))

    on_day = first_review(pair, a_schedule()).on_day

    known = pair.local(pair.enrolled_at).date()
    would_do = [known + n * DAY for n in range(1, 3)]
    if on_day is None:
        assert not any(site.is_open(day) for day in would_do)
    else:
        assert site.is_open(on_day)
        latest = max(pair.local(discharged).date() + 3 * DAY, known + 2 * DAY)
        assert known < on_day <= latest


# ---------------------------------------------------------------- the next one


def test_a_feeding_problem_sets_a_review_two_days_on():
    pair = a_pair()

    booking = next_review(
        pair, [an_assessment(REVIEWED, attachment_chin="no")], a_schedule(), VOCABULARY, REVIEWED
    )

    assert booking is not None
    assert (booking.on_day, booking.at, booking.kind) == (date(2026, 3, 7), time(11), "feeding_problem")
    assert "not well attached" in booking.why


def test_without_a_feeding_problem_no_review_follows():
    assert next_review(a_pair(), [an_assessment(REVIEWED)], a_schedule(), VOCABULARY, REVIEWED) is None
    assert next_review(a_pair(), [], a_schedule(), VOCABULARY, REVIEWED) is None


def test_a_problem_of_either_twin_sets_the_review_and_one_who_died_does_not():
    seen = [an_assessment(REVIEWED), an_assessment(REVIEWED, baby=2, suckling="not_effective")]

    assert (
        next_review(a_pair(babies=[a_baby(1), a_baby(2)]), seen, a_schedule(), VOCABULARY, REVIEWED)
        is not None
    )
    loss = a_pair(babies=[a_baby(1), a_baby(2, state=BabyState.died)])
    assert next_review(loss, seen, a_schedule(), VOCABULARY, REVIEWED) is None


@pytest.mark.parametrize(
    ("answer", "follows"),
    [
        pytest.param(
            an_answer("other_food", 1, 1, REVIEWED - 1.9 * DAY), True, id="the day before yesterday"
        ),
        pytest.param(an_answer("other_food", 1, 1, REVIEWED - 2 * DAY), False, id="two days old"),
        pytest.param(an_answer("other_food", 1, 1, baby=1), True, id="about this baby"),
        pytest.param(an_answer("other_food", 1, 1, baby=2), False, id="about a baby not there"),
    ],
)
def test_recent_answers_about_the_baby_count_at_a_review(answer, follows):
    pair = a_pair(answers=(answer,))

    assert (
        next_review(pair, [an_assessment(REVIEWED)], a_schedule(), VOCABULARY, REVIEWED) is not None
    ) is follows


@pytest.mark.parametrize(
    ("open_days", "on_day"),
    [(WEEKDAYS, "2026-03-06"), (frozenset({6}), "2026-03-08"), (frozenset({0, 3}), None)],
)
def test_the_next_review_keeps_open_days_like_the_first(open_days, on_day):
    pair = a_pair(site=a_site(open_days=open_days))

    booking = next_review(
        pair, [an_assessment(REVIEWED, suckling="not_at_all")], a_schedule(), VOCABULARY, REVIEWED
    )

    assert booking is not None
    assert booking.on_day == (on_day and date.fromisoformat(on_day))


LOW: dict[str, Any] = {"babies": [a_baby(sex="male", birth_weight_g=2600)]}
FORTNIGHT = datetime(2026, 3, 16, 10, 20, tzinfo=ZoneInfo(ZONE))  # a Monday, 14 days old


@pytest.mark.parametrize(
    ("pair", "seen", "losing", "expected"),
    [
        # Boy of 14 days: 2790 g is z -2.02, 2800 g is -1.99 (WHO Child Growth Standards 2006).
        pytest.param(LOW, {"weight_g": 2790}, (), ("2026-03-30", "low_weight"), id="low: 14 days"),
        pytest.param(LOW, {"weight_g": 2800}, (), None, id="just not low"),
        pytest.param(
            LOW, {"weight_g": 2790, "attachment_chin": "no"}, (), ("2026-03-18", "feeding_problem"),
            id="low and a feeding problem: the nearer",
        ),
        pytest.param(LOW, {}, (1,), ("2026-03-18", "weight_loss"), id="a loss to weigh again: 2 days"),
        pytest.param(
            LOW, {"weight_g": 2790}, (1,), ("2026-03-18", "weight_loss"), id="low and lost: the nearer"
        ),
        pytest.param({}, {}, (2,), None, id="a loss of a baby that is not followed"),
    ],
)  # fmt: skip
def test_what_was_found_sets_the_day(pair, seen, losing, expected):
    booking = next_review(
        a_pair(site=a_site(open_days=EVERY_DAY), **pair),
        [an_assessment(FORTNIGHT, **seen)],
        a_schedule(),
        VOCABULARY,
        FORTNIGHT,
        losing,
    )

    assert (booking and (str(booking.on_day), booking.kind)) == expected


def test_a_loss_is_weighed_again_on_an_open_day_before_rather_than_after():
    """24 to 48 hours: Toronto Public Health (seen in part)."""
    closed = frozenset({date(2026, 3, 18)})
    pair = a_pair(site=a_site(open_days=EVERY_DAY, closed_days=closed))
    seen = [an_assessment(FORTNIGHT)]

    lost = next_review(pair, seen, a_schedule(), VOCABULARY, FORTNIGHT, {1})
    poor = next_review(
        pair, [an_assessment(FORTNIGHT, suckling="not_effective")], a_schedule(), VOCABULARY, FORTNIGHT
    )

    assert lost is not None
    assert poor is not None
    assert (lost.on_day, poor.on_day) == (date(2026, 3, 17), date(2026, 3, 19))


def test_the_reason_names_everything_that_was_found():
    pair = a_pair(**LOW, answers=(an_answer("thrush", 1, 1, FORTNIGHT),))

    booking = next_review(
        pair, [an_assessment(FORTNIGHT, weight_g=2790)], a_schedule(), VOCABULARY, FORTNIGHT
    )

    assert booking is not None
    assert booking.why == "Found at the review: feeding problem (thrush); low weight for age."


# ---------------------------------------------------------------- missed


def test_an_expected_review_is_missed_when_the_site_closes_that_day():
    assert late_after(a_review(date(2026, 3, 5), time(14)), a_site()) == wall("2026-03-05 16:00")
    assert late_after(a_review(date(2026, 3, 5)), a_site()).tzinfo is UTC
    after_hours = a_review(date(2026, 3, 5), time(17))
    assert late_after(after_hours, a_site()) == wall("2026-03-05 17:00")
    summer = a_site(zone="Europe/London")
    assert late_after(a_review(date(2026, 3, 30)), summer) == datetime(2026, 3, 30, 15, tzinfo=UTC)

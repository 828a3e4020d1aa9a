"""When somebody is there, minute by minute of a week."""

from __future__ import annotations

from datetime import UTC, datetime, time
from zoneinfo import ZoneInfo

from hypothesis import given, settings
from hypothesis import strategies as st

from bot.cohort.assumed import Shift
from bot.cohort.shifts import WEEK_MINUTES, Shifts
from bot.content.site_cover import DAYS

TZ = ZoneInfo("Africa/Nairobi")
HOUR = 60


def shifts(*rows: tuple[str, int, int]) -> Shifts:
    made = [{"days": (day,), "from": time(since), "until": time(until)} for day, since, until in rows]
    return Shifts([Shift.model_validate(each) for each in made], TZ)


def test_a_night_of_sunday_reaches_into_monday():
    night = shifts(("sunday", 20, 6))
    assert [night.wait_at(minute) for minute in (0, 6 * HOUR - 1)] == [0, 0]
    assert night.wait_at(6 * HOUR) == (6 * 24 + 20 - 6) * HOUR
    assert night.hours_a_week == 10


def test_shifts_that_overlap_count_once():
    assert shifts(("monday", 8, 14), ("monday", 12, 18)).hours_a_week == 10


def test_equal_times_are_a_whole_day():
    assert shifts(("monday", 8, 8)).hours_a_week == 24
    assert Shifts.always(TZ).hours_a_week == 7 * 24


def test_an_instant_is_looked_at_by_the_clock_of_the_site():
    monday_five_in_utc = datetime(2026, 3, 2, 4, 30, tzinfo=UTC)  # half past seven in Nairobi
    assert shifts(("monday", 8, 18)).wait(monday_five_in_utc) == 30


ROWS = st.lists(
    st.tuples(st.sampled_from(DAYS), st.integers(0, 23), st.integers(0, 23)), min_size=1, max_size=4
)


@settings(max_examples=30, deadline=None)
@given(ROWS, st.integers(0, WEEK_MINUTES - 1))
def test_after_the_wait_somebody_is_there_and_not_before(rows, minute):
    week = shifts(*rows)
    wait = week.wait_at(minute)
    assert week.wait_at(minute + wait) == 0
    assert all(week.wait_at(minute + earlier) > 0 for earlier in range(0, wait, 7))

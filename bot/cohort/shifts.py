"""When counsellors are there: the shifts of a week at a site, as intervals of minutes from Monday, local
time."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from bot.cohort.assumed import Shift
from bot.content.site_cover import DAYS

DAY_MINUTES = 24 * 60
WEEK_MINUTES = 7 * DAY_MINUTES


class Shifts:
    """Overlapping shifts count once: the same people are there."""

    def __init__(self, shifts: Sequence[Shift], tz: ZoneInfo) -> None:
        self._tz = tz
        spans = sorted(
            (day * DAY_MINUTES + shift.start.hour * 60 + shift.start.minute, int(shift.length / _MINUTE))
            for shift in shifts
            for day in shift.weekdays
        )
        there = bytearray(2 * WEEK_MINUTES)
        for begin, length in spans:
            for week in (0, WEEK_MINUTES):
                end = min(begin + week + length, 2 * WEEK_MINUTES)
                there[begin + week : end] = b"\1" * (end - begin - week)
            over = begin + length - WEEK_MINUTES  # what Sunday's night shift brings into Monday
            if over > 0:
                there[:over] = b"\1" * over
        self._there = bytes(there[:WEEK_MINUTES])
        self._wait = _waits(self._there)

    @classmethod
    def always(cls, tz: ZoneInfo) -> Shifts:
        """Somebody is there day and night."""
        whole_day = {"days": DAYS, "from": time(0), "until": time(0)}
        return cls([Shift.model_validate(whole_day)], tz)

    @property
    def hours_a_week(self) -> float:
        return sum(self._there) / 60

    def wait(self, at: datetime) -> int:
        """Minutes from `at` until somebody is there; 0 in a shift."""
        return self._wait[_of_week(at.astimezone(self._tz))]

    def wait_at(self, minute_of_week: int) -> int:
        return self._wait[minute_of_week % WEEK_MINUTES]

    def on_until(self, minute_of_week: int) -> int:
        """Minutes from there to the end of the shift; 0 outside, a week where there is no end."""
        end = self._there.find(b"\0", minute_of_week)
        if end < 0:
            end = self._there.find(b"\0")
            return WEEK_MINUTES if end < 0 else WEEK_MINUTES - minute_of_week + end
        return end - minute_of_week


_MINUTE = timedelta(minutes=1)


def _of_week(local: datetime) -> int:
    return local.weekday() * DAY_MINUTES + local.hour * 60 + local.minute


def _waits(there: bytes) -> tuple[int, ...]:
    waits, wait = [0] * WEEK_MINUTES, WEEK_MINUTES
    for minute in reversed(range(2 * WEEK_MINUTES)):
        wait = 0 if there[minute % WEEK_MINUTES] else wait + 1
        if minute < WEEK_MINUTES:
            waits[minute] = wait
    return tuple(waits)

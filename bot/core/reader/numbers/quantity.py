"""One amount: what number, how sure, and of what kind."""

import math
from dataclasses import dataclass, field

from bot.core.reader.types import Reason

HOURS_A_DAY = 24


@dataclass(slots=True)
class Quantity:
    """One amount at tokens start..end-1.

    kind     count, or what it is instead: temperature (in low, degrees C), clock, minutes, duration, day,
             weight, dose, age, money, phone, date, share (percent)
    parts    the two numbers of '6,5' or '7/10', when it can be read as two
    notes, reasons   as in a Reading
    """

    low: float | None
    high: float | None
    start: int
    end: int
    kind: str = "count"
    notes: set[str] = field(default_factory=set)
    reasons: set[Reason] = field(default_factory=set)
    parts: tuple[float, ...] = ()
    sep: str = ""
    daypart: str = ""
    spoken: bool = False  # in words, not digits
    counted: bool = False  # 'times' stands beside it

    @property
    def value(self) -> float | None:
        """The number, where it is one."""
        return self.low if self.low == self.high else None


def per_day(q: Quantity) -> None:
    """Every 3 hours is 8 times a day; every 2 to 3 hours is 8 to 12; every 5 hours is 4 or 5."""
    low, high = q.low or q.high, q.high or q.low
    q.kind = "count"
    q.notes.add("interval")
    if not low or not high or low < 0.25:
        q.low = q.high = None
        q.reasons.add(Reason.SEVERAL_READINGS)
        return
    q.low, q.high = float(math.floor(HOURS_A_DAY / high)), float(math.ceil(HOURS_A_DAY / low))
    if low <= 1:  # every hour: said of restless babies, seldom meant as 24
        q.reasons.add(Reason.SEVERAL_READINGS)

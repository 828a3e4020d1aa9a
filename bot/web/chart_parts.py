"""What each strip of the chart is made of: the axis of days, marks, and words that keep clear of others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from bot.core.pair import Baby, Pair

WIDTH, SIDE, LABEL = 360, 16, 20
LETTER = 6  # a figure of the chart's type is about so wide


@dataclass(frozen=True, slots=True)
class Mark:
    """One value. `top` and `foot` are the ends of a range; `short` when it is worse than expected. `words`
    stand at the mark where there is room, `told` in the table."""

    day: int
    x: float
    y: float
    top: float
    foot: float
    words: str
    told: str
    short: bool
    expected: str
    anchor: str


@dataclass(frozen=True, slots=True)
class Axis:
    """Days of life from 0 to `last`, from the left, or `flipped` from the right."""

    last: int
    flipped: bool

    def x(self, day: float) -> float:
        at = SIDE + (WIDTH - 2 * SIDE) * day / self.last
        return round(WIDTH - at if self.flipped else at, 1)

    def anchor(self, day: int, words: str) -> str:
        """How words stand to a mark: in its middle, or inward where they would leave the axis."""
        place, half = self.x(day), LETTER * len(words) / 2
        return "start" if place - half < SIDE else "end" if place + half > WIDTH - SIDE else "middle"


def age(pair: Pair, baby: Baby, at: datetime) -> int:
    """Give the age in days, as the difference of local dates."""
    return max(0, (pair.local(at).date() - baby.born_on).days)


def without_crowding(marks: Sequence[Mark]) -> tuple[Mark, ...]:
    """Leave out the words of marks that stand too near to others: what is worse than expected keeps its words
    first, then the newest."""
    taken: list[tuple[float, float]] = []
    silent = set()
    for mark in sorted(marks, key=lambda each: (not each.short, -each.day)):
        left, right = _reach(mark)
        if any(left < end and begin < right for begin, end in taken):
            silent.add(mark)
        else:
            taken.append((left, right))
    return tuple(replace(mark, words="") if mark in silent else mark for mark in marks)


def _reach(mark: Mark) -> tuple[float, float]:
    width = LETTER * len(mark.words)
    left = mark.x - {"start": 0, "middle": width / 2, "end": width}[mark.anchor]
    return left, left + width

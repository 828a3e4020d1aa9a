"""What a weight says beside the weights before it and beside the standard: plain numbers in, changes, doubts
and z-scores out. Grams and days.

The cuts of a doubt ask only whether a weight can be what the scale showed; what a loss means is for rules.
The standard is the WHO Child Growth Standards' weight-for-age by day, which comes in as a table. A z-score is
worked out as in its report (WHO Child Growth Standards: methods and development, 2006, chapter 7): beyond
three standard deviations the distance is measured in the last one. Age is the difference of dates; birth is
on day 0.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from itertools import pairwise

# Impossible below and above, on the day of birth and later. Common practice, no source.
AT_BIRTH_G = (400, 7000)
LATER_G = (300, 15000)
# Perhaps a slip of the pen: a change beyond this share of the weight before, or, where that was longer ago,
# a gain beyond so much a day (twice the upper end of 20 to 35 g a day, Grey Bruce Health). Common practice.
UNUSUAL_SHARE = 0.15
UNUSUAL_GAIN_G_A_DAY = 70

# Low weight for age: below -2 (WHO; IMCI chart booklet 2014, from memory), very low below -3. Flagged as no
# plausible weight for that age: below -6 or above 5 (the WHO code, seen).
LOW, VERY_LOW = -2.0, -3.0
PLAUSIBLE = (-6.0, 5.0)
TERM_WEEKS, PRETERM_UNDER_WEEKS = 40, 37


@dataclass(frozen=True, slots=True)
class Weight:
    """A weight on a local day. `at_birth` marks the birth weight."""

    on: date
    grams: int
    at_birth: bool = False


@dataclass(frozen=True, slots=True)
class Change:
    """From an earlier weight to a later one: grams and per cent of the earlier, below zero for a loss."""

    since: Weight
    grams: int
    percent: float
    days: int


@dataclass(frozen=True, slots=True)
class Point:
    """The standard at one age: power (L), median (M) in grams and spread (S) of weights."""

    power: float
    median: float
    spread: float

    def z_score(self, grams: float) -> float:
        """Tell how many standard deviations a weight lies from the median."""
        z = (math.pow(grams / self.median, self.power) - 1) / (self.power * self.spread)
        if z > 3:
            return 3 + (grams - self.grams(3)) / (self.grams(3) - self.grams(2))
        if z < -3:
            return -3 + (grams - self.grams(-3)) / (self.grams(-2) - self.grams(-3))
        return z

    def grams(self, z: float) -> float:
        """Give the weight at a z-score from -3 to 3."""
        return self.median * math.pow(1 + self.power * self.spread * z, 1 / self.power)


Standard = Mapping[str, Sequence[Point]]  # female, male -> the point of each day of age from 0


class ForAge(StrEnum):
    """Where a weight stands among those of its age."""

    very_low = "very_low"
    low = "low"
    not_low = "not_low"


@dataclass(frozen=True, slots=True)
class Standing:
    """A weight beside the standard. `z` has two decimals, as the WHO code gives it. `days` is the age at
    which it was looked up, `corrected` where the baby came early."""

    z: float
    days: int
    corrected: bool

    @property
    def for_age(self) -> ForAge:
        return ForAge.very_low if self.z < VERY_LOW else ForAge.low if self.z < LOW else ForAge.not_low

    @property
    def plausible(self) -> bool:
        """False: weight, sex or date of birth may be wrong; a person checks them."""
        return PLAUSIBLE[0] <= self.z <= PLAUSIBLE[1]


class Doubt(StrEnum):
    """Why a weight is refused (impossible) or asked about once more (the other two)."""

    impossible = "impossible"
    loss = "loss"
    gain = "gain"


def change(before: Weight, grams: int, on: date) -> Change:
    """Give the change from `before` to `grams` on the day `on`."""
    difference = grams - before.grams
    return Change(before, difference, 100 * difference / before.grams, (on - before.on).days)


def changes(known: Iterable[Weight], grams: int, on: date) -> tuple[Change | None, Change | None]:
    """Give the change since birth and since the last weight; None where there is none, and where the last
    weight is the birth weight the second is None."""
    before = sorted((w for w in known if w.on <= on), key=lambda w: (w.on, not w.at_birth))
    birth = next((w for w in before if w.at_birth), None)
    last = before[-1] if before else None
    return (
        change(birth, grams, on) if birth else None,
        change(last, grams, on) if last and last is not birth else None,
    )


def doubt(grams: int, on: date, born_on: date, known: Iterable[Weight]) -> Doubt | None:
    """Say what is doubtful about a weight taken on the day `on`, None when nothing is."""
    least, most = AT_BIRTH_G if on <= born_on else LATER_G
    if not least <= grams <= most:
        return Doubt.impossible
    since_birth, since_last = changes(known, grams, on)
    latest = since_last or since_birth
    if latest is None:
        return None
    share = UNUSUAL_SHARE * latest.since.grams
    if -latest.grams > share:
        return Doubt.loss
    if latest.grams > max(share, UNUSUAL_GAIN_G_A_DAY * latest.days):
        return Doubt.gain
    return None


def limits(on: date, born_on: date) -> tuple[int, int]:
    """Give the least and the most grams that are possible on that day."""
    return AT_BIRTH_G if on <= born_on else LATER_G


def gain_a_day(before: Weight, after: Weight) -> float | None:
    """Give the grams a day from one weight to a later one, below zero for a loss; None within one day."""
    days = (after.on - before.on).days
    return (after.grams - before.grams) / days if days > 0 else None


def regained(weights: Iterable[Weight]) -> Weight | None:
    """Give the first weight that is the birth weight again after a loss: it was regained by then, not before
    the weighing that still showed a loss. None: no loss was seen, not regained, or no birth weight."""
    inorder = sorted(weights, key=lambda w: (w.on, not w.at_birth))
    birth = next((w for w in inorder if w.at_birth), None)
    if birth is None:
        return None
    return next((b for a, b in pairwise(inorder) if a.grams < birth.grams <= b.grams), None)


def standard_age(age_days: int, gestation_weeks: float | None) -> int | None:
    """Give the age at which the standard is read: that of the calendar, or of a baby born before 37 weeks the
    age corrected to 40, None before that. An unknown length of pregnancy counts as term, as in the IMCI
    guideline. Source: common practice, from memory; days are rounded to whole ones."""
    if gestation_weeks is None or gestation_weeks >= PRETERM_UNDER_WEEKS:
        return age_days
    corrected = age_days - round(7 * (TERM_WEEKS - gestation_weeks))
    return corrected if corrected >= 0 else None


def point_at(
    standard: Standard, sex: str | None, age_days: int, gestation_weeks: float | None
) -> Point | None:
    """Give the standard at an age; None where the sex is unknown, before term, and beyond the table."""
    points = standard.get(sex or "", ())
    days = standard_age(age_days, gestation_weeks)
    return points[days] if days is not None and days < len(points) else None


def standing(
    standard: Standard, sex: str | None, grams: float, age_days: int, gestation_weeks: float | None
) -> Standing | None:
    """Set a weight beside the standard. None: see `point_at`."""
    point = point_at(standard, sex, age_days, gestation_weeks)
    days = standard_age(age_days, gestation_weeks)
    if point is None or days is None:
        return None
    return Standing(round(point.z_score(grams), 2), days, days != age_days)

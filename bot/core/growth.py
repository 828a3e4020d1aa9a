"""What a weight says beside the weights before it: plain numbers in, changes and doubts out. Grams and days.

The cuts here ask only whether a weight can be what the scale showed; what a loss means is for the rules.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

# Impossible below and above, on the day of birth and later. Common practice, no source.
AT_BIRTH_G = (400, 7000)
LATER_G = (300, 15000)
# Perhaps a slip of the pen: a change beyond this share of the weight before, or, where that was longer ago,
# a gain beyond so much a day (twice the upper end of 20 to 35 g a day, Grey Bruce Health). Common practice.
UNUSUAL_SHARE = 0.15
UNUSUAL_GAIN_G_A_DAY = 70


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

"""Answers by day of life as a drawing, one strip for each measure over one axis of days, and as a table.

A pair, one of its babies and the rules come in; strips with coordinates go out, which the page draws as SVG.
Values below what is expected differ in shape and weight, not in colour alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import floor

from bot.core.expected import least_expected, most_expected
from bot.core.pair import Answer, Baby, Pair
from bot.core.triage_rules import RuleSet
from bot.web.formats import number
from bot.web.labels import amount
from bot.web.story import weight_change
from bot.web.words import _, lazy

WIDTH, STRIP, SIDE, LABEL = 360, 46, 16, 20
SHORTEST = 7  # days that the axis shows at least

# key of the answer, axis of the rules, whether more is expected (else less), words of the strip
MEASURES = (
    ("feeds", "feeds_few", True, lazy("Feeds in 24 hours")),
    ("wet_nappies", "wet_nappies", True, lazy("Wet nappies in 24 hours")),
    ("dirty_nappies", "dirty_nappies", True, lazy("Dirty nappies in 24 hours")),
    ("pain", "pain", False, lazy("Pain when feeding, 0 to 10")),
)


@dataclass(frozen=True, slots=True)
class Mark:
    """One value. `top` and `foot` are the ends of a range; `short` when it is worse than expected."""

    day: int
    x: float
    y: float
    top: float
    foot: float
    words: str
    short: bool
    expected: str
    anchor: str  # how the words stand to the mark: those at an end of the axis grow inward


@dataclass(frozen=True, slots=True)
class Strip:
    """One measure. `line` are the points of what is expected, as SVG writes them; `base` is the foot."""

    name: str
    expected: str
    y: float
    base: float
    line: str
    marks: tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class Chart:
    title: str
    height: float
    ticks: tuple[tuple[float, int], ...]
    strips: tuple[Strip, ...]
    flipped: bool


def chart(pair: Pair, baby: Baby, rules: RuleSet, now: datetime, *, flipped: bool) -> Chart | None:
    """Draw a baby's answers and weights; None when there is nothing to draw. `flipped` for right to left."""
    last = max(SHORTEST, _age(pair, baby, now))
    axis = _Axis(last, flipped)
    strips: list[Strip] = []
    for key, rule_axis, more, name in MEASURES:
        values = list(_values(pair, baby, key))
        if values:
            top = (len(strips)) * (STRIP + LABEL)
            strips.append(_strip(axis, top, _(name), values, _Bound(rules, rule_axis, more), pair, baby, now))
    weights = _weight_strip(axis, len(strips) * (STRIP + LABEL), pair, baby)
    if weights is not None:
        strips.append(weights)
    if not strips:
        return None
    step = max(1, round(last / 7))
    ticks = tuple((axis.x(day), day) for day in range(0, last + 1, step))
    return Chart(baby.name or "", len(strips) * (STRIP + LABEL) + LABEL, ticks, tuple(strips), flipped)


@dataclass(frozen=True, slots=True)
class _Axis:
    last: int
    flipped: bool

    def x(self, day: float) -> float:
        at = SIDE + (WIDTH - 2 * SIDE) * day / self.last
        return round(WIDTH - at if self.flipped else at, 1)

    def anchor(self, day: int) -> str:
        place = self.x(day)
        return "start" if place < 3 * SIDE else "end" if place > WIDTH - 3 * SIDE else "middle"


@dataclass(frozen=True, slots=True)
class _Bound:
    """What the rules expect on a day of life."""

    rules: RuleSet
    axis: str
    more: bool

    def at(self, k: int) -> float | None:
        find = least_expected if self.more else most_expected
        return find(self.rules, self.axis, k)

    def is_short(self, answer: Answer, k: int) -> bool:
        expected = self.at(k)
        if expected is None:
            return False
        if self.more:
            worst = answer.low if answer.low is not None else answer.high
            return worst is not None and worst < expected
        worst = answer.high if answer.high is not None else answer.low
        return worst is not None and worst > expected

    def words(self, k: int) -> str:
        expected = self.at(k)
        if expected is None:
            return ""
        return amount(expected, None) if self.more else amount(None, expected)


def _strip(
    axis: _Axis,
    top: float,
    name: str,
    values: Sequence[Answer],
    bound: _Bound,
    pair: Pair,
    baby: Baby,
    now: datetime,
) -> Strip:
    base = top + LABEL + STRIP - 8
    most = max([8.0, *(v for a in values for v in (a.low, a.high) if v is not None)])

    def y(value: float) -> float:
        return round(base - (STRIP - 22) * value / most, 1)

    marks = []
    for answer in values:
        day, k = _age(pair, baby, answer.at), day_of_life(pair, baby, answer.at)
        low = answer.low if answer.low is not None else 0.0
        high = answer.high if answer.high is not None else max(most, low)
        point = answer.low if answer.low is not None else answer.high or 0.0
        words = amount(answer.low, answer.high)
        short = bound.is_short(answer, k)
        marks.append(
            Mark(day, axis.x(day), y(point), y(high), y(low), words, short, bound.words(k), axis.anchor(day))
        )
    steps = [(day, bound.at(day)) for day in range(axis.last + 1)]
    line = " ".join(f"{axis.x(day)},{y(value)}" for day, value in steps if value is not None)
    expected = bound.words(max(day_of_life(pair, baby, now), 1))
    said = _("expected now: %(amount)s", amount=expected) if expected else ""
    return Strip(name, said, top, base, line, tuple(marks))


def _weight_strip(axis: _Axis, top: float, pair: Pair, baby: Baby) -> Strip | None:
    born = [(0, baby.birth_weight_g)] if baby.birth_weight_g else []
    weighed = born + [
        (_age(pair, baby, seen.at), seen.weight_g)
        for seen in sorted(pair.assessments, key=lambda each: each.at)
        if seen.baby == baby.ordinal and seen.weight_g is not None
    ]
    if len(weighed) < 2:
        return None
    base = top + LABEL + STRIP - 8
    grams = [g for _day, g in weighed]
    low, high = min(grams), max(grams)

    def y(value: float) -> float:
        return round(base - (STRIP - 22) * (value - low) / max(1, high - low), 1)

    marks = []
    for day, g in weighed:
        change = weight_change(baby, g)
        words = number(g) if change is None or not day else f"{g} ({change:+.1f} %)"
        marks.append(Mark(day, axis.x(day), y(g), y(g), y(g), words, False, "", axis.anchor(day)))
    line = " ".join(f"{mark.x},{mark.y}" for mark in marks)
    return Strip(_("Weight in grams"), "", top, base, line, tuple(marks))


def _values(pair: Pair, baby: Baby, key: str) -> Iterator[Answer]:
    """The standing answer of each day, by time."""
    by_day: dict[int, Answer] = {}
    for answer in sorted(pair.answers, key=lambda each: each.at):
        mine = answer.baby in (None, baby.ordinal)
        if mine and answer.key == key and answer.superseded_by is None:
            by_day[_age(pair, baby, answer.at)] = answer
    yield from by_day.values()


def _age(pair: Pair, baby: Baby, at: datetime) -> int:
    return max(0, (pair.local(at).date() - baby.born_on).days)


def day_of_life(pair: Pair, baby: Baby, at: datetime) -> int:
    """Give k: the day of life that holds most of the 24 hours before `at` (1 is the first)."""
    if baby.born_at is None:
        return _age(pair, baby, at)
    return max(0, floor((at - baby.born_at) / timedelta(days=1) + 0.5))

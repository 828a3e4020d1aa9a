"""Answers and weights by day of life as a drawing, one strip for each measure over one axis of days, and as a
table.

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
from bot.web.chart_growth import Growth, growth
from bot.web.chart_parts import LABEL, Axis, Mark, age, without_crowding
from bot.web.labels import amount
from bot.web.words import _, lazy

STRIP = 46
SHORTEST = 7  # days that the axis shows at least

# key of the answer, axis of the rules, whether more is expected (else less), words of the strip
MEASURES = (
    ("feeds", "feeds_few", True, lazy("Feeds in 24 hours")),
    ("wet_nappies", "wet_nappies", True, lazy("Wet nappies in 24 hours")),
    ("dirty_nappies", "dirty_nappies", True, lazy("Dirty nappies in 24 hours")),
    ("pain", "pain", False, lazy("Pain when feeding, 0 to 10")),
)


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
    growth: Growth | None
    flipped: bool


def chart(pair: Pair, baby: Baby, rules: RuleSet, now: datetime, *, flipped: bool) -> Chart | None:
    """Draw a baby's answers and weights; None when there is nothing to draw. `flipped` for right to left."""
    last = max(SHORTEST, age(pair, baby, now))
    axis = Axis(last, flipped)
    strips: list[Strip] = []
    for key, rule_axis, more, name in MEASURES:
        values = list(_values(pair, baby, key))
        if values:
            top = (len(strips)) * (STRIP + LABEL)
            strips.append(_strip(axis, top, _(name), values, _Bound(rules, rule_axis, more), pair, baby, now))
    height: float = len(strips) * (STRIP + LABEL)
    weights = growth(axis, height, pair, baby, rules.vocabulary)
    if not strips and weights is None:
        return None
    height += weights.height if weights else 0
    step = max(1, round(last / 7))
    ticks = tuple((axis.x(day), day) for day in range(0, last + 1, step))
    return Chart(baby.name or "", height + LABEL, ticks, tuple(strips), weights, flipped)


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
    axis: Axis,
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
        return round(base - (STRIP - 28) * value / most, 1)

    marks = []
    for answer in values:
        day, k = age(pair, baby, answer.at), day_of_life(pair, baby, answer.at)
        low = answer.low if answer.low is not None else 0.0
        high = answer.high if answer.high is not None else max(most, low)
        point = answer.low if answer.low is not None else answer.high or 0.0
        words = amount(answer.low, answer.high)
        short = bound.is_short(answer, k)
        marks.append(
            Mark(
                day=day,
                x=axis.x(day),
                y=y(point),
                top=y(high),
                foot=y(low),
                words=words,
                told=words,
                short=short,
                expected=bound.words(k),
                anchor=axis.anchor(day, words),
            )
        )
    steps = [(day, bound.at(day)) for day in range(axis.last + 1)]
    line = " ".join(f"{axis.x(day)},{y(value)}" for day, value in steps if value is not None)
    expected = bound.words(max(day_of_life(pair, baby, now), 1))
    said = _("expected now: %(amount)s", amount=expected) if expected else ""
    return Strip(name, said, top, base, line, without_crowding(marks))


def _values(pair: Pair, baby: Baby, key: str) -> Iterator[Answer]:
    """The standing answer of each day, by time."""
    by_day: dict[int, Answer] = {}
    for answer in sorted(pair.answers, key=lambda each: each.at):
        mine = answer.baby in (None, baby.ordinal)
        if mine and answer.key == key and answer.superseded_by is None:
            by_day[age(pair, baby, answer.at)] = answer
    yield from by_day.values()


def day_of_life(pair: Pair, baby: Baby, at: datetime) -> int:
    """Give k: the day of life that holds most of the 24 hours before `at` (1 is the first)."""
    if baby.born_at is None:
        return age(pair, baby, at)
    return max(0, floor((at - baby.born_at) / timedelta(days=1) + 0.5))

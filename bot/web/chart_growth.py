"""A baby's weights over the bands of the WHO standard: a pair and a baby come in, coordinates go out.

The bands are drawn from birth, or for a baby born before 37 weeks from 40 weeks on, by corrected age. Without
its sex there are none.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil, floor

from bot.core.facts import Vocabulary
from bot.core.growth import ForAge, Point, point_at, standard_age, standing
from bot.core.pair import Baby, Pair
from bot.web.chart_parts import LABEL, Axis, Mark, age, without_crowding
from bot.web.formats import number
from bot.web.labels import amount
from bot.web.story import weight_change
from bot.web.words import _

PLOT = 160  # height of the strip below its name
ROOM = 14  # what of it is left for the words of the highest mark
END = 9  # from the last day to the words of a curve
UNIT_G = 1000
LOWEST, LOW, MEDIAN, HIGH = -3, -2, 0, 2  # the bands, in z-scores

Weighed = tuple[int, int]  # age in days, grams


@dataclass(frozen=True, slots=True)
class Curve:
    """One z-score over the days: points as SVG writes them, and its words at the newest end."""

    z: int
    words: str
    points: str
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Growth:
    """The strip of weights. `shade` outlines what lies from -2 to 2, empty where there are no bands; `grid`
    are whole kilograms; `line` joins the weights; `corrected`: the bands are those of the corrected age."""

    y: float
    base: float
    height: float
    shade: str
    curves: tuple[Curve, ...]
    grid: tuple[tuple[float, str], ...]
    grid_x: float
    line: str
    marks: tuple[Mark, ...]
    corrected: bool


def growth(axis: Axis, top: float, pair: Pair, baby: Baby, vocabulary: Vocabulary) -> Growth | None:
    """Draw the weights below `top`; None where there are fewer than two."""
    weighed = _weights(pair, baby)
    if len(weighed) < 2:
        return None
    days = ((day, _point(vocabulary, baby, day)) for day in range(axis.last + 1))
    bands = {day: point for day, point in days if point is not None}
    plot = _Plot.around(axis, top + LABEL + PLOT, [grams for _day, grams in weighed], bands)
    marks = [_mark(plot, baby, day, grams, vocabulary) for day, grams in weighed]
    high, low = plot.points(HIGH), plot.points(LOW)
    return Growth(
        y=top,
        base=plot.base,
        height=PLOT + LABEL + 8,
        shade=" ".join([*high, *reversed(low)]),
        curves=tuple(plot.curve(z) for z in (HIGH, MEDIAN, LOW, LOWEST)) if bands else (),
        grid=plot.grid(clear_of=marks[0].y),
        grid_x=axis.x(0),
        line=" ".join(f"{mark.x},{mark.y}" for mark in marks),
        marks=without_crowding(marks),
        corrected=bool(bands) and standard_age(axis.last, baby.gestation_weeks) != axis.last,
    )


@dataclass(frozen=True, slots=True)
class _Plot:
    """Grams become heights; `bands` are the points of the standard by day of life."""

    axis: Axis
    base: float
    least: float
    most: float
    bands: Mapping[int, Point]

    @classmethod
    def around(cls, axis: Axis, base: float, grams: Sequence[float], bands: Mapping[int, Point]) -> _Plot:
        ends = [point.grams(z) for point in bands.values() for z in (LOWEST, HIGH)]
        room = 0 if bands else UNIT_G / 2
        return cls(axis, base, min([*grams, *ends]) - room, max([*grams, *ends]) + room, bands)

    def y(self, grams: float) -> float:
        return round(self.base - (PLOT - ROOM) * (grams - self.least) / (self.most - self.least), 1)

    def points(self, z: int) -> list[str]:
        return [f"{self.axis.x(day)},{self.y(point.grams(z))}" for day, point in self.bands.items()]

    def curve(self, z: int) -> Curve:
        x = self.axis.x(self.axis.last) + (-END if self.axis.flipped else END)
        y = self.y(self.bands[max(self.bands)].grams(z)) + 3
        return Curve(z, _signed(z), " ".join(self.points(z)), x, y)

    def grid(self, clear_of: float) -> tuple[tuple[float, str], ...]:
        """Whole kilograms at their heights; no words where those of the first mark stand."""
        lines = [
            (n, self.y(n * UNIT_G)) for n in range(ceil(self.least / UNIT_G), floor(self.most / UNIT_G) + 1)
        ]
        return tuple((y, _("%(n)s kg", n=n) if abs(y - clear_of + 6) > ROOM else "") for n, y in lines)


def _mark(plot: _Plot, baby: Baby, day: int, grams: int, vocabulary: Vocabulary) -> Mark:
    found = standing(vocabulary.standard, baby.sex, grams, day, baby.gestation_weeks)
    is_judged = day >= vocabulary.facts["weight_for_age_z"].limits["from_day"]
    change = weight_change(baby, grams) if day else None
    words = number(grams) if change is None else f"{grams} ({_signed(change, 1)} %)"
    point = plot.bands.get(day)
    return Mark(
        day=day,
        x=plot.axis.x(day),
        y=(y := plot.y(grams)),
        top=y,
        foot=y,
        words=words,
        told=words if found is None else f"{words}, z {_signed(found.z, 2)}",
        short=found is not None and is_judged and found.for_age is not ForAge.not_low,
        expected=amount(round(point.grams(LOW)), round(point.grams(HIGH))) if point else "",
        anchor=plot.axis.anchor(day, words),
    )


def _signed(value: float, digits: int = 0) -> str:
    return f"{value:+.{digits}f}".replace("-", "\u2212") if value else "0"


def _point(vocabulary: Vocabulary, baby: Baby, day: int) -> Point | None:
    return point_at(vocabulary.standard, baby.sex, day, baby.gestation_weeks)


def _weights(pair: Pair, baby: Baby) -> list[Weighed]:
    born = [(0, baby.birth_weight_g)] if baby.birth_weight_g else []
    return born + [
        (age(pair, baby, seen.at), seen.weight_g)
        for seen in sorted(pair.assessments, key=lambda each: each.at)
        if seen.baby == baby.ordinal and seen.weight_g is not None
    ]

"""Numbers come in, an SVG drawing goes out: grouped bars and lines. Series differ by filling, dash and
mark, so that they are told apart in grey; every drawing stands beside a table of the same numbers."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape
from math import ceil, floor, log10

WIDTH, HEIGHT = 640, 220
LEFT, RIGHT, TOP, BOTTOM = 46, 8, 12, 34
LOOKS = ("ink", "lines")  # classes of the page's style, by series


@dataclass(frozen=True, slots=True)
class Series:
    name: str
    values: Sequence[float]


def bars(title: str, labels: Sequence[str], series: Sequence[Series], every: int = 1) -> str:
    """Groups of bars, one group for each label; every so many labels are written."""
    scale = _Scale(max((max(each.values, default=0) for each in series), default=0))
    group = (WIDTH - LEFT - RIGHT) / max(1, len(labels))
    wide = group * 0.8 / max(1, len(series))
    drawn = []
    for number, each in enumerate(series):
        for place, value in enumerate(each.values):
            x, y = LEFT + group * place + group * 0.1 + wide * number, scale.y(value)
            tip = f"<title>{escape(labels[place])}, {escape(each.name)}: {value:g}</title>"
            drawn.append(
                f'<rect class="{LOOKS[number]}" x="{x:.1f}" y="{y:.1f}" width="{wide:.1f}" '
                f'height="{scale.foot - y:.1f}">{tip}</rect>'
            )
    marks = [(LEFT + group * (n + 0.5), label) for n, label in enumerate(labels) if n % every == 0]
    return _framed(title, scale, drawn, marks)


def steps(title: str, labels: Sequence[str], series: Sequence[Series], every: int = 1) -> str:
    """Lines over evenly spaced labels, each with a mark of its own."""
    scale = _Scale(max((max(each.values, default=0) for each in series), default=0))
    gap = (WIDTH - LEFT - RIGHT) / max(1, len(labels))
    drawn = []
    for number, each in enumerate(series):
        points = [(LEFT + gap * (place + 0.5), scale.y(value)) for place, value in enumerate(each.values)]
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
        drawn.append(f'<polyline class="line line-{number}" points="{path}"/>')
        for (x, y), label, value in zip(points, labels, each.values, strict=True):
            tip = f"<title>{escape(label)}, {escape(each.name)}: {value:g}</title>"
            drawn.append(_mark(number, x, y, tip))
    marks = [(LEFT + gap * (n + 0.5), label) for n, label in enumerate(labels) if n % every == 0]
    return _framed(title, scale, drawn, marks)


def key(series: Sequence[Series], draw: Callable[..., str]) -> str:
    """What the fillings, or the dashes and marks, of a drawing mean; '' for a single series."""
    if len(series) < 2:
        return ""
    names = []
    for number, each in enumerate(series):
        if draw is steps:
            sample = (
                f'<line class="line line-{number}" x1="0" y1="7" x2="28" y2="7"/>{_mark(number, 14, 7, "")}'
            )
        else:
            sample = f'<rect class="{LOOKS[number]}" x="1" y="1" width="26" height="12"/>'
        drawn = f'<svg viewBox="0 0 28 14" width="28" height="14" aria-hidden="true">{sample}</svg>'
        names.append(f"<li>{drawn} {escape(each.name)}</li>")
    return f'<ul class="key">{"".join(names)}</ul>'


def _mark(number: int, x: float, y: float, tip: str) -> str:
    if number == 0:
        return f'<circle class="ink" cx="{x:.1f}" cy="{y:.1f}" r="3">{tip}</circle>'
    return f'<rect class="outline" x="{x - 3:.1f}" y="{y - 3:.1f}" width="6" height="6">{tip}</rect>'


@dataclass(frozen=True, slots=True)
class _Scale:
    most: float

    @property
    def foot(self) -> float:
        return HEIGHT - BOTTOM

    @property
    def step(self) -> float:
        """A round distance that makes four to nine grid lines."""
        if self.most <= 0:
            return 1.0
        rough = self.most / 5
        power = 10.0 ** floor(log10(rough))
        return next(power * n for n in (1, 2, 5, 10) if power * n >= rough)

    @property
    def top(self) -> float:
        return max(self.step, ceil(self.most / self.step) * self.step)

    def y(self, value: float) -> float:
        return self.foot - (self.foot - TOP) * value / self.top


def _framed(title: str, scale: _Scale, drawn: Sequence[str], marks: Sequence[tuple[float, str]]) -> str:
    grid = []
    for n in range(round(scale.top / scale.step) + 1):
        value, y = n * scale.step, scale.y(n * scale.step)
        grid.append(f'<line class="grid" x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y:.1f}" y2="{y:.1f}"/>')
        grid.append(f'<text class="tick" x="{LEFT - 6}" y="{y + 4:.1f}" text-anchor="end">{value:,g}</text>')
    names = [
        f'<text class="tick" x="{x:.1f}" y="{scale.foot + 16}" text-anchor="middle">{escape(label)}</text>'
        for x, label in marks
    ]
    inside = "".join([*grid, *drawn, *names])
    return f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{escape(title)}">{inside}</svg>'

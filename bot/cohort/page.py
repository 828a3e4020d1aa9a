"""One outcome or two come in, a page of HTML that needs nothing else goes out: figures, drawings, tables, and
what was assumed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from bot.cohort.assumed import default_text
from bot.cohort.figures import parts, written
from bot.cohort.outcome import ALL_HOURS, KINDS, STEPS, WITHIN_HOURS, Outcome
from bot.cohort.plots import Series, bars, key, steps
from bot.cohort.queue import URGENCIES

NAMES = ("As it is", "Changed")
URGENCY_WORDS = {"go_now": "Go now", "same_day": "Today", "routine": "Soon"}
_MOST_RULES = 60


@dataclass(frozen=True, slots=True)
class Drawing:
    """A drawing with the table of its numbers."""

    title: str
    svg: Markup
    key: Markup
    first: str  # what the first column of the table is
    heads: Sequence[str]
    rows: Sequence[tuple[str, Sequence[str]]]


def page(outcomes: Sequence[Outcome], assumed_otherwise: str = "") -> str:
    """Write the page. `assumed_otherwise` is the text of the file that changed the assumptions."""
    environment = Environment(
        loader=FileSystemLoader(Path(__file__).parent),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("page.html").render(
        run=outcomes[0]["run"],
        names=NAMES[: len(outcomes)],
        parts=parts(outcomes),
        drawings=_drawings(outcomes),
        languages=_languages(outcomes),
        rules=_rules(outcomes),
        assumed=default_text(),
        assumed_otherwise=assumed_otherwise,
    )


def _drawings(outcomes: Sequence[Outcome]) -> list[Drawing]:
    days = max(len(each["texts"]["segments_by_day"]) for each in outcomes)
    mothers = outcomes[0]["run"]["mothers"]
    per_day = [[n / mothers for n in _filled(each["texts"]["segments_by_day"], days)] for each in outcomes]
    found = [
        _drawing(
            steps,
            "Paid parts to a mother, by day of life",
            "Day",
            [str(d) for d in range(days)],
            per_day,
            "",
            7,
        )
    ]
    for urgency in URGENCIES:
        name = urgency.name
        by_hour = [each["inbox"]["by_hour"][name] for each in outcomes]
        title = f"{URGENCY_WORDS[name]}: calls that come up, by hour of the site"
        found.append(_drawing(bars, title, "Hour", [str(h) for h in ALL_HOURS], by_hour, "", 3))
    for urgency in URGENCIES:
        waiting = [each["waiting"][urgency.name] for each in outcomes]
        shares = [[share or 0 for _, share in each["share_by_minutes"]] for each in waiting]
        due = _span(waiting[0]["due_minutes"])
        title = f"{URGENCY_WORDS[urgency.name]}: per cent spoken to within so long; due within {due}"
        found.append(_drawing(steps, title, "Within", [_span(limit) for limit in STEPS], shares, "%"))
    for kind, words in zip(KINDS, ("feeding troubles", "dangers"), strict=True):
        heard = [
            [each["true"][kind]["within_hours_percent"][str(limit)] or 0 for limit in WITHIN_HOURS]
            for each in outcomes
        ]
        title = f"Per cent of true {words} heard of within so many hours"
        found.append(_drawing(bars, title, "Hours", [str(limit) for limit in WITHIN_HOURS], heard, "%"))
    return found


def _drawing(
    draw: Callable[..., str],
    title: str,
    first: str,
    labels: Sequence[str],
    values: Sequence[Sequence[float]],
    unit: str,
    every: int = 1,
) -> Drawing:
    series = [Series(name, each) for name, each in zip(NAMES, values, strict=False)]
    rows = [(label, [written(each[place], unit) for each in values]) for place, label in enumerate(labels)]
    return Drawing(
        title,
        Markup(draw(title, labels, series, every)),
        Markup(key(series, draw)),
        first,
        NAMES[: len(values)],
        rows,
    )


def _filled(values: Sequence[float], length: int) -> list[float]:
    return [*values, *[0.0] * (length - len(values))]


def _span(minutes: int) -> str:
    if minutes % 1440 == 0 and minutes:
        return f"{minutes // 1440} d"
    return f"{minutes // 60} h" if minutes % 60 == 0 and minutes else f"{minutes} min"


def _languages(outcomes: Sequence[Outcome]) -> list[tuple[str, list[list[str]]]]:
    """By language and outcome: mothers, texts, paid parts, price, replies."""
    currency = outcomes[0]["texts"]["currency"]
    cells = (("mothers", ""), ("texts_per_mother", ""), ("segments_per_mother", ""),
             ("cost_per_mother", currency), ("replies_per_mother", ""))  # fmt: skip
    return [
        (
            code,
            [
                [written(each["texts"]["by_language"][code][cell], unit) for each in outcomes]
                for cell, unit in cells
            ],
        )
        for code in outcomes[0]["texts"]["by_language"]
    ]


def _rules(outcomes: Sequence[Outcome]) -> list[tuple[str, list[str], list[str]]]:
    """By rule or occasion, the most frequent first: how often it was raised, and with something true behind
    it."""
    every: dict[str, int] = {}
    for each in outcomes:
        for rule, counts in each["inbox"]["by_rule"].items():
            every[rule] = every.get(rule, 0) + counts["raised"]
    none = {"raised": 0, "true": 0}
    found = []
    for rule in sorted(every, key=lambda id: (-every[id], id))[:_MOST_RULES]:
        counts = [each["inbox"]["by_rule"].get(rule, none) for each in outcomes]
        found.append((rule, [f"{c['raised']:,}" for c in counts], [f"{c['true']:,}" for c in counts]))
    return found

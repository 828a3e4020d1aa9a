"""What a manager reads first: one outcome or two come in, named figures with their change go out.

The terminal, the page and the screens all show these."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import reduce
from operator import getitem

from bot.cohort.outcome import Outcome

Number = float | int | None
PRICE = "price"  # the unit of what is paid; its currency stands in the outcome


def marked(text: str) -> str:
    """Mark words for the catalogs of the screens; the terminal and the page say them in English."""
    return text


# Title of a part -> its figures: where each stands in the outcome, its label and its unit.
FIGURES: tuple[tuple[str, tuple[tuple[str, str, str], ...]], ...] = (
    (
        marked("Texts"),
        (
            ("texts.texts_per_mother", marked("Texts to each mother"), ""),
            ("texts.segments_per_mother", marked("Paid parts to each mother"), ""),
            ("texts.cost_per_mother", marked("Price for each mother"), PRICE),
            ("texts.replies_per_mother", marked("Replies from each mother"), ""),
        ),
    ),
    (
        marked("Calls to make"),
        (
            ("inbox.items_per_mother", marked("For each mother"), ""),
            ("inbox.by_urgency.go_now", marked("Go now"), ""),
            ("inbox.by_urgency.same_day", marked("Today"), ""),
            ("inbox.by_urgency.routine", marked("Soon"), ""),
        ),
    ),
    (
        marked("Waiting for a counsellor"),
        (
            ("staff.busy_percent", marked("Counsellors' hours spent on calls"), "%"),
            ("waiting.go_now.in_time_percent", marked("Go now: in time"), "%"),
            ("waiting.go_now.minutes.95_percent", marked("Go now: 19 in 20 waited at most"), "min"),
            ("waiting.same_day.in_time_percent", marked("Today: in time"), "%"),
            ("waiting.same_day.minutes.95_percent", marked("Today: 19 in 20 waited at most"), "min"),
            ("waiting.routine.in_time_percent", marked("Soon: in time"), "%"),
            ("waiting.routine.minutes.95_percent", marked("Soon: 19 in 20 waited at most"), "min"),
        ),
    ),
    (
        marked("Counsellors needed so that 19 in 20 'go now' are spoken to in time"),
        (
            ("staff.needed.in_these_shifts", marked("In these shifts, beside who is on call"), ""),
            (
                "staff.needed.in_these_shifts_for_what_comes_up_in_them",
                marked("In these shifts, for what comes up in them"),
                "",
            ),
            ("staff.needed.around_the_clock", marked("Around the clock, nobody on call"), ""),
        ),
    ),
    (
        marked("What is heard of"),
        (
            ("true.trouble.heard_percent", marked("True feeding troubles"), "%"),
            ("true.trouble.within_hours_percent.24", marked("True feeding troubles, within a day"), "%"),
            ("true.trouble.half_of_the_heard_within_hours", marked("Half of those heard of, within"), "h"),
            ("true.danger.heard_percent", marked("True dangers"), "%"),
            ("true.danger.within_hours_percent.24", marked("True dangers, within a day"), "%"),
            ("true.danger.half_of_the_heard_within_hours", marked("Half of those heard of, within"), "h"),
        ),
    ),
    (
        marked("False alarms"),
        (
            ("false_alarms.per_counsellor_day", marked("In a counsellor's day"), ""),
            ("false_alarms.percent_of_alarms", marked("Alarms with nothing behind them"), "%"),
        ),
    ),
)


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of each outcome. `key` is its place there; `unit` is '', '%', 'min', 'h' or a currency."""

    key: str
    label: str
    unit: str
    values: tuple[Number, ...]

    def shown(self) -> list[str]:
        return [written(value, self.unit) for value in self.values]

    @property
    def change(self) -> str:
        """How the second differs from the first; '' where there is nothing to compare."""
        if len(self.values) < 2:
            return ""
        first, second = self.values[:2]
        if first is None or second is None:
            return "" if first == second else "differs"
        if first == second:
            return "same"
        return f"{second - first:+,.{_places(self.unit, second - first)}f}"


@dataclass(frozen=True, slots=True)
class Part:
    title: str
    figures: tuple[Figure, ...]


def parts(outcomes: Sequence[Outcome]) -> list[Part]:
    """The figures of one outcome, or of two beside each other, by what they are about."""
    currency = outcomes[0]["texts"]["currency"]
    return [
        Part(
            title,
            tuple(
                Figure(key, label, currency if unit == PRICE else unit, _values(outcomes, key))
                for key, label, unit in rows
            ),
        )
        for title, rows in FIGURES
    ]


def _values(outcomes: Sequence[Outcome], key: str) -> tuple[Number, ...]:
    return tuple(reduce(getitem, key.split("."), each) for each in outcomes)  # type: ignore[misc]


def written(value: Number, unit: str) -> str:
    """A number with its unit, long waits in hours; none is a dash."""
    if value is None:
        return "-"
    if unit == "min" and value >= 180:
        return f"{value / 60:,.1f} h"
    number = f"{value:,}" if isinstance(value, int) else f"{value:,.{_places(unit, value)}f}"
    return f"{number} {unit}".rstrip()


def _places(unit: str, value: float) -> int:
    if isinstance(value, int) or unit in ("min", "h"):
        return 0
    return 1 if unit == "%" else 2 if unit == "" else 4


def lines(outcomes: Sequence[Outcome]) -> list[str]:
    """The figures as lines of a terminal, in columns."""
    run = outcomes[0]["run"]
    heads = ["", "now", "changed", "change"] if len(outcomes) > 1 else []
    rows: list[list[str]] = [heads]
    for part in parts(outcomes):
        rows.append([part.title])
        for each in part.figures:
            shown = [f"  {each.label}", *each.shown()]
            rows.append([*shown, each.change] if len(outcomes) > 1 else shown)
    width = max(len(row[0]) for row in rows if len(row) > 1)
    return [
        f"{run['mothers']:,} invented mothers, {run['days']} days each, seed {run['seed']}; "
        f"{run['counsellors']} counsellors in every shift.",
        "How they behave is assumed (--show-assumed): compare runs, and expect no mother to be so.",
        *(_columns(row, width) for row in rows if row),
    ]


def _columns(row: Sequence[str], width: int) -> str:
    if len(row) == 1:
        return f"\n{row[0]}"
    return (f"{row[0]:<{width}}" + "".join(f"{cell:>14}" for cell in row[1:])).rstrip()

"""What a manager reads first: one outcome or two come in, named figures with their change go out. The terminal,
the page and the screens all show these."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from bot.cohort.outcome import Outcome

Number = float | int | None


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of each outcome. `key` names it for good; `unit` is '', '%', 'min', 'h' or a currency."""

    key: str
    label: str
    unit: str
    values: tuple[Number, ...]

    def shown(self) -> list[str]:
        return [written(value, self.unit) for value in self.values]

    @property
    def change(self) -> str:
        """How the second differs from the first, '' where there is nothing to compare, 'same' where it does not."""
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


_URGENCIES: Mapping[str, str] = {"go_now": "Go now", "same_day": "Today", "routine": "Soon"}
_KINDS: Mapping[str, str] = {"trouble": "feeding troubles", "danger": "dangers"}


def parts(outcomes: Sequence[Outcome]) -> list[Part]:
    """The figures of one outcome, or of two beside each other, by what they are about."""
    currency = outcomes[0]["texts"]["currency"]

    def figure(key: str, label: str, unit: str, find: Callable[[Outcome], Number]) -> Figure:
        return Figure(key, label, unit, tuple(find(each) for each in outcomes))

    texts = [
        figure("texts", "Texts to each mother", "", lambda o: o["texts"]["texts_per_mother"]),
        figure("segments", "Paid parts to each mother", "", lambda o: o["texts"]["segments_per_mother"]),
        figure("cost", "Price for each mother", currency, lambda o: o["texts"]["cost_per_mother"]),
        figure("replies", "Replies from each mother", "", lambda o: o["texts"]["replies_per_mother"]),
    ]
    inbox = [figure("items", "Calls for each mother", "", lambda o: o["inbox"]["items_per_mother"])]
    waiting = [figure("busy", "Counsellors' hours spent on calls", "%", lambda o: o["staff"]["busy_percent"])]
    for name, words in _URGENCIES.items():
        inbox.append(
            figure(f"items_{name}", f"Calls: {words}", "", lambda o, n=name: o["inbox"]["by_urgency"][n])  # type: ignore[misc]
        )
        waiting.append(
            figure(
                f"in_time_{name}",
                f"{words}: in time",
                "%",
                lambda o, n=name: o["waiting"][n]["in_time_percent"],
            )  # type: ignore[misc]
        )
        waiting.append(
            figure(
                f"wait_{name}",
                f"{words}: 95 % waited at most",
                "min",
                lambda o, n=name: o["waiting"][n]["minutes"]["95_percent"],  # type: ignore[misc]
            )  # fmt: skip
        )
    needed = [
        figure("needed", "In these shifts", "", lambda o: o["staff"]["needed"]["in_these_shifts"]),
        figure(
            "needed_in_shifts", "In these shifts, for what comes up in them", "",
            lambda o: o["staff"]["needed"]["in_these_shifts_for_what_comes_up_in_them"],
        ),
        figure("needed_always", "Around the clock", "", lambda o: o["staff"]["needed"]["around_the_clock"]),
    ]  # fmt: skip
    true = []
    for kind, words in _KINDS.items():
        true += [
            figure(f"heard_{kind}", f"True {words} heard of", "%", lambda o, k=kind: o["true"][k]["heard_percent"]),  # type: ignore[misc]
            figure(
                f"heard_{kind}_24", f"True {words} heard of within a day", "%",
                lambda o, k=kind: o["true"][k]["within_hours_percent"]["24"],  # type: ignore[misc]
            ),
            figure(
                f"heard_{kind}_half", "Half of those heard of, within", "h",
                lambda o, k=kind: o["true"][k]["half_of_the_heard_within_hours"],  # type: ignore[misc]
            ),
        ]  # fmt: skip
    false = [
        figure(
            "false",
            "False alarms in a counsellor's day",
            "",
            lambda o: o["false_alarms"]["per_counsellor_day"],
        ),
        figure(
            "false_share",
            "Alarms with nothing behind them",
            "%",
            lambda o: o["false_alarms"]["percent_of_alarms"],
        ),
    ]
    return [
        Part("Texts", tuple(texts)),
        Part("Inbox", tuple(inbox)),
        Part("Waiting for a counsellor", tuple(waiting)),
        Part("Counsellors needed so that 95 % of 'go now' are spoken to in time", tuple(needed)),
        Part("What is heard of", tuple(true)),
        Part("False alarms", tuple(false)),
    ]


def written(value: Number, unit: str) -> str:
    """A number with its unit; none is a dash."""
    if value is None:
        return "-"
    number = f"{value:,}" if isinstance(value, int) else f"{value:,.{_places(unit, value)}f}"
    return f"{number} {unit}".rstrip()


def _places(unit: str, value: float) -> int:
    if isinstance(value, int) or unit in ("min", "h"):
        return 0
    return 1 if unit == "%" else 2 if unit == "" else 4


def lines(outcomes: Sequence[Outcome]) -> list[str]:
    """The figures as lines of a terminal, in columns."""
    run = outcomes[0]["run"]
    heads = ["", "now", "changed", "change"] if len(outcomes) > 1 else ["", ""]
    rows: list[list[str]] = []
    for part in parts(outcomes):
        rows.append([part.title])
        for each in part.figures:
            shown = [f"  {each.label}", *each.shown()]
            rows.append([*shown, each.change] if len(outcomes) > 1 else shown)
    width = max(len(row[0]) for row in rows if len(row) > 1)
    head = (
        f"{run['mothers']:,} invented mothers, {run['days']} days each, {run['counsellors']} counsellors in every "
        f"shift, seed {run['seed']}."
    )
    caution = "How they behave is assumed (--show-assumed): compare runs, and expect no mother to be so."
    return [head, caution, *(_columns(row, width) for row in [heads, *rows] if any(row))]


def _columns(row: Sequence[str], width: int) -> str:
    if len(row) == 1:
        return f"\n{row[0]}"
    return (f"{row[0]:<{width}}" + "".join(f"{cell:>14}" for cell in row[1:])).rstrip()

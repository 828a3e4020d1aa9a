"""Measuring side by side: contestants run in turn, round after round, so that a machine which slows down
slows down all of them. What goes out are ratios with their spread, and the lines of the table."""

from __future__ import annotations

import statistics
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from time import perf_counter, process_time

SQLITE, POSTGRES = "sqlite", "postgresql"
ENGINES = (SQLITE, POSTGRES)

Rates = dict[str, list[float]]


@dataclass(frozen=True, slots=True)
class Spread:
    """Smallest, median and largest of a few runs."""

    least: float
    median: float
    most: float

    @classmethod
    def of(cls, values: Sequence[float]) -> Spread:
        return cls(min(values), statistics.median(values), max(values))

    def text(self, places: int = 2) -> str:
        return f"{self.median:,.{places}f} ({self.least:,.{places}f} to {self.most:,.{places}f})"


@dataclass(frozen=True, slots=True)
class Goal:
    """What the median should keep to."""

    value: float
    at_most: bool = False

    def met(self, spread: Spread) -> bool:
        return spread.median <= self.value if self.at_most else spread.median >= self.value

    @property
    def text(self) -> str:
        return f"{'at most' if self.at_most else 'at least'} {self.value:,g}"


@dataclass(frozen=True, slots=True)
class Cell:
    """One figure: `spread` is what a goal is held against, `beside` its absolute size in words."""

    spread: Spread
    beside: str = ""
    places: int = 2

    @property
    def text(self) -> str:
        return self.spread.text(self.places) + (f"; {self.beside}" if self.beside else "")


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the table. `cells` by engine; under "" what needs no database."""

    what: str
    cells: Mapping[str, Cell]
    goal: Goal | None = None

    def cell(self, engine: str) -> str:
        found = self.cells.get(engine)
        if "" in self.cells:
            return self.cells[""].text if engine == SQLITE else "needs no database"
        return found.text if found else "-"

    @property
    def verdict(self) -> str:
        if self.goal is None:
            return "-"
        missed = [engine for engine, cell in self.cells.items() if not self.goal.met(cell.spread)]
        where = f" on {' and '.join(missed)}" if any(missed) and len(missed) < len(self.cells) else ""
        return f"{self.goal.text}: {'missed' + where if missed else 'met'}"


@dataclass(slots=True)
class Results:
    """What a benchmark found: lines of the table, and notes that stand below it."""

    lines: list[Line] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def in_turn(contestants: Mapping[str, Callable[[], float]], rounds: int) -> Rates:
    """Let each contestant run once a round; gives what each returned (its rate, mostly), by round. A first
    round, in which everything is still cold, does not count."""
    for run in contestants.values():
        run()
    found: Rates = {name: [] for name in contestants}
    for _ in range(rounds):
        for name, run in contestants.items():
            found[name].append(run())
    return found


def ratios(ours: Sequence[float], theirs: Sequence[float]) -> Spread:
    """Divide round by round: what ran next to each other is compared."""
    return Spread.of([a / b for a, b in zip(ours, theirs, strict=True)])


def per_second(number: int, work: Callable[[], object]) -> float:
    """Give how many of `number` things `work` does in a second."""
    begun = perf_counter()
    work()
    return number / (perf_counter() - begun)


def per_cpu_second(number: int, work: Callable[[], object], *, repeat: int = 1) -> float:
    """The same by this process's own time on a core, for work that waits for nobody: other programs on the
    machine do not count. `work` is repeated where once is too short to be measured."""
    begun = process_time()
    for _ in range(repeat):
        work()
    return number * repeat / (process_time() - begun)


def rate_text(rates: Sequence[float]) -> str:
    return f"{statistics.median(rates):,.0f}/s"

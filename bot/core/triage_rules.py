"""Rules as data, compiled: an age window with comparisons -> bit masks over cells of each axis.

In: `Rule`s as `bot.content.rules` read them from messages/rules/. Out: a `RuleSet` whose `table(facts' age)`
tells with a few ANDs which rules hold. The proof (`bot.content.check_rules`) walks the same tables, so what
is proved is what runs.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from bot.core.facts import Vocabulary
from bot.core.states import Urgency

# In the place of a text: nothing is said to her by the program, a person calls.
NOTHING: Final = "nothing"


@dataclass(frozen=True, slots=True)
class Window:
    """The ages at which a rule is in force: day of life k, both ends included; hours, from <= age < under."""

    k_from: int = 0
    k_to: int | None = None
    hours_from: float = 0
    hours_under: float | None = None

    def holds(self, k: int, hours: float) -> bool:
        return (
            self.k_from <= k
            and (self.k_to is None or k <= self.k_to)
            and self.hours_from <= hours
            and (self.hours_under is None or hours < self.hours_under)
        )


@dataclass(frozen=True, slots=True)
class Comparison:
    """Holds when the badness on `axis` is at least `bound`.

    `worse_side` False turns it round (below `bound`). The loader refuses such a one; the type can carry
    it so that the proof does not merely trust the loader.
    """

    axis: str
    bound: float
    text: str = field(default="", compare=False)
    worse_side: bool = True

    def holds(self, badness: float) -> bool:
        return (badness >= self.bound) is self.worse_side


@dataclass(frozen=True, slots=True)
class Rule:
    """All of `all` and, if there is any, one of `any`. `ladder` joins rules that are steps of one scale.

    A rule in the `shadow` is tried out: that it held is counted, and nothing else follows from it.
    """

    id: str
    urgency: Urgency
    why: str
    source: str  # document and section, its mark in brackets
    subject: str  # baby or mother
    advice: str  # key of the text to her
    ask: str  # what the counsellor should ask
    ladder: str
    window: Window = Window()
    all: tuple[Comparison, ...] = ()
    any: tuple[Comparison, ...] = ()
    shadow: bool = False

    def clauses(self) -> Iterator[tuple[Comparison, ...]]:
        """The rule as alternatives, each a plain conjunction."""
        if self.any:
            yield from ((*self.all, alternative) for alternative in self.any)
        else:
            yield self.all


@dataclass(frozen=True, slots=True)
class Occasion:
    """What needs a person though no clinical rule held: a wish to talk, a text that cannot be delivered."""

    id: str
    urgency: Urgency
    why: str
    source: str
    ask: str
    wakes: bool = False  # somebody is woken for it where the inbox is not read in time


@dataclass(frozen=True, slots=True)
class Cells:
    """An axis cut where its comparisons change: `masks[i]` are the clauses not refused in cell i.

    Cell 0 lies below the first cut and is the mildest. `touched` are the clauses that look at this axis.
    """

    cuts: tuple[float, ...]
    masks: tuple[int, ...]
    touched: int

    def mask(self, badness: float) -> int:
        return self.masks[bisect_right(self.cuts, badness)]


@dataclass(frozen=True, slots=True)
class Clause:
    rule: int  # index into RuleSet.rules
    comparisons: tuple[Comparison, ...]
    axes: frozenset[str]


class Clauses:
    """Conjunctions with a bit each, and for every axis the mask of each of its cells."""

    __slots__ = ("cells", "clauses")

    def __init__(self, clauses: Sequence[Clause]) -> None:
        self.clauses = tuple(clauses)
        bounds: dict[str, set[float]] = {}
        for clause in clauses:
            for comparison in clause.comparisons:
                bounds.setdefault(comparison.axis, set()).add(comparison.bound)
        self.cells = {axis: self._cut(axis, sorted(cuts)) for axis, cuts in bounds.items()}

    def _cut(self, axis: str, cuts: list[float]) -> Cells:
        inside = [cuts[0] - 1, *cuts]  # one badness in every cell: its lower end
        own = [
            (1 << bit, [c for c in clause.comparisons if c.axis == axis])
            for bit, clause in enumerate(self.clauses)
            if axis in clause.axes
        ]
        touched = sum(bit for bit, _ in own)
        untouched = (1 << len(self.clauses)) - 1 - touched  # whatever is known here, they may still hold
        masks = tuple(
            untouched | sum(bit for bit, tests in own if all(c.holds(badness) for c in tests))
            for badness in inside
        )
        return Cells(tuple(cuts), masks, touched)

    def held(self, point: Mapping[str, float]) -> list[Clause]:
        """The clauses that hold: every axis they look at is known and none of its comparisons fails."""
        allowed, touched = -1, 0
        for axis, badness in point.items():
            cells = self.cells.get(axis)
            if cells is not None:
                allowed &= cells.masks[bisect_right(cells.cuts, badness)]
                touched |= cells.touched
        return self._known(allowed & touched, point)

    def within_a_step(
        self, point: Mapping[str, float], steps: Mapping[str, float]
    ) -> list[tuple[Clause, str]]:
        """Clauses that fail on one axis only and would hold if that axis were a step worse, with the axis."""
        known = []
        for axis, badness in point.items():
            cells = self.cells.get(axis)
            if cells is not None:
                known.append((axis, cells, badness, cells.mask(badness)))
        after, held = [], -1  # what the axes behind each one allow
        for *_, mask in reversed(known):
            after.append(held)
            held &= mask
        found: list[tuple[Clause, str]] = []
        before = -1
        for (axis, cells, badness, mask), behind in zip(known, reversed(after), strict=True):
            step = steps.get(axis)
            if step:
                # A hair more than the step, so that 37.4 and 0.1 reach 37.5 in binary fractions too.
                worse = cells.mask(badness + step * 1.000001)
                near = worse & before & behind & cells.touched & ~held
                found += [(clause, axis) for clause in self._known(near, point)]
            before &= mask
        return found

    def marked(self, bits: int) -> list[Clause]:
        """The clauses whose bits are set."""
        found = []
        while bits:
            low = bits & -bits
            found.append(self.clauses[low.bit_length() - 1])
            bits ^= low
        return found

    def _known(self, bits: int, point: Mapping[str, float]) -> list[Clause]:
        return [clause for clause in self.marked(bits) if clause.axes <= point.keys()] if bits else []


@dataclass(frozen=True, slots=True)
class Table:
    """The rules in force at one age. `second` looks at outcomes of rules that hold in `first`, `shadow` holds
    those that are only tried out."""

    rules: tuple[int, ...]
    first: Clauses
    second: Clauses
    shadow: Clauses


@dataclass(frozen=True)
class RuleSet:
    """Every rule with the vocabulary it speaks, compiled to a table for each age at which they differ."""

    vocabulary: Vocabulary
    rules: tuple[Rule, ...]
    steps: Mapping[str, float] = field(init=False, repr=False)
    _by_id: Mapping[str, Rule] = field(init=False, repr=False)
    _k_cuts: tuple[float, ...] = field(init=False, repr=False)
    _hour_cuts: tuple[float, ...] = field(init=False, repr=False)
    _tables: Mapping[tuple[int, int], Table] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        windows = [rule.window for rule in self.rules]
        k_cuts = _cuts([w.k_from for w in windows], [w.k_to + 1 for w in windows if w.k_to is not None])
        hour_cuts = _cuts([w.hours_from for w in windows], [w.hours_under for w in windows if w.hours_under])
        object.__setattr__(self, "steps", {a.id: a.step for a in self.vocabulary.axes.values() if a.step})
        object.__setattr__(self, "_by_id", {rule.id: rule for rule in self.rules})
        object.__setattr__(self, "_k_cuts", k_cuts)
        object.__setattr__(self, "_hour_cuts", hour_cuts)
        object.__setattr__(self, "_tables", self._compile(k_cuts, hour_cuts))

    def _compile(self, k_cuts: Sequence[float], hour_cuts: Sequence[float]) -> dict[tuple[int, int], Table]:
        """One table for each cell of k and hours; cells with the same rules share it."""
        shared: dict[tuple[int, ...], Table] = {}
        tables = {}
        for i, k in enumerate([0.0, *k_cuts]):
            for j, hours in enumerate([0.0, *hour_cuts]):
                active = tuple(n for n, rule in enumerate(self.rules) if rule.window.holds(int(k), hours))
                if active not in shared:
                    shared[active] = self._table(active)
                tables[i, j] = shared[active]
        return tables

    def _table(self, active: tuple[int, ...]) -> Table:
        outcomes = {spec.axes[0].id for spec in self.vocabulary.outcomes}
        first: list[Clause] = []
        second: list[Clause] = []
        shadow: list[Clause] = []
        for index in active:
            rule = self.rules[index]
            for comparisons in rule.clauses():
                axes = frozenset(c.axis for c in comparisons)
                stage = shadow if rule.shadow else second if axes & outcomes else first
                stage.append(Clause(index, comparisons, axes))
        return Table(active, Clauses(first), Clauses(second), Clauses(shadow))

    def as_if_live(self) -> RuleSet:
        """These rules with those of the shadow brought into force, to be proved before they are."""
        return RuleSet(self.vocabulary, tuple(replace(rule, shadow=False) for rule in self.rules))

    def table(self, k: int, hours: float) -> Table:
        """The rules in force at day of life `k` and `hours` of age."""
        return self._tables[bisect_right(self._k_cuts, k), bisect_right(self._hour_cuts, hours)]

    def rule(self, id: str) -> Rule | None:
        """The rule with this id; None when it is an occasion or of another edition."""
        return self._by_id.get(id)

    def advice(self, id: str) -> str | None:
        """The key of the text that a rule sends to her; None without one, or where nothing is said."""
        rule = self.rule(id)
        return None if rule is None or rule.advice == NOTHING else rule.advice

    def describe_facts(self) -> Iterator[str]:
        """Every fact that may be given, a line each."""
        return self.vocabulary.describe()

    def outcomes(self, held: Iterable[Clause]) -> dict[str, float]:
        """What outcome facts say after the first round: the gravest urgency, or how many matters."""
        gravest: dict[str, int] = {}
        for clause in held:
            rule = self.rules[clause.rule]
            gravest[rule.ladder] = max(gravest.get(rule.ladder, 0), rule.urgency)
        found: dict[str, float] = {}
        for spec in self.vocabulary.outcomes:
            matters = [[gravest[one] for one in matter if one in gravest] for matter in spec.ladders]
            levels = [max(found_on) for found_on in matters if found_on]
            if levels:
                found[spec.axes[0].id] = len(levels) if spec.count else max(levels)
        return found


def _cuts(*bounds: Iterable[float]) -> tuple[float, ...]:
    return tuple(sorted({bound for many in bounds for bound in many if bound > 0}))

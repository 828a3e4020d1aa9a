"""A rule set -> proof by enumeration that it can be trusted, or every fault with its smallest example.

How it is cut: each fact at every threshold that a rule has on it, so that all values of a cell are judged
alike; ages wherever a rule begins or ends. A point is one cell of every fact that can matter together.

For each age at which the rules differ the grids of `rule_grid` are walked and it is shown that
- the rules are total: every point has an urgency, a fact left out counts as its mildest cell;
- they are monotone: of two points that differ by one step on one axis, the worse is never milder;
- no rule is dead (holds nowhere) or shadowed (holds, but never decides the urgency by itself);
- every rule has a source and every rule that reaches her has a text, urgent ones in every language.

Rules in the shadow decide nothing: the live rules are proved without them, and then all as if they were live.

What this does not cover. Facts that are worked out (loss of weight, risk, whether urine ever passed) are
axes of their own, so points are walked that no baby can reach: a fault may name one, and a rule that decides
only there is not found to be shadowed. Of the step from answers to axes (bot/core/facts_judged.py) nothing
is proved here; property tests try it. Nothing is claimed across ages, nor that a threshold is clinically
right, nor of texts beyond their being there.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Set
from dataclasses import dataclass, field, replace
from math import floor, prod
from operator import le

from bot.content.rule_grid import CutTable, Grid
from bot.core.errors import Problem
from bot.core.facts import AxisKind
from bot.core.states import Urgency
from bot.core.triage_rules import NOTHING, Clause, RuleSet, Table


@dataclass(frozen=True, slots=True)
class Proof:
    """No problems means proved: `points` combinations were walked at `ages` ages where the rules differ.

    They stand for `combinations`, the full product over all cells of all axes at all those ages.
    """

    problems: tuple[Problem, ...]
    ages: int
    points: int
    combinations: int

    @property
    def line(self) -> str:
        verdict = f"{len(self.problems)} faults" if self.problems else "total, monotone, no idle rule"
        stand_for = f"{self.points:,} points stand for {self.combinations:.0e} combinations of facts"
        return (
            f"Rules: {verdict}; {stand_for}, cut at every threshold, at {self.ages} ages where they differ."
        )


NOT_COVERED = (
    "Not proved: that a threshold is clinically right; how answers become facts; one age beside another; "
    "what a text says."
)


def prove(
    rules: RuleSet, texts: Set[str] | None = None, untold: Mapping[str, Collection[str]] | None = None
) -> Proof:
    """Walk the rules.

    texts   the keys that exist; None: not compared
    untold  text key -> the languages that lack it
    """
    live = RuleSet(rules.vocabulary, tuple(rule for rule in rules.rules if not rule.shadow))
    proof = _walked(live)
    problems = [*proof.problems, *_unwritten(rules, texts), *_untold(rules, untold or {})]
    if len(live.rules) < len(rules.rules):
        # What is tried out must stand the proof before it may count.
        tried = _walked(rules.as_if_live())
        new = [each for each in tried.problems if each not in proof.problems]
        problems += [Problem(each.field, f"if the shadow counted: {each.message}") for each in new]
        proof = replace(tried, points=proof.points + tried.points)
    return replace(proof, problems=tuple(problems))


def _walked(rules: RuleSet) -> Proof:
    walk = _Walk(rules)
    tables = _tables(rules)
    for table, age in tables:
        walk.table(table, age)
    return Proof((*walk.problems, *_idle(rules, walk)), len(tables), walk.points, walk.combinations)


def _tables(rules: RuleSet) -> list[tuple[Table, str]]:
    """Each table that some age reaches, with the youngest such age in words.

    Bounds are whole days and hours, so half hours step into every cell of a known hour of birth.
    """
    last = max([r.window.k_to or 0 for r in rules.rules] + [r.window.k_from for r in rules.rules]) + 3
    by_hour = ((floor(half / 48 + 0.5), half / 2, f"at {half / 2:g} hours") for half in range(48 * last))
    by_date = (
        (days, max(0.0, 24.0 * (days - 1)), f"at {days} days, hour of birth unknown") for days in range(last)
    )
    found: dict[int, tuple[Table, str]] = {}
    for k, hours, words in (*by_hour, *by_date):
        table = rules.table(k, hours)
        found.setdefault(id(table), (table, words))
    return list(found.values())


@dataclass(slots=True)
class _Walk:
    rules: RuleSet
    points: int = 0
    combinations: int = 0
    problems: list[Problem] = field(default_factory=list)
    alive: set[int] = field(default_factory=set)
    decisive: set[int] = field(default_factory=set)
    seen: set[frozenset[Clause]] = field(default_factory=set)

    def table(self, table: Table, age: str) -> None:
        self._missing_is_mildest(table)
        cut = CutTable(self.rules, table)
        self.combinations += prod(len(axis.masks) for axis in cut.axes.values())
        for grid, clauses in cut.grids():
            if clauses not in self.seen:  # the same rules at another age were walked already
                self.seen.add(clauses)
                self._grid(table, grid, age)

    def _missing_is_mildest(self, table: Table) -> None:
        """No comparison may hold in the mildest cell: a fact left out must count as one that is fine."""
        for stage in (table.first, table.second):
            for axis, cells in stage.cells.items():
                for clause in stage.marked(cells.masks[0] & cells.touched):
                    rule = self.rules.rules[clause.rule].id
                    problem = Problem(
                        rule, f"holds where {axis} is at its mildest: it points against the fact."
                    )
                    if problem not in self.problems:
                        self.problems.append(problem)

    def _grid(self, table: Table, grid: Grid, age: str) -> None:
        judged: dict[int, int] = {}
        urgencies = bytearray()
        for mask in grid.masks():
            urgency = judged.get(mask)
            if urgency is None:
                urgency = judged[mask] = self._judge(table, mask)
            urgencies.append(urgency)
        self.points += len(urgencies)
        self._monotone(grid, bytes(urgencies), age)

    def _judge(self, table: Table, mask: int) -> int:
        """The urgency where exactly the clauses of `mask` are not refused, through both rounds."""
        shift = len(table.first.clauses)
        held = table.first.marked(mask & ((1 << shift) - 1))
        outcomes = self.rules.outcomes(held)
        second = mask >> shift
        for axis, cells in table.second.cells.items():
            if axis in outcomes:
                second &= cells.mask(outcomes[axis])
            elif self.rules.vocabulary.axes[axis].kind is AxisKind.outcome:
                second &= ~cells.touched
        fired = {clause.rule for clause in (*held, *table.second.marked(second))}
        self.alive |= fired
        ranked = sorted(fired, key=lambda index: -self.rules.rules[index].urgency)
        levels = [self.rules.rules[index].urgency for index in ranked[:2]]
        if len(levels) == 1 or (levels and levels[0] > levels[1]):
            self.decisive.add(ranked[0])
        return int(levels[0]) if levels else 0

    def _monotone(self, grid: Grid, urgencies: bytes, age: str) -> None:
        """Compare all neighbours; of those that break the order name the one with the mildest facts."""
        broken: list[tuple[int, int, int]] = []
        for place, stride, cells in grid.neighbours():
            for start in range(0, len(urgencies), stride * cells):
                milder = urgencies[start : start + stride * (cells - 1)]
                worse = urgencies[start + stride : start + stride * cells]
                if not all(map(le, milder, worse)):
                    pairs = zip(milder, worse, strict=True)
                    broken += [(start + n, stride, place) for n, (a, b) in enumerate(pairs) if a > b]
        if broken:
            index, stride, place = min(broken, key=lambda found: (sum(grid.cells(found[0])), found))
            before, after = Urgency(urgencies[index]).name, Urgency(urgencies[index + stride]).name
            facts = self._words(grid, index, place)
            worse_fact = self._word(grid, place, grid.cells(index)[place] + 1)
            self.problems.append(
                Problem("rules", f"{age}, {facts}: {before}; but with {worse_fact}, which is worse: {after}.")
            )

    def _words(self, grid: Grid, index: int, always: int) -> str:
        """The facts at a point that are not at their mildest, and the one that is about to change."""
        cells = grid.cells(index)
        return ", ".join(self._word(grid, n, cell) for n, cell in enumerate(cells) if cell or n == always)

    def _word(self, grid: Grid, place: int, cell: int) -> str:
        cut = grid.axes[place]
        axis = self.rules.vocabulary.axes[cut.id]
        low = cut.low_ends[cell]
        if low is None:
            return f"{cut.id} fine"
        if axis.kind is AxisKind.flag:
            return f"{cut.id} {axis.worse_word}"
        if axis.kind is AxisKind.choice:
            return f"{cut.id} {axis.values[int(low) - 1]}"
        return f"{cut.id} {axis.direction * low:g}"


def _unwritten(rules: RuleSet, texts: Set[str] | None) -> Iterator[Problem]:
    for rule in rules.rules:
        if not rule.source.strip():
            yield Problem(rule.id, "has no source.")
        if not rule.advice.strip():
            yield Problem(rule.id, "has no text for her.")
        elif texts is not None and rule.advice not in texts | {NOTHING}:
            yield Problem(rule.id, f"sends {rule.advice}, which is not a text.")


def _untold(rules: RuleSet, untold: Mapping[str, Collection[str]]) -> Iterator[Problem]:
    """What is urgent must be said to her in her own language."""
    for rule in rules.rules:
        if rule.urgency > Urgency.routine and untold.get(rule.advice):
            missing = ", ".join(sorted(untold[rule.advice]))
            yield Problem(rule.id, f"sends {rule.advice}, which is not said in {missing}.")


def _idle(rules: RuleSet, walk: _Walk) -> Iterator[Problem]:
    for index, rule in enumerate(rules.rules):
        if index not in walk.alive:
            yield Problem(rule.id, "is dead: it holds at no age and no answer.")
        elif index not in walk.decisive:
            yield Problem(rule.id, "is shadowed: wherever it holds, another rule is at least as grave.")

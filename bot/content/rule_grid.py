"""The rules in force at one age -> grids that cover every combination of facts that can matter.

Each axis is cut where a comparison changes, so that all values of a cell are judged alike. The full product
over all axes is too large (over 90 of them); it is cut without loss:

- Axes that no rule joins, directly or through an outcome, are *independent*: the verdict is the gravest over
  the parts, so the parts are walked one by one with everything else at its mildest.
- A part that is still too large is cut at its *hubs*, the axes that join most rules (feeds, being small):
  for every cell of the hubs what remains falls apart into smaller parts again. Each grid is the full
  product of the hubs with one such part. With the hubs held, a step on another axis changes its own part
  only; a step on a hub is walked together with each part. So a verdict that gets milder anywhere gets
  milder in one of the grids.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import prod

from bot.core.triage_rules import Clause, RuleSet, Table

LARGEST = 20_000  # points of a grid, beyond which it is cut at a further hub


@dataclass(frozen=True, slots=True)
class CutAxis:
    """An axis in cells from mild to grave. `masks` are the clauses not refused: first round, then second."""

    id: str
    low_ends: tuple[float | None, ...]  # the badness at which a cell begins; None: the mildest cell
    masks: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Grid:
    """A full product of axes; a point's index counts the last axis fastest."""

    axes: tuple[CutAxis, ...]
    outside: int  # what the axes that are not walked allow at their mildest

    def __len__(self) -> int:
        return prod(len(axis.masks) for axis in self.axes)

    def masks(self) -> list[int]:
        """For each point the clauses that no fact refuses."""
        found = [self.outside]
        for axis in self.axes:
            found = [mask & cell for mask in found for cell in axis.masks]
        return found

    def neighbours(self) -> Iterator[tuple[int, int, int]]:
        """(axis, stride, cells): a point and the one `stride` later differ by one step on that axis."""
        stride = len(self)
        for place, axis in enumerate(self.axes):
            stride //= len(axis.masks)
            yield place, stride, len(axis.masks)

    def cells(self, index: int) -> list[int]:
        """The cell of each axis at a point."""
        found = []
        for _, stride, cells in self.neighbours():
            found.append(index // stride % cells)
        return found


class CutTable:
    """One table of rules, with its axes cut and the ways in which rules join them."""

    def __init__(self, rules: RuleSet, table: Table) -> None:
        self.rules, self.table = rules, table
        self.outcomes = {spec.axes[0].id: spec.every_ladder for spec in rules.vocabulary.outcomes}
        self.shift = len(table.first.clauses)

    @cached_property
    def axes(self) -> dict[str, CutAxis]:
        first, second = self.table.first.cells, self.table.second.cells
        ids = [id for id in self.rules.vocabulary.axes if (id in first or id in second)]
        return {id: self._cut(id) for id in ids if id not in self.outcomes}

    def _cut(self, id: str) -> CutAxis:
        rounds = ((self.table.first, 0), (self.table.second, self.shift))
        cuts = sorted({cut for clauses, _ in rounds if id in clauses.cells for cut in clauses.cells[id].cuts})
        masks = []
        for badness in [float("-inf"), *cuts]:
            mask = 0
            for clauses, shift in rounds:
                everything = (1 << len(clauses.clauses)) - 1
                cells = clauses.cells.get(id)
                mask |= (everything if cells is None else cells.mask(badness)) << shift
            masks.append(mask)
        return CutAxis(id, (None, *cuts), tuple(masks))

    def joins(self) -> Iterator[frozenset[str]]:
        """Sets of axes that a rule joins: its own, and those behind the outcomes that it looks at."""
        behind: dict[str, set[str]] = {}
        for clause in self.table.first.clauses:
            yield clause.axes
            behind.setdefault(self.rules.rules[clause.rule].ladder, set()).update(clause.axes)
        for clause in self.table.second.clauses:
            ladders = [ladder for id in clause.axes & self.outcomes.keys() for ladder in self.outcomes[id]]
            indirect = (behind.get(ladder, set()) for ladder in ladders)
            yield frozenset(clause.axes - self.outcomes.keys()).union(*indirect)

    def grids(self) -> Iterator[tuple[Grid, frozenset[Clause]]]:
        """Grids that cover the table, each with the clauses that can hold in it."""
        joins = list(self.joins())
        clauses = [*self.table.first.clauses, *self.table.second.clauses]
        for part in _parts(self.axes, joins, frozenset()):
            hubs: frozenset[str] = frozenset()
            pieces = [part]
            while hubs != part and max(self._size(hubs | piece) for piece in pieces) > LARGEST:
                hubs |= {max(sorted(part - hubs), key=lambda id: sum(id in join for join in joins))}
                pieces = list(_parts(part, joins, hubs)) or [frozenset()]
            for piece in pieces:
                walked = hubs | piece
                inside = (c for c, join in zip(clauses, joins, strict=True) if join <= walked)
                yield self._grid(walked), frozenset(inside)

    def _size(self, ids: Iterable[str]) -> int:
        return prod(len(self.axes[id].masks) for id in ids)

    def _grid(self, walked: frozenset[str]) -> Grid:
        outside = (1 << (self.shift + len(self.table.second.clauses))) - 1
        for id, axis in self.axes.items():
            if id not in walked:
                outside &= axis.masks[0]
        return Grid(tuple(axis for id, axis in self.axes.items() if id in walked), outside)


def _parts(
    ids: Iterable[str], joins: Sequence[frozenset[str]], hubs: frozenset[str]
) -> Iterator[frozenset[str]]:
    """The axes fallen apart into parts that no rule joins once the hubs are held."""
    part_of = {id: frozenset({id}) for id in ids if id not in hubs}
    for join in joins:
        touched = [part_of[id] for id in join if id in part_of]
        if len(touched) > 1:
            whole = frozenset().union(*touched)
            part_of.update(dict.fromkeys(whole, whole))
    yield from dict.fromkeys(part_of.values())

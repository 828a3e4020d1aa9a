"""Two rule sets over the same judgements: what a change would have raised, dropped, made graver or milder.

Judgements come in, each with what either rule set says of it; counts and changes go out. All is counted once
a pair and local day by the gravest, as a counsellor meets it: many judgements of one day are one item.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from itertools import groupby
from typing import Literal
from uuid import UUID

from bot.core.states import Urgency
from bot.core.triage import Finding, Verdict

Kind = Literal["new", "lost", "graver", "milder"]


@dataclass(frozen=True, slots=True)
class Judged:
    """One stored judgement of a baby with its mother, on a local day, under both rule sets."""

    pair: UUID
    day: date
    before: Verdict
    after: Verdict


@dataclass(frozen=True, slots=True)
class Change:
    """A pair's day on which the gravest differs; `why` are the findings that only one rule set has."""

    pair: UUID
    day: date
    kind: Kind
    before: Urgency
    after: Urgency
    why: tuple[Finding, ...]


@dataclass(slots=True)
class Tally:
    """`days` are local days with at least one judgement; the load is what they hold by urgency."""

    judgements: int = 0
    pairs: int = 0
    days: set[date] = field(default_factory=set)
    before: Counter[Urgency] = field(default_factory=Counter)
    after: Counter[Urgency] = field(default_factory=Counter)
    kinds: Counter[tuple[Kind, Urgency]] = field(default_factory=Counter)  # by the graver of the two
    rules: Counter[tuple[str, Literal["gained", "dropped"]]] = field(default_factory=Counter)
    differing: Counter[UUID] = field(default_factory=Counter)

    def load(self, urgency: Urgency) -> tuple[float, float]:
        """Pairs a day at that urgency, before and after; 0 where nothing was judged."""
        days = len(self.days) or 1
        return self.before[urgency] / days, self.after[urgency] / days


def compare(judged: Iterable[Judged], tally: Tally) -> Iterator[Change]:
    """Count into `tally`, and give each changed day of a pair. `judged` comes by pair, then by time; no more
    than one pair is held at once."""
    for pair, of_pair in groupby(judged, key=lambda each: each.pair):
        tally.pairs += 1
        days: dict[date, list[Judged]] = {}
        for each in of_pair:
            days.setdefault(each.day, []).append(each)
        for day, of_day in sorted(days.items()):
            change = _day(pair, day, of_day, tally)
            if change is not None:
                tally.differing[pair] += 1
                yield change


def _day(pair: UUID, day: date, judged: list[Judged], tally: Tally) -> Change | None:
    tally.judgements += len(judged)
    tally.days.add(day)
    before = {found.rule: found for each in judged for found in each.before.fired}
    after = {found.rule: found for each in judged for found in each.after.fired}
    for rule in after.keys() - before.keys():
        tally.rules[rule, "gained"] += 1
    for rule in before.keys() - after.keys():
        tally.rules[rule, "dropped"] += 1
    one, two = (max((v.urgency for v in verdicts), default=Urgency.none) for verdicts in _sides(judged))
    tally.before[one] += 1
    tally.after[two] += 1
    if one is two:
        return None
    kind = _kind(one, two)
    tally.kinds[kind, max(one, two)] += 1
    graver, milder = (after, before) if two > one else (before, after)
    why = [found for rule, found in graver.items() if milder.get(rule) != found]
    return Change(pair, day, kind, one, two, tuple(sorted(why, key=lambda found: -found.urgency)))


def _sides(judged: list[Judged]) -> tuple[list[Verdict], list[Verdict]]:
    return [each.before for each in judged], [each.after for each in judged]


def _kind(before: Urgency, after: Urgency) -> Kind:
    if before is Urgency.none:
        return "new"
    if after is Urgency.none:
        return "lost"
    return "graver" if after > before else "milder"

"""messages/facts.toml and messages/rules/*.toml -> a compiled `RuleSet` and the occasions, or every fault.

A rule reads aloud: "all: feeds_few at most 5; baby_small is yes". A comparison may only point the way in
which its fact gets worse; one that points the other way is refused here.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from math import inf, nextafter
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from bot.content.vocabulary import Words, read_entry, read_vocabulary
from bot.core.errors import Invalid, Problem
from bot.core.facts import Axis, AxisKind, Vocabulary
from bot.core.states import Urgency
from bot.core.triage_rules import Comparison, Occasion, Rule, RuleSet, Window

OCCASIONS = "occasions.toml"
COMPARISON = re.compile(r"^(\w+) (at most|below|at least|above|is) (\S+)$")
TOWARDS = {"at most": -1, "below": -1, "at least": 1, "above": 1}
UrgencyName = Literal["routine", "same_day", "go_now"]


class AgeEntry(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)

    k_from: int = Field(default=0, ge=0)
    k_to: int | None = Field(default=None, ge=0)
    hours_from: int = Field(default=0, ge=0)
    hours_under: int | None = Field(default=None, gt=0)

    def build(self) -> Window:
        return Window(self.k_from, self.k_to, self.hours_from, self.hours_under)


class RuleEntry(BaseModel):
    """One table of a rules file, as written."""

    model_config = ConfigDict(extra="forbid", strict=True)

    urgency: UrgencyName
    ladder: str = ""
    age: AgeEntry = AgeEntry()
    all: list[str] = []
    any: list[str] = []
    why: Words
    source: Words
    mark: Literal["seen in part", "memory", "common practice", "site protocol"]
    advice: Words
    ask: Words
    shadow: bool = False


class OccasionEntry(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)

    urgency: UrgencyName
    why: Words
    source: Words
    ask: Words
    wakes: bool = False


def load_rules(root: Path) -> RuleSet:
    """Read the factory rules.

    root     the folder that holds messages/
    Invalid  with every fault of all files, each led by file and rule
    """
    problems: list[Problem] = []
    facts = _parse(root / "messages" / "facts.toml", problems)
    files = {path.name: _parse(path, problems) for path in _files(root) if path.name != OCCASIONS}
    rules, more = rules_from(facts, files)
    if problems or more:
        raise Invalid([*problems, *more])
    return rules


def load_occasions(root: Path) -> Mapping[str, Occasion]:
    """Read what needs a person though no clinical rule held, by id. Arguments, errors: see `load_rules`."""
    problems: list[Problem] = []
    found: dict[str, Occasion] = {}
    for id, raw in _parse(root / "messages" / "rules" / OCCASIONS, problems).items():
        entry = read_entry(OccasionEntry, raw, f"{OCCASIONS} [{id}]", problems)
        if entry is not None:
            found[id] = Occasion(id, Urgency[entry.urgency], entry.why, entry.source, entry.ask, entry.wakes)
    if problems:
        raise Invalid(problems)
    return found


def rules_from(
    facts: Mapping[str, Any], files: Mapping[str, Mapping[str, Any]]
) -> tuple[RuleSet, list[Problem]]:
    """Build the rules from parsed files (name -> tables); rules with faults are left out and named."""
    vocabulary, problems = read_vocabulary(facts)
    rules: dict[str, Rule] = {}
    for name, tables in files.items():
        for id, raw in tables.items():
            where = f"{name} [{id}]"
            before = len(problems)
            entry = read_entry(RuleEntry, raw, where, problems)
            rule = None if entry is None else _build(id, entry, vocabulary, where, problems)
            if id in rules:
                problems.append(Problem(where, "This id stands twice; ids are for ever and for one rule."))
            elif rule is not None and len(problems) == before:
                rules[id] = rule
    problems += _loops(rules.values(), vocabulary)
    problems += _unknown_ladders(rules.values(), vocabulary)
    # By id, not as they stand: PostgreSQL gives an edition's body back with its keys in another order, and
    # of two findings as grave as each other the first one's advice is told.
    return RuleSet(vocabulary, tuple(rules[id] for id in sorted(rules))), problems


def _build(
    id: str, entry: RuleEntry, vocabulary: Vocabulary, where: str, problems: list[Problem]
) -> Rule | None:
    if not entry.all and not entry.any:
        problems.append(Problem(where, "Write at least one comparison under all or any."))
    every = _comparisons(entry.all, vocabulary, f"{where} all", problems)
    some = _comparisons(entry.any, vocabulary, f"{where} any", problems)
    subjects = {vocabulary.facts[vocabulary.axes[c.axis].fact].subject for c in (*every, *some)}
    marked = entry.source if entry.source.startswith(entry.mark) else f"{entry.source} ({entry.mark})"
    return Rule(
        id=id,
        urgency=Urgency[entry.urgency],
        why=entry.why,
        source=marked,
        subject="mother" if "mother" in subjects else "baby",
        advice=entry.advice,
        ask=entry.ask,
        ladder=entry.ladder or id,
        window=entry.age.build(),
        all=tuple(every),
        any=tuple(some),
        shadow=entry.shadow,
    )


def _comparisons(
    texts: Iterable[str], vocabulary: Vocabulary, where: str, problems: list[Problem]
) -> list[Comparison]:
    found = []
    for text in texts:
        try:
            found.append(comparison(text, vocabulary))
        except ValueError as fault:
            problems.append(Problem(where, f'"{text}": {fault}'))
    return found


def comparison(text: str, vocabulary: Vocabulary) -> Comparison:
    """Read one comparison. ValueError says what is wrong with it."""
    match = COMPARISON.match(text)
    if match is None:
        raise ValueError("Write a fact, then at most, below, at least, above or is, then a value.")
    id, operator, value = match.groups()
    axis = vocabulary.axes.get(id)
    if axis is None:
        spec = vocabulary.facts.get(id)
        if spec and spec.axes:
            raise ValueError(f"{id} has more than one direction: {', '.join(a.id for a in spec.axes)}.")
        raise ValueError(f"{id} is not a fact to judge.")
    return Comparison(id, _bound(axis, operator, value), text)


def _bound(axis: Axis, operator: str, value: str) -> float:
    """The badness from which the comparison holds."""
    if axis.kind is AxisKind.flag:
        if operator != "is" or value not in ("yes", "no"):
            raise ValueError("This fact takes 'is yes' or 'is no'.")
        if value != axis.worse_word:
            raise ValueError(f"This points against the fact: it is worse when {axis.worse_word}.")
        return 1.0
    if operator == "is":
        raise ValueError("This fact takes at most, below, at least or above.")
    if TOWARDS[operator] != axis.direction:
        worse = "more" if axis.direction > 0 else "less"
        raise ValueError(f"This points against the fact: {worse} is worse.")
    bound = axis.direction * _number(axis, value)
    return nextafter(bound, inf) if operator in ("above", "below") else bound


def _number(axis: Axis, value: str) -> float:
    if axis.kind is AxisKind.choice:
        if value not in axis.values:
            raise ValueError(f"Use one of {', '.join(axis.values)}.")
        return float(axis.values.index(value) + 1)
    if axis.kind is AxisKind.outcome and value in Urgency.__members__:
        return float(Urgency[value])
    try:
        return float(value)
    except ValueError:
        raise ValueError(f"{value} is not a number.") from None


def _loops(rules: Iterable[Rule], vocabulary: Vocabulary) -> Iterator[Problem]:
    """A rule that looks at an outcome may not stand on a ladder that an outcome looks at."""
    outcomes = {spec.id for spec in vocabulary.outcomes}
    watched = {ladder for spec in vocabulary.outcomes for ladder in spec.every_ladder}
    for rule in rules:
        if rule.ladder in watched and outcomes & {c.axis for c in (*rule.all, *rule.any)}:
            yield Problem(f"[{rule.id}]", f"looks at an outcome, so it may not stand on {rule.ladder}.")


def _unknown_ladders(rules: Iterable[Rule], vocabulary: Vocabulary) -> Iterator[Problem]:
    ladders = {rule.ladder for rule in rules if not rule.shadow}
    for spec in vocabulary.outcomes:
        for ladder in spec.every_ladder:
            if ladder not in ladders:
                yield Problem(f"facts.toml [{spec.id}]", f"No rule stands on the ladder {ladder}.")


def _files(root: Path) -> list[Path]:
    return sorted((root / "messages" / "rules").glob("*.toml"))


def _parse(path: Path, problems: list[Problem]) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text("utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as fault:
        problems.append(Problem(path.name, f"This can't be read as TOML: {fault}"))
        return {}

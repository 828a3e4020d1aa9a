"""Facts and rules -> a verdict: how soon a person must act, why, and what was just inside its threshold.

A missing fact fires nothing; no rule cancels another; the gravest leads and none is dropped, except that of
the steps of one ladder (feeds under 8, 4 or 5, 3 or fewer) only the gravest that holds is a finding.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from bot.core.facts import Facts
from bot.core.facts_judged import Badness, judged
from bot.core.facts_read import facts_from_json
from bot.core.states import Urgency
from bot.core.triage_rules import Clause, Occasion, Rule, RuleSet, Table

# What the steps after triage need of it, under one roof.
__all__ = [
    "Facts",
    "Finding",
    "NearMiss",
    "Occasion",
    "RuleSet",
    "Verdict",
    "facts_from_json",
    "to_json",
    "triage",
]


@dataclass(frozen=True, slots=True)
class Finding:
    """A rule that held: `advice` is the key of the text to her, `ask` what the counsellor should ask."""

    rule: str
    urgency: Urgency
    why: str
    source: str
    subject: str  # baby or mother
    advice: str
    ask: str


@dataclass(frozen=True, slots=True)
class NearMiss:
    """A rule that would hold if the fact on `axis` were one step worse."""

    rule: str
    urgency: Urgency
    why: str
    axis: str


@dataclass(frozen=True, slots=True)
class Verdict:
    urgency: Urgency
    fired: tuple[Finding, ...]  # gravest first, then in the order of the rules
    just_inside: tuple[NearMiss, ...]
    shadow: tuple[str, ...] = ()  # ids of rules that are tried out and would have held


@dataclass(frozen=True, slots=True)
class Point:
    """Facts as judged: the badness on every axis, outcomes of rules too, with the clauses that held."""

    point: Badness
    table: Table
    held: list[Clause]


def point_of(facts: Facts, rules: RuleSet) -> Point:
    """Judge the facts in both rounds; the second looks at what held in the first."""
    point = judged(facts, rules.vocabulary)
    table = rules.table(facts.k, facts.youngest_hours)
    held = table.first.held(point)
    outcomes = rules.outcomes(held)
    if outcomes:
        point.update(outcomes)
        held += table.second.held(point)
    return Point(point, table, held)


def triage(facts: Facts, rules: RuleSet) -> Verdict:
    """Judge one baby with its mother. Total: any `Facts` that speak the rules' vocabulary get a verdict."""
    at = point_of(facts, rules)
    point, table, held = at.point, at.table, at.held
    fired = _gravest_steps(rules.rules, held)
    near = [
        (rules.rules[clause.rule], axis)
        for stage in (table.first, table.second)
        for clause, axis in stage.within_a_step(point, rules.steps)
    ]
    tried = table.shadow.held(point) if table.shadow.clauses else ()
    return Verdict(
        urgency=fired[0].urgency if fired else Urgency.none,
        fired=tuple(_finding(rule) for rule in fired),
        just_inside=_near_misses(near, fired),
        shadow=tuple(rule.id for rule in _gravest_steps(rules.rules, tried)),
    )


def _gravest_steps(rules: Sequence[Rule], held: Iterable[Clause]) -> list[Rule]:
    """The rules that held, gravest first, without the milder steps of a ladder."""
    indexes = sorted({clause.rule for clause in held})
    gravest: dict[str, Urgency] = {}
    for index in indexes:
        rule = rules[index]
        gravest[rule.ladder] = max(gravest.get(rule.ladder, Urgency.none), rule.urgency)
    fired = [rules[i] for i in indexes if rules[i].urgency == gravest[rules[i].ladder]]
    return sorted(fired, key=lambda rule: -rule.urgency)


def _near_misses(near: Iterable[tuple[Rule, str]], fired: Sequence[Rule]) -> tuple[NearMiss, ...]:
    """Each rule once, gravest first; a step below one that fired on its ladder says nothing new."""
    reached = {rule.ladder: rule.urgency for rule in fired}
    found: dict[str, NearMiss] = {}
    for rule, axis in near:
        if rule.urgency > reached.get(rule.ladder, Urgency.none):
            found.setdefault(rule.id, NearMiss(rule.id, rule.urgency, rule.why, axis))
    return tuple(sorted(found.values(), key=lambda miss: -miss.urgency))


def _finding(rule: Rule) -> Finding:
    return Finding(rule.id, rule.urgency, rule.why, rule.source, rule.subject, rule.advice, rule.ask)


def to_json(verdict: Verdict) -> dict[str, Any]:
    """The answer of `dunnock triage`: urgencies by name, findings gravest first."""
    return {
        "urgency": verdict.urgency.name,
        "findings": [
            {"rule": f.rule, "urgency": f.urgency.name, "why": f.why, "source": f.source}
            for f in verdict.fired
        ],
        "just_inside": [
            {"rule": miss.rule, "urgency": miss.urgency.name, "why": miss.why, "fact": miss.axis}
            for miss in verdict.just_inside
        ],
        "shadow": list(verdict.shadow),
    }

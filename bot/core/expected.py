"""What is expected of a baby at an age, read off the rules: the mildest value at which no rule about that one
fact holds. So the screens and the rules can't disagree."""

from __future__ import annotations

from bot.core.triage_rules import RuleSet

HOURS = 24


def least_expected(rules: RuleSet, axis: str, k: int) -> float | None:
    """Give the smallest value on `axis` (fewer is worse, such as feeds_few) that no rule objects to on day of
    life `k`, or None where no rule looks at it alone."""
    bounds = _bounds(rules, axis, k)
    return None if not bounds else -min(bounds) + rules.steps.get(axis, 0)


def most_expected(rules: RuleSet, axis: str, k: int) -> float | None:
    """Give the largest value on `axis` (more is worse, such as pain) that no rule objects to on day `k`."""
    bounds = _bounds(rules, axis, k)
    return None if not bounds else min(bounds) - rules.steps.get(axis, 0)


def _bounds(rules: RuleSet, axis: str, k: int) -> list[float]:
    table = rules.table(k, k * HOURS)
    return [
        clause.comparisons[0].bound
        for clause in table.first.clauses
        if len(clause.comparisons) == 1 and clause.comparisons[0].axis == axis
    ]

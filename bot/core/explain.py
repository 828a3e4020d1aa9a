"""Why a rule held, or nearly did: the facts of one judgement beside what the rule compares.

In: `Facts`, the rules and a rule's id. Out: each comparison that matters with the value that was judged.
"""

from __future__ import annotations

from dataclasses import dataclass

from bot.core.facts import Axis, AxisKind, Facts
from bot.core.triage import point_of
from bot.core.triage_rules import Comparison, RuleSet


@dataclass(frozen=True, slots=True)
class Compared:
    """One comparison of a rule. `value` is the number, the choice, yes or no, an urgency, or how many matters
    held; None where nothing is known. `operator` and `bound` are as the rule says them ('at most', '5')."""

    axis: Axis
    value: float | str | bool | None
    operator: str
    bound: str
    met: bool


def compared(facts: Facts, rules: RuleSet, id: str) -> tuple[Compared, ...]:
    """Give what a rule compares: all of `all`, and of `any` what was met, or everything where nothing was.

    Empty where the rules do not hold this rule any more.
    """
    rule = rules.rule(id)
    if rule is None:
        return ()
    point = point_of(facts, rules).point
    every = [_compared(each, point, rules) for each in rule.all]
    some = [_compared(each, point, rules) for each in rule.any]
    return (*every, *([each for each in some if each.met] or some))


def _compared(comparison: Comparison, point: dict[str, float], rules: RuleSet) -> Compared:
    axis = rules.vocabulary.axes[comparison.axis]
    badness = point.get(axis.id)
    _, *operator, bound = comparison.text.split()
    met = badness is not None and comparison.holds(badness)
    return Compared(axis, _value(axis, badness), " ".join(operator), bound, met)


def _value(axis: Axis, badness: float | None) -> float | str | bool | None:
    if axis.kind is AxisKind.flag:
        return (badness is not None) is (axis.worse_word == "yes")
    if badness is None:
        return None
    if axis.kind is AxisKind.choice:
        return axis.values[int(badness) - 1]
    return axis.direction * badness

"""The compiled tables say what the rules say when they are read one by one."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from bot.content.rules import load_rules
from bot.content.source import content_root
from bot.core.facts import Kind
from bot.core.triage_rules import Comparison, Rule, Window

RULES = load_rules(content_root())
OUTCOMES = {spec.axes[0].id: spec for spec in RULES.vocabulary.outcomes}
GIVEN_AXES = sorted(
    axis.id
    for axis in RULES.vocabulary.axes.values()
    if RULES.vocabulary.facts[axis.fact].kind is not Kind.outcome
)
BOUNDS: dict[str, list[float]] = {}
for rule in RULES.rules:
    for comparison in (*rule.all, *rule.any):
        BOUNDS.setdefault(comparison.axis, []).append(comparison.bound)


def holds(rule: Rule, point: dict[str, float]) -> bool:
    def true(comparison: Comparison) -> bool:
        return comparison.axis in point and comparison.holds(point[comparison.axis])

    return all(map(true, rule.all)) and (not rule.any or any(map(true, rule.any)))


def read_one_by_one(k: int, hours: float, point: dict[str, float]) -> set[str]:
    active = [rule for rule in RULES.rules if rule.window.holds(k, hours)]
    first = [rule for rule in active if holds(rule, point)]
    full = dict(point)
    for id, spec in OUTCOMES.items():
        levels = {
            ladder: max(rule.urgency for rule in first if rule.ladder in ladder)
            for ladder in spec.ladders
            if any(rule.ladder in ladder for rule in first)
        }
        if levels:
            full[id] = len(levels) if spec.count else max(levels.values())
    return {rule.id for rule in active if holds(rule, full)}


@st.composite
def points(draw: st.DrawFn) -> dict[str, float]:
    """Values just below, at and just above the bounds of the axes drawn."""
    axes = draw(st.lists(st.sampled_from(GIVEN_AXES), max_size=10, unique=True))
    return {
        axis: draw(st.sampled_from(BOUNDS.get(axis, [1.0]))) + draw(st.sampled_from([-0.5, 0.0, 0.5]))
        for axis in axes
    }


@given(st.integers(0, 60), st.floats(0, 1500), points())
def test_tables_hold_the_same_rules_as_reading_them_one_by_one(k, hours, point):
    table = RULES.table(k, hours)
    held = table.first.held(point)
    outcomes = RULES.outcomes(held)
    if outcomes:
        held = [*held, *table.second.held(point | outcomes)]
    assert {RULES.rules[clause.rule].id for clause in held} == read_one_by_one(k, hours, point)


def test_both_ends_of_k_count_and_only_the_first_of_hours():
    window = Window(k_from=2, k_to=4, hours_from=24, hours_under=72)
    assert [k for k in range(7) if window.holds(k, 30)] == [2, 3, 4]
    assert [h for h in (23.9, 24, 71.9, 72) if window.holds(3, h)] == [24, 71.9]


def test_a_rule_is_found_by_its_id_and_an_occasion_is_none():
    found = RULES.rule("feeds-under-8")
    assert found is not None
    assert (found.ladder, RULES.advice("feeds-under-8")) == ("feeds-few", "advice-routine")
    assert RULES.advice("call_me") is None

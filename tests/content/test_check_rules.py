"""The proof of the rules holds for the factory rules, and finds each way in which a rule can be broken."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from itertools import product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.content import rule_grid
from bot.content.check_rules import prove
from bot.content.rules import load_rules, rules_from
from bot.content.source import content_root
from bot.core.facts import Axis, AxisKind, FactSpec, Kind, Vocabulary
from bot.core.states import Urgency
from bot.core.triage_rules import NOTHING, Comparison, Rule, RuleSet, Window

FACTORY = load_rules(content_root())
MESSAGES = content_root() / "messages"
FACTS = tomllib.loads((MESSAGES / "facts.toml").read_text("utf-8"))
FILES = {
    path.name: tomllib.loads(path.read_text("utf-8"))
    for path in sorted((MESSAGES / "rules").glob("*.toml"))
    if path.stem != "occasions"
}
NEW = {
    "urgency": "routine",
    "why": "A rule written to be wrong.",
    "source": "common practice, no source",
    "mark": "common practice",
    "advice": "advice-routine",
    "ask": "Nothing.",
}


def with_rule(id: str, **entry: Any) -> RuleSet:
    """The factory rules and one more, read from data as the files are."""
    rules, problems = rules_from(FACTS, {**FILES, "new.toml": {id: NEW | entry}})
    assert not problems
    return rules


def faults(rules: RuleSet) -> dict[str, str]:
    return {problem.field: problem.message for problem in prove(rules).problems}


def test_the_factory_rules_are_total_monotone_and_none_is_idle():
    proof = prove(FACTORY)
    assert proof.problems == ()
    assert proof.points > 10_000
    assert f"{proof.points:,} points" in proof.line
    assert "cut at every threshold" in proof.line


def test_a_rule_whose_ages_exclude_each_other_is_dead():
    assert "dead" in faults(with_rule("wrong", all=["worry is yes"], age={"k_from": 5, "k_to": 4}))["wrong"]


def test_a_rule_in_force_at_hours_that_its_day_cannot_have_is_dead():
    assert (
        "dead"
        in faults(with_rule("wrong", all=["worry is yes"], age={"k_from": 10, "hours_under": 24}))["wrong"]
    )


def test_a_rule_that_always_stands_beside_a_graver_one_is_shadowed():
    found = faults(with_rule("wrong", all=["feeds_few at most 3", "convulsions is yes"]))
    assert "shadowed" in found["wrong"]


def test_a_rule_shadowed_through_an_outcome_is_found():
    found = faults(with_rule("wrong", all=["worry is yes", "feeds_finding at least go_now"]))
    assert "shadowed" in found["wrong"]


def test_a_rule_that_points_against_its_fact_is_found_with_the_smallest_example():
    backwards = Comparison("pain", 3, "pain below 3", worse_side=False)
    sign = Comparison("low_mood", 1, "low_mood is yes")
    wrong = replace(
        FACTORY.rules[0], id="wrong", ladder="wrong", urgency=Urgency.go_now, window=Window(), any=()
    )
    found = prove(
        RuleSet(FACTORY.vocabulary, (*FACTORY.rules, replace(wrong, all=(backwards, sign))))
    ).problems
    assert [p.message for p in found if p.field == "wrong"] == [
        "holds where pain is at its mildest: it points against the fact."
    ]
    assert {p.message for p in found if p.field == "rules"} >= {
        "at 0 hours, pain fine, low_mood yes: go_now; but with pain 3, which is worse: routine."
    }


def test_a_rule_without_a_source_or_with_a_text_that_is_missing_is_found():
    first, *rest = FACTORY.rules
    rules = RuleSet(FACTORY.vocabulary, (replace(first, source=" ", advice="advice-unknown"), *rest))
    texts = {rule.advice for rule in FACTORY.rules}
    messages = [p.message for p in prove(rules, texts).problems if p.field == first.id]
    assert messages == ["has no source.", "sends advice-unknown, which is not a text."]


def test_every_text_that_a_rule_sends_exists():
    texts = {
        key for path in (MESSAGES / "texts").glob("*.toml") for key in tomllib.loads(path.read_text("utf-8"))
    }
    assert {rule.advice for rule in FACTORY.rules} <= texts | {NOTHING}


def test_an_urgent_text_that_a_language_lacks_is_found():
    found = prove(FACTORY, untold={"advice-go-now": ["sw", "am"], "advice-routine": ["sw"]}).problems
    wrong = {p.field: p.message for p in found}
    assert wrong["baby-convulsions"] == "sends advice-go-now, which is not said in am, sw."
    assert not any(rule.urgency is Urgency.routine for rule in FACTORY.rules if rule.id in wrong)


def test_a_threshold_moved_past_the_next_step_is_found_with_what_it_leaves_idle():
    """Breaking a rule on purpose: 'at most 7' of the routine step becomes 'at most 3'."""
    files = {name: dict(tables) for name, tables in FILES.items()}
    files["feeds.toml"]["feeds-under-8"] = {
        **files["feeds.toml"]["feeds-under-8"],
        "all": ["feeds_few at most 3"],
    }
    rules, problems = rules_from(FACTS, files)
    assert not problems
    # And the trend 'too few and dropping', which asks whether any rule on too few feeds holds.
    assert faults(rules) == dict.fromkeys(
        ("feeds-under-8", "feeds-fallen-third-to-few"),
        "is shadowed: wherever it holds, another rule is at least as grave.",
    )


def test_a_rule_in_the_shadow_is_not_called_dead_and_changes_nothing():
    proof = prove(with_rule("tried", urgency="go_now", all=["worry is yes", "pain at least 2"], shadow=True))
    assert proof.problems == ()


def test_a_fault_of_a_rule_in_the_shadow_is_found_before_it_counts():
    found = faults(with_rule("tried", all=["feeds_few at most 3", "convulsions is yes"], shadow=True))
    assert found["tried"].startswith("if the shadow counted: is shadowed")


# -- the cutting into grids loses nothing: compared with the full product, on small random rule sets --------

AXES = "abcdef"


def small_vocabulary() -> Vocabulary:
    def number(id: str) -> FactSpec:
        return FactSpec(id, Kind.number, id, "test", axes=(Axis(id, id, AxisKind.number),))

    outcome = FactSpec(
        "found", Kind.outcome, "found", "test", axes=(Axis("found", "found", AxisKind.outcome),),
        ladders=(("l0",), ("l1",), ("l2",)), count=True,
    )  # fmt: skip
    return Vocabulary({**{id: number(id) for id in AXES}, "found": outcome})


@st.composite
def rule_sets(draw: st.DrawFn, backwards: bool) -> RuleSet:
    def comparison(axis: str) -> Comparison:
        worse_side = not backwards or draw(st.integers(0, 5)) > 0
        return Comparison(axis, draw(st.integers(1, 2)), worse_side=worse_side)

    rules = []
    for n in range(draw(st.integers(2, 7))):
        axes = draw(st.lists(st.sampled_from(AXES), min_size=1, max_size=3, unique=True))
        second = draw(st.booleans()) and n > 1
        every = [comparison(axis) for axis in axes]
        if second:
            every.append(Comparison("found", draw(st.integers(1, 2))))
        urgency = draw(st.sampled_from([Urgency.routine, Urgency.same_day, Urgency.go_now]))
        ladder = f"r{n}" if second else f"l{n % 3}"
        rules.append(Rule(f"r{n}", urgency, "w", "s", "baby", "advice", "a", ladder, all=tuple(every)))
    return RuleSet(small_vocabulary(), tuple(rules))


def fired(rules: RuleSet, point: dict[str, float]) -> list[Rule]:
    """The rules that hold, read one by one and without tables."""
    first = [
        rule for rule in rules.rules if all(c.axis in point and c.holds(point[c.axis]) for c in rule.all)
    ]
    count = len({rule.ladder for rule in first if rule.ladder.startswith("l")})
    if not count:
        return first
    full = {**point, "found": count}
    return [r for r in rules.rules if all(c.axis in full and c.holds(full[c.axis]) for c in r.all)]


def urgency(rules: RuleSet, point: dict[str, float]) -> int:
    return max((rule.urgency for rule in fired(rules, point)), default=Urgency.none)


def full_product() -> list[dict[str, float]]:
    return [dict(zip(AXES, cells, strict=True)) for cells in product((0, 1, 2), repeat=len(AXES))]


def gets_milder(rules: RuleSet) -> bool:
    levels = {tuple(point.values()): urgency(rules, point) for point in full_product()}
    for cells, level in levels.items():
        for place, cell in enumerate(cells):
            worse = (*cells[:place], cell + 1, *cells[place + 1 :])
            if cell < 2 and levels[worse] < level:
                return True
    return False


@pytest.mark.parametrize("largest", [1, 30, 20_000])
def test_cut_grids_find_the_same_idle_rules_as_the_full_product(largest, monkeypatch):
    monkeypatch.setattr(rule_grid, "LARGEST", largest)

    @settings(max_examples=25)
    @given(rule_sets(backwards=False))
    def compare(rules: RuleSet) -> None:
        alive, decisive = set(), set()
        for point in full_product():
            held = sorted(fired(rules, point), key=lambda rule: -rule.urgency)
            alive |= {rule.id for rule in held}
            if len(held) == 1 or (held and held[0].urgency > held[1].urgency):
                decisive.add(held[0].id)
        every = {rule.id for rule in rules.rules}
        expected = dict.fromkeys(every - alive, "dead") | dict.fromkeys(alive - decisive, "shadowed")
        assert {p.field: p.message.split()[1].strip(":.") for p in prove(rules).problems} == expected

    compare()


@pytest.mark.parametrize("largest", [1, 30, 20_000])
def test_cut_grids_find_every_rule_set_that_gets_milder(largest, monkeypatch):
    monkeypatch.setattr(rule_grid, "LARGEST", largest)

    @settings(max_examples=25)
    @given(rule_sets(backwards=True))
    def compare(rules: RuleSet) -> None:
        problems = prove(rules).problems
        if gets_milder(rules):
            assert any(p.field == "rules" or "points against" in p.message for p in problems)
        else:
            assert all(p.field != "rules" for p in problems)

    compare()

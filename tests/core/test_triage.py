"""Triage judged by published cases, and by what must hold whatever the facts are."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.content.rules import load_occasions, load_rules
from bot.content.source import content_root
from bot.core.facts import FactSpec, Kind
from bot.core.facts_read import facts_from_json
from bot.core.risks import RISKS
from bot.core.states import Urgency
from bot.core.triage import Verdict, to_json, triage
from bot.core.triage_rules import Rule, RuleSet

RULES = load_rules(content_root())
CASES = tomllib.loads((content_root() / "messages" / "cases" / "triage.toml").read_text("utf-8"))["case"]


def judge(facts: dict[str, Any]) -> Verdict:
    return triage(facts_from_json(facts, RULES.vocabulary), RULES)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["says"])
def test_the_case_is_judged_as_its_source_says(case):
    verdict = judge(case["facts"])
    assert verdict.urgency.name == case["urgency"], to_json(verdict)
    if "rule" in case:
        assert case["rule"] in {finding.rule for finding in verdict.fired}


def test_every_row_of_the_check_table_is_a_case():
    assert {case["row"] for case in CASES if "row" in case} == set(range(1, 114))


def test_every_case_names_its_source():
    assert all(case["source"].strip() for case in CASES)


def test_every_rule_is_reached_by_a_case():
    reached = {finding.rule for case in CASES for finding in judge(case["facts"]).fired}
    assert {rule.id for rule in RULES.rules} - reached == set()


def test_a_death_is_an_occasion_for_a_person_the_same_day():
    assert load_occasions(content_root())["bereaved"].urgency is Urgency.same_day


@pytest.mark.parametrize(
    ("days", "more", "urgency"),
    [
        (1, {}, "routine"),
        (2, {}, "same_day"),
        (7, {}, "same_day"),
        (8, {}, "routine"),
        (8, {"birth_weight_g": 2300}, "same_day"),
    ],
)
def test_she_does_not_know_is_an_answer_of_its_own(days, more, urgency):
    """Common practice, no source: same_day on days 2 to 7 or at risk, otherwise routine."""
    asked = {"age_days": days, "answers": {"feeds": {"low": None, "high": None}}, **more}
    assert judge(asked).urgency.name == urgency
    assert judge({**asked, "answers": {"feeds": None}}).urgency is Urgency.none  # not asked


def test_that_she_did_not_know_before_does_not_mean_that_none_passed():
    told = {"age_days": 1, "age_hours": 30, "answers": {"wet_nappies": 0}}
    unknown = {"age_days": 0, "answers": {"wet_nappies": {"low": None, "high": None}}}
    assert [f.rule for f in judge({**told, "history": [unknown]}).fired] == ["wet-day-1-never"]
    assert judge({**told, "history": [unknown]}).fired == judge(told).fired


def test_every_id_of_the_reader_is_a_sign_of_triage():
    signs = tomllib.loads((content_root() / "messages" / "signs.toml").read_text("utf-8"))["sign"]
    assert {sign["id"] for sign in signs} <= RULES.vocabulary.signs


def test_findings_come_gravest_first_and_none_is_dropped():
    verdict = judge({"age_days": 7, "answers": {"feeds": 7, "pain": 8}, "danger_signs": ["convulsions"]})
    assert [(f.rule, f.urgency.name) for f in verdict.fired] == [
        ("baby-convulsions", "go_now"),
        ("pain-severe", "same_day"),
        ("feeds-under-8", "routine"),
    ]


def test_of_the_steps_of_a_ladder_only_the_gravest_is_a_finding():
    assert [f.rule for f in judge({"age_days": 7, "answers": {"feeds": 2}}).fired] == ["feeds-3-or-fewer"]


def test_a_rule_missed_by_one_step_is_just_inside():
    near = judge({"age_days": 7, "answers": {"feeds": 8, "wet_nappies": 7}}).just_inside
    assert [(miss.rule, miss.axis) for miss in near] == [("feeds-under-8", "feeds_few")]


def test_a_step_below_the_one_that_fired_is_not_shown_as_just_inside():
    near = judge({"age_days": 7, "answers": {"feeds": 4}}).just_inside
    assert [miss.rule for miss in near] == ["feeds-3-or-fewer"]


def test_self_harm_gets_a_neutral_text_and_a_call():
    (finding,) = judge({"age_days": 7, "danger_signs": ["self_harm"]}).fired
    assert (finding.subject, finding.advice) == ("mother", "advice-call-you")


def test_the_json_names_urgencies_and_keeps_the_order():
    told = to_json(judge({"age_days": 7, "answers": {"feeds": 5}}))
    assert told["urgency"] == "same_day"
    assert [set(finding) for finding in told["findings"]] == [{"rule", "urgency", "why", "source"}]


def with_shadow(**entry: Any) -> RuleSet:
    wound = RULES.rule("worry")
    assert wound is not None
    tried = replace(wound, id="tried", ladder="tried", shadow=True, **entry)
    return RuleSet(RULES.vocabulary, (*RULES.rules, tried))


def test_a_rule_in_the_shadow_is_counted_and_nothing_follows_from_it():
    facts = {"age_days": 7, "answers": {"worry": True}}
    rules = with_shadow(urgency=Urgency.go_now)
    verdict = triage(facts_from_json(facts, rules.vocabulary), rules)
    assert verdict.shadow == ("tried",)
    assert (verdict.urgency, [f.rule for f in verdict.fired]) == (Urgency.same_day, ["worry"])
    assert to_json(verdict)["shadow"] == ["tried"]


def test_a_rule_in_the_shadow_that_does_not_hold_is_not_counted():
    rules = with_shadow()
    assert triage(facts_from_json({"age_days": 7}, rules.vocabulary), rules).shadow == ()


def test_a_rule_in_the_shadow_feeds_no_outcome():
    """Two findings on feeding make same_day: one of them in the shadow does not count."""
    tried = replace(rule_of("feeds-under-8"), shadow=True)
    rules = RuleSet(RULES.vocabulary, tuple(tried if r.id == tried.id else r for r in RULES.rules))
    facts = {"age_days": 7, "answers": {"feeds": 7, "wet_nappies": 5}}
    verdict = triage(facts_from_json(facts, rules.vocabulary), rules)
    assert (verdict.urgency, verdict.shadow) == (Urgency.routine, ("feeds-under-8",))


def rule_of(id: str) -> Rule:
    rule = RULES.rule(id)
    assert rule is not None
    return rule


def test_every_fact_and_sign_is_listed_with_what_it_means_and_which_way_is_worse():
    lines = {line.split(":")[0]: line for line in RULES.describe_facts()}
    assert lines.keys() == RULES.vocabulary.facts.keys()
    for id, spec in RULES.vocabulary.facts.items():
        assert lines[id].endswith(spec.meaning)
        assert spec.kind in (Kind.record, Kind.outcome) or ("worse" in lines[id]) or "grave" in lines[id]
        assert spec.unit in lines[id]
        assert all(value in lines[id] for value in spec.values)


# -- whatever the facts are ------------------------------------------------------------------------------


def values_of(spec: FactSpec) -> st.SearchStrategy[Any]:
    if spec.kind is Kind.choice:
        return st.sampled_from(spec.values)
    if spec.kind is not Kind.number:
        return st.booleans()
    low, high = spec.lowest or 0, spec.highest or 0
    top = min(high, 20) if spec.whole else high
    ends = st.integers(int(low), int(top)) if spec.whole else st.floats(low, high)
    spans = st.tuples(ends, ends).map(sorted).map(lambda pair: {"low": pair[0], "high": pair[1]})
    opened = ends.flatmap(
        lambda n: st.sampled_from([{"low": a, "high": b} for a, b in ((n, None), (None, n), (None, None))])
    )
    return st.one_of(ends, spans, opened)


GIVEN = {
    id: values_of(spec)
    for id, spec in RULES.vocabulary.facts.items()
    if spec.kind in (Kind.number, Kind.flag, Kind.sign, Kind.choice)
}


@st.composite
def cases(draw: st.DrawFn) -> dict[str, Any]:
    age_days = draw(st.integers(0, 60))
    facts: dict[str, Any] = {"age_days": age_days}
    if draw(st.booleans()):
        facts["age_hours"] = draw(st.floats(max(0, 24 * age_days - 23), 24 * age_days + 23))
    if draw(st.booleans()):
        facts["birth_weight_g"] = draw(st.integers(400, 7000))
        facts["gestation_weeks"] = draw(st.floats(22, 45))
        days = draw(st.lists(st.integers(0, age_days), max_size=3, unique=True))
        facts["weights"] = [{"age_days": day, "grams": draw(st.integers(400, 7000))} for day in days]
    for id in draw(st.lists(st.sampled_from(sorted(GIVEN)), max_size=8, unique=True)):
        facts[id] = draw(GIVEN[id])
    if draw(st.booleans()):
        facts["risks"] = draw(st.lists(st.sampled_from(RISKS), max_size=2, unique=True))
        ages = sorted(draw(st.lists(st.integers(0, age_days), max_size=3, unique=True)))
        told = ("feeds", "wet_nappies", "pain")
        facts["history"] = [
            {"age_days": age, "answers": {key: draw(st.integers(0, 10)) for key in told}} for age in ages
        ]
    facts["danger_signs"] = draw(st.lists(st.sampled_from(sorted(RULES.vocabulary.signs)), max_size=3))
    return facts


@given(cases())
def test_any_facts_get_a_verdict_that_its_findings_explain(facts):
    verdict = judge(facts)
    assert verdict.urgency == max((f.urgency for f in verdict.fired), default=Urgency.none)


@given(cases(), st.sampled_from(sorted(RULES.vocabulary.signs)))
def test_one_more_sign_never_makes_it_milder(facts, sign):
    more = {**facts, "danger_signs": [*facts["danger_signs"], sign]}
    assert judge(more).urgency >= judge(facts).urgency


NUMBERS = sorted(
    axis.id
    for axis in RULES.vocabulary.axes.values()
    if RULES.vocabulary.facts[axis.fact].kind is Kind.number
)


@given(cases(), st.sampled_from(NUMBERS), st.data())
def test_a_worse_number_never_makes_it_milder(facts, axis_id, data):
    axis = RULES.vocabulary.axes[axis_id]
    spec = RULES.vocabulary.facts[axis.fact]
    low, high = int(spec.lowest or 0), int(min(spec.highest or 0, 100))
    first, second = sorted(data.draw(st.tuples(st.integers(low, high), st.integers(low, high))))
    # The other direction of the fact is held: only the end that this axis looks at gets worse.
    better, worse = (
        ({"low": first, "high": first}, {"low": first, "high": second})
        if axis.direction > 0
        else ({"low": second, "high": second}, {"low": first, "high": second})
    )
    assert judge({**facts, axis.fact: worse}).urgency >= judge({**facts, axis.fact: better}).urgency


@given(
    cases(), st.sampled_from(sorted(id for id, s in RULES.vocabulary.facts.items() if s.kind is Kind.flag))
)
def test_a_flag_on_its_worse_side_never_makes_it_milder(facts, id):
    worse = RULES.vocabulary.facts[id].axes[0].worse_word == "yes"
    if id in ("no_urine_since_birth", "no_stool_since_birth"):
        facts = {key: value for key, value in facts.items() if key not in ("wet_nappies", "dirty_nappies")}
    facts["danger_signs"] = [sign for sign in facts["danger_signs"] if sign != id]
    assert judge({**facts, id: worse}).urgency >= judge({**facts, id: not worse}).urgency


@given(cases(), st.sampled_from(["feeds", "wet_nappies", "pain"]), st.data())
def test_an_earlier_answer_that_was_better_never_makes_it_milder(facts, key, data):
    """A trend is worse the better it was before: more feeds, more wet nappies, less pain."""
    before, better = sorted(data.draw(st.tuples(st.integers(0, 10), st.integers(0, 10))))
    if key == "pain":
        before, better = better, before
    rest = {name: value for name, value in facts.items() if name != "history"}
    earlier = max(0, facts["age_days"] - 1)

    def told(value: int) -> dict[str, Any]:
        return {**rest, "history": [{"age_days": earlier, "answers": {key: value}}]}

    assert judge(told(better)).urgency >= judge(told(before)).urgency


@given(cases(), st.integers(500, 4000), st.integers(0, 500))
def test_a_lower_weight_never_makes_it_milder(facts, grams, less):
    at = facts["age_days"]
    base = {**facts, "birth_weight_g": 3500}
    lighter = judge({**base, "weights": [{"age_days": at, "grams": max(400, grams - less)}]})
    assert lighter.urgency >= judge({**base, "weights": [{"age_days": at, "grams": max(400, grams)}]}).urgency


@given(cases())
def test_a_baby_known_to_be_small_is_never_judged_milder(facts):
    rest = {key: value for key, value in facts.items() if key not in ("birth_weight_g", "weights")}
    small = {**rest, "gestation_weeks": 34}
    term = {**rest, "gestation_weeks": 40}
    assert judge(small).urgency >= judge(term).urgency

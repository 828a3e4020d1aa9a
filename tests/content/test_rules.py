"""Rules and facts as data: what is wrong in a file is refused, every fault at once."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest

from bot.content.factory import rules_body, rules_of
from bot.content.rules import load_occasions, load_rules, rules_from
from bot.content.source import content_root
from bot.core.errors import Invalid
from bot.core.states import Urgency

FACTS = tomllib.loads((content_root() / "messages" / "facts.toml").read_text("utf-8"))
OUTCOMES = ("feeds_finding", "wet_finding", "feeding_findings")
RULE: dict[str, Any] = {
    "urgency": "routine",
    "all": ["pain at least 4"],
    "why": "It hurts.",
    "source": "NIH Clinical Center 2003",
    "mark": "seen in part",
    "advice": "advice-routine",
    "ask": "Where?",
}


def faults(rules: dict[str, Any], facts: dict[str, Any] | None = None) -> list[str]:
    plain = {id: entry for id, entry in FACTS.items() if id not in OUTCOMES}
    _, problems = rules_from(plain | (facts or {}), {"pain.toml": rules})
    return [str(problem) for problem in problems]


def test_the_factory_rules_and_occasions_load():
    assert len(load_rules(content_root()).rules) > 100
    assert load_occasions(content_root())["unknown_number_danger"].urgency is Urgency.go_now


def test_a_rule_carries_its_source_with_its_mark():
    rules, _ = rules_from(FACTS, {"pain.toml": {"pain": RULE}})
    assert rules.rules[0].source == "NIH Clinical Center 2003 (seen in part)"


def test_a_good_rule_has_no_fault():
    assert faults({"pain": RULE}) == []


def test_every_fault_of_a_rule_is_named_at_once():
    wrong = {key: value for key, value in RULE.items() if key != "ask"}
    wrong |= {"urgency": "soon", "mark": "read", "colour": "red"}
    assert [fault.split(": ")[0] for fault in faults({"pain": wrong})] == [
        "pain.toml [pain] urgency",
        "pain.toml [pain] mark",
        "pain.toml [pain] ask",
        "pain.toml [pain] colour",
    ]


@pytest.mark.parametrize(
    ("comparison", "fault"),
    [
        ("pain at most 4", "This points against the fact: more is worse."),
        ("pain below 4", "This points against the fact: more is worse."),
        ("wet_nappies at least 4", "This points against the fact: less is worse."),
        ("review_coming is yes", "This points against the fact: it is worse when no."),
        ("worry is no", "This points against the fact: it is worse when yes."),
        ("yellow at most legs", "This points against the fact: more is worse."),
        ("feeds at most 4", "feeds has more than one direction: feeds_few, feeds_many."),
        ("colour is yes", "colour is not a fact to judge."),
        ("weights at least 4", "weights is not a fact to judge."),
        ("pain is 4", "This fact takes at most, below, at least or above."),
        ("worry at least 1", "This fact takes 'is yes' or 'is no'."),
        ("pain at least much", "much is not a number."),
        ("yellow at least arms", "Use one of face, body, unknown, legs, palms_soles."),
        ("pain 4", "Write a fact, then at most, below, at least, above or is, then a value."),
    ],
)
def test_a_comparison_that_cannot_be_read_or_points_the_wrong_way_is_refused(comparison, fault):
    assert faults({"pain": RULE | {"all": [comparison]}}) == [
        f'pain.toml [pain] all: "{comparison}": {fault}'
    ]


def test_a_rule_needs_a_comparison():
    assert faults({"pain": RULE | {"all": []}}) == [
        "pain.toml [pain]: Write at least one comparison under all or any."
    ]


def test_a_rule_that_looks_at_an_outcome_may_not_feed_one():
    outcome = {"found": {**FACTS["feeds_finding"], "ladders": ["pain"]}}
    loop = RULE | {"all": ["found at least routine"], "ladder": "pain"}
    assert faults({"pain": RULE, "loop": loop}, outcome) == [
        "[loop]: looks at an outcome, so it may not stand on pain."
    ]


def test_an_outcome_of_a_ladder_that_no_rule_stands_on_is_refused():
    assert faults({"pain": RULE}, {"found": {**FACTS["feeds_finding"], "ladders": ["none"]}}) == [
        "facts.toml [found]: No rule stands on the ladder none."
    ]


def test_an_id_may_not_stand_in_two_files():
    plain = {id: entry for id, entry in FACTS.items() if id not in OUTCOMES}
    _, problems = rules_from(plain, {"a.toml": {"pain": RULE}, "b.toml": {"pain": RULE}})
    assert [str(p) for p in problems] == [
        "b.toml [pain]: This id stands twice; ids are for ever and for one rule."
    ]


@pytest.mark.parametrize(
    ("entry", "fault"),
    [
        ({"kind": "number", "unit": "n", "lowest": 0, "highest": 9, "step": 1}, "needs either worse"),
        ({"kind": "number", "worse": "low"}, "needs highest."),
        ({"kind": "flag"}, "needs worse"),
        ({"kind": "choice", "values": ["one"]}, "needs at least two different values"),
        ({"kind": "record", "shape": "a list"}, "is a record that the program does not know."),
        ({"kind": "sign", "colour": 1}, "There is no such key."),
    ],
)
def test_a_fact_that_does_not_say_which_way_is_worse_is_refused(entry, fault):
    said = faults({"pain": RULE}, {"new": {"meaning": "New.", "source": "test"} | entry})
    assert any(fault in each for each in said)


def test_a_fact_that_the_program_works_with_may_not_be_missing():
    plain = {id: entry for id, entry in FACTS.items() if id not in (*OUTCOMES, "at_risk", "weights")}
    _, problems = rules_from(plain, {"pain.toml": {"pain": RULE}})
    assert [str(p) for p in problems] == [
        "facts.toml: [weights] is missing: the program works with it.",
        "facts.toml: [at_risk] is missing: the program works with it.",
    ]


def test_two_facts_may_not_share_a_direction():
    other = {**FACTS["feeds"], "axes": {"feeds_few": "low", "other_many": "high"}}
    assert "facts.toml [other]: feeds_few is also a direction of feeds." in faults(
        {"pain": RULE}, {"other": other}
    )


def test_a_file_that_is_not_toml_is_refused_by_name(tmp_path):
    (tmp_path / "messages" / "rules").mkdir(parents=True)
    (tmp_path / "messages" / "rules" / "occasions.toml").write_text("[call_me", "utf-8")
    with pytest.raises(Invalid) as refused:
        load_occasions(tmp_path)
    assert "occasions.toml" in str(refused.value)


def test_rules_come_in_one_order_however_an_edition_kept_them():
    body = rules_body()
    turned = {name: dict(reversed(tables.items())) for name, tables in reversed(body["files"].items())}
    known, stored = rules_of(body), rules_of({"facts": body["facts"], "files": turned})
    assert [rule.id for rule in stored.rules] == [rule.id for rule in known.rules]

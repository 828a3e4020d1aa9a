"""Why a rule held, or nearly did: every comparison with the value that was judged."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given

from bot.content.rules import load_rules
from bot.content.source import content_root
from bot.core.explain import Compared, compared
from bot.core.facts_read import facts_from_json
from bot.core.states import Urgency
from bot.core.triage import triage
from tests.core.test_triage import cases

RULES = load_rules(content_root())


def explained(facts: dict[str, Any], rule: str) -> list[tuple[Any, ...]]:
    lines = compared(facts_from_json(facts, RULES.vocabulary), RULES, rule)
    return [(line.axis.id, line.value, line.operator, line.bound, line.met) for line in lines]


@pytest.mark.parametrize(
    ("facts", "rule", "lines"),
    [
        ({"answers": {"feeds": 5}}, "feeds-4-or-5", [("feeds_few", 5, "at most", "5", True)]),
        ({"answers": {"feeds": 8}}, "feeds-under-8", [("feeds_few", 8, "at most", "7", False)]),
        # A range is judged by its worse end, and that end is what is shown.
        (
            {"answers": {"feeds": {"low": 4, "high": 9}}},
            "feeds-4-or-5",
            [("feeds_few", 4, "at most", "5", True)],
        ),
        (
            {"jaundice_extent": "legs"},
            "jaundice-palms-soles",
            [("yellow", "legs", "at least", "palms_soles", False)],
        ),
        (
            {"temperature_c": 36.4, "gestation_weeks": 34},
            "baby-temperature-36-5-small",
            [("temperature_low", 36.4, "below", "36.5", True), ("baby_small", True, "is", "yes", True)],
        ),
    ],
    ids=["met", "just inside", "a range", "a choice", "two of all"],
)
def test_a_rule_is_explained_by_its_comparisons(facts, rule, lines):
    assert explained({"age_days": 7, **facts}, rule) == lines


def test_of_any_only_what_was_met_is_shown():
    facts = {"age_days": 9, "jaundice_extent": "face", "urine_dark": True}
    assert explained(facts, "jaundice-pale-stools") == [
        ("yellow", "face", "at least", "face", True),
        ("urine_dark", True, "is", "yes", True),
    ]


def test_of_any_everything_is_shown_where_nothing_was_met():
    found = explained({"age_days": 9, "jaundice_extent": "face", "stool_pale": False}, "jaundice-pale-stools")
    assert [(axis, value, met) for axis, value, _, _, met in found] == [
        ("yellow", "face", True),
        ("stool_pale", False, False),
        ("urine_dark", False, False),
    ]


def test_a_rule_over_other_rules_shows_how_grave_they_were():
    facts = {"age_days": 3, "answers": {"feeds": 5}, "jaundice_extent": "face"}
    assert explained(facts, "jaundice-with-poor-feeding")[1] == (
        "feeds_finding",
        float(Urgency.same_day),
        "at least",
        "same_day",
        True,
    )


def test_what_is_not_known_has_no_value_and_is_not_met():
    assert explained({"age_days": 7}, "feeds-4-or-5") == [("feeds_few", None, "at most", "5", False)]


def test_a_rule_that_is_there_no_more_is_explained_by_nothing():
    assert explained({"age_days": 7}, "of-another-edition") == []


@given(cases())
def test_every_finding_is_explained_by_what_was_met_and_every_near_miss_by_what_was_not(facts):
    read = facts_from_json(facts, RULES.vocabulary)
    verdict = triage(read, RULES)

    def lines(rule: str) -> tuple[Compared, ...]:
        return compared(read, RULES, rule)

    for finding in verdict.fired:
        assert lines(finding.rule)
        assert all(line.met for line in lines(finding.rule))
    for miss in verdict.just_inside:
        assert any(line.axis.id == miss.axis and not line.met for line in lines(miss.rule))

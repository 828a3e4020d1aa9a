"""What rules look at, in short words on the screens."""

from __future__ import annotations

from typing import Any

import pytest

from bot.content.rules import load_rules
from bot.content.source import content_root
from bot.core.explain import compared
from bot.core.facts import AxisKind, Kind
from bot.core.facts_read import facts_from_json
from bot.web.fact_names import CHOICES, NAMES, NUMBERS, WORDS
from bot.web.fact_words import axis_label, sentences
from bot.web.labels import answer_label

RULES = load_rules(content_root())


def said(facts: dict[str, Any], rule: str) -> list[str]:
    return sentences(compared(facts_from_json(facts, RULES.vocabulary), RULES, rule))


@pytest.mark.parametrize(
    ("facts", "rule", "words"),
    [
        ({"answers": {"feeds": 5}}, "feeds-4-or-5", ["Feeds: 5 (threshold: at most 5)"]),
        (
            {"last_wet_hours": 9},
            "wet-last-8-hours",
            ["Hours since the last wet nappy: 9 (threshold: 8 or more)"],
        ),
        (
            {"jaundice_extent": "face"},
            "jaundice-legs-or-unknown",
            ["Yellow down to: face (threshold: not known or worse)"],
        ),
        (
            {"jaundice_extent": "legs"},
            "jaundice-palms-soles",
            ["Yellow down to: legs (threshold: palms or soles)"],
        ),
        (
            {"temperature_c": 36.4, "birth_weight_g": 2300},
            "baby-temperature-36-5-small",
            ["Temperature of the baby: 36.4 (threshold: below 36.5)", "Small or early baby: yes"],
        ),
        (
            {"answers": {"feeds": 5}, "jaundice_extent": "face"},
            "jaundice-with-poor-feeding",
            [
                "Yellow down to: face (threshold: face or worse)",
                "Finding on too few feeds: Today (threshold: Today or worse)",
            ],
        ),
        ({}, "silence-2", ["Check-ins without an answer, in a row: not known (threshold: 2 or more)"]),
        (
            {"birth_weight_g": 3000, "weights": [{"age_days": 3, "grams": 2701}]},
            "weight-loss-10",
            ["Weight lost, in % of birth weight: 9.97 (threshold: 10 or more)"],
        ),
        # The reason says it already: 'The baby's lips are blue.'
        ({"danger_signs": ["blue_lips"]}, "baby-blue-lips", []),
    ],
)
def test_each_comparison_is_said_with_its_value_and_its_threshold(facts, rule, words):
    assert said({"age_days": 3, **facts}, rule) == words


def test_every_number_and_choice_that_a_rule_compares_has_a_name():
    compares = {c.axis for rule in RULES.rules for c in (*rule.all, *rule.any)}
    nameless = [
        id for id in compares
        if RULES.vocabulary.axes[id].kind is not AxisKind.flag and not axis_label(RULES.vocabulary.axes[id])
    ]  # fmt: skip
    assert nameless == []


def test_every_fact_that_a_counsellor_may_enter_is_one_of_triage_and_nothing_is_left_out():
    """Left out is what the program knows by itself, what is asked as a question and what is a danger sign."""
    facts = RULES.vocabulary.facts
    given = {
        id for id, spec in facts.items() if spec.kind in (Kind.number, Kind.flag, Kind.sign, Kind.choice)
    }
    known_otherwise = {"unanswered_check_ins", "unreadable", "twin", "earlier_warning", "bereaved"}
    asked = {id for id in given if answer_label(id) != id.replace("_", " ") and id not in NAMES}
    assert given == NAMES.keys() | asked | known_otherwise
    assert {id for id in NUMBERS if facts[id].kind is not Kind.number} == set()
    assert {id for id in CHOICES if facts[id].kind is not Kind.choice} == set()
    assert {value for id in CHOICES for value in facts[id].values} <= WORDS.keys()

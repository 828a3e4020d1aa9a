"""A site's own thresholds: what they may change, and that the rules as they then hold are proved."""

from __future__ import annotations

from typing import Any

import pytest

from bot.content.check_rules import prove
from bot.content.factory import rules_body
from bot.content.overlay import milder, overlaid, read_overlay
from bot.content.source import content_root
from bot.core.errors import Invalid
from bot.core.facts_read import facts_from_json
from bot.core.states import Urgency
from bot.core.triage import triage

BODY = rules_body()
WHY = {"reason": "District decision.", "source": "District protocol 2026, section 3"}


def faults(overlay: dict[str, Any]) -> list[str]:
    with pytest.raises(Invalid) as refused:
        overlaid(BODY, overlay)
    return [str(problem) for problem in refused.value.problems]


def urgency(overlay: dict[str, Any], **answers: Any) -> Urgency:
    rules = overlaid(BODY, overlay)
    return triage(facts_from_json({"age_days": 10, "answers": answers}, rules.vocabulary), rules).urgency


def test_a_threshold_changes_in_its_rule_only() -> None:
    stricter = {"feeds-4-or-5": {"thresholds": {"feeds_few": 6}, "why": "6 feeds or fewer.", **WHY}}
    assert urgency({}, feeds=6) is Urgency.routine
    assert urgency(stricter, feeds=6) is Urgency.same_day
    assert urgency(stricter, feeds=7) is Urgency.routine


def test_an_urgency_changes_with_the_text_that_belongs_to_it() -> None:
    rules = overlaid(
        BODY, {"mother-mild-headache": {"urgency": "go_now", **WHY}, "thrush": {"urgency": "same_day", **WHY}}
    )
    assert rules.advice("mother-mild-headache") == "advice-go-now"
    assert rules.advice("thrush") == "advice-same-day"


def test_who_is_to_be_called_is_called_whatever_the_urgency() -> None:
    rules = overlaid(BODY, {"mother-violence": {"urgency": "go_now", **WHY}})
    assert rules.advice("mother-violence") == "advice-call-you"


def test_a_rule_that_is_off_holds_no_more() -> None:
    assert urgency({"thrush": {"urgency": "off", **WHY}}, thrush=True) is Urgency.none


def test_the_rule_names_the_sites_source_and_what_it_stands_for() -> None:
    rule = overlaid(BODY, {"thrush": {"urgency": "same_day", **WHY}}).rule("thrush")
    assert rule is not None
    assert rule.source.startswith("District protocol 2026, section 3 (instead of: Open University HEAT")
    assert rule.source.endswith("(site protocol)")


@pytest.mark.parametrize(
    ("overlay", "fault"),
    [
        ({"no-such-rule": {"urgency": "off", **WHY}}, "There is no such rule."),
        ({"thrush": {**WHY}}, "Give another urgency, thresholds, or both."),
        ({"thrush": {"urgency": "off", "reason": "x"}}, "[thrush] source: This is missing."),
        ({"thrush": {"urgency": "later", **WHY}}, "[thrush] urgency: "),
        ({"feeds-4-or-5": {"thresholds": {"feeds_few": 6}, **WHY}}, "Say why in plain words"),
        (
            {"feeds-4-or-5": {"thresholds": {"pain": 6}, "why": "x", **WHY}},
            "pain is not compared in this rule.",
        ),
        ({"feeds-4-or-5": {"thresholds": {"feeds_few": "six"}, "why": "x", **WHY}}, "six is not a number."),
        ({"thrush": {"urgency": "off", "why": "x", **WHY}}, "A rule that is off needs no more"),
    ],
)
def test_what_an_overlay_can_not_do_is_said(overlay: dict[str, Any], fault: str) -> None:
    (found,) = faults(overlay)
    assert fault in found


def test_all_faults_come_at_once() -> None:
    assert len(faults({"no-such-rule": {"urgency": "off", **WHY}, "thrush": {**WHY}})) == 2


def test_an_overlay_that_leaves_rules_idle_is_not_proved() -> None:
    """5 wet nappies as go_now leave the milder steps of the ladder nothing to say."""
    overlay = {"wet-2-or-fewer": {"thresholds": {"wet_nappies": 5}, "why": "5 or fewer.", **WHY}}
    fields = {problem.field for problem in prove(overlaid(BODY, overlay)).problems}
    assert {"wet-under-6", "wet-3-or-4"} <= fields


def test_what_gets_milder_is_named_and_what_gets_stricter_is_not() -> None:
    overlay = {
        "thrush": {"urgency": "off", **WHY},
        "worry": {"urgency": "routine", **WHY},
        "pain-severe": {"thresholds": {"pain": 8}, "why": "8 or more.", **WHY},
        "feeds-4-or-5": {"thresholds": {"feeds_few": 6}, "why": "6 or fewer.", **WHY},
        "eye-sticky": {"urgency": "same_day", **WHY},
    }
    assert milder(BODY, overlay) == ["pain-severe", "thrush", "worry"]


def test_a_stricter_overlay_is_proved() -> None:
    overlay = {"feeds-4-or-5": {"thresholds": {"feeds_few": 6}, "why": "6 feeds or fewer.", **WHY}}
    assert prove(overlaid(BODY, overlay)).problems == ()


def test_the_overlay_that_the_guide_shows_is_proved() -> None:
    guide = (content_root() / "messages" / "rules" / "README.md").read_text("utf-8")
    shown = "\n".join(line[4:] for line in guide.splitlines() if line.startswith("    "))
    assert prove(overlaid(BODY, read_overlay(shown))).problems == ()


@pytest.mark.parametrize("text", ["= no", ""])
def test_a_file_that_says_nothing_is_refused(text: str) -> None:
    with pytest.raises(Invalid):
        read_overlay(text)

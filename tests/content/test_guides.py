"""Call guides: one for every finding, and none that does not load whole."""

from __future__ import annotations

from pathlib import Path

import pytest

from bot.content.factory import load_factory
from bot.content.guides import guides, load_guides
from bot.core.errors import Invalid
from bot.core.states import Urgency

STEPS = "\n".join(f'  {{ id = "s{n}", do = "Ask {n}", source = "common practice" }},' for n in range(4))
GUIDE = f"""
[[guide]]
id = "any"
title = "Any"
rules = ["*"]
step = [
{STEPS}
]
found = [{{ id = "a", words = "A" }}, {{ id = "b", words = "B" }}]
"""


def written(folder: Path, body: str) -> Path:
    (folder / "guides").mkdir()
    (folder / "guides" / "guides.toml").write_text(body, encoding="utf-8")
    return folder


@pytest.mark.parametrize(
    ("names", "urgency", "guide"),
    [
        (("baby-lethargic",), Urgency.go_now, "danger-baby"),
        (("mother-heavy-bleeding", "bleeding"), Urgency.go_now, "danger-mother"),
        (("mother-self-harm",), Urgency.go_now, "danger-mother"),
        (("feeds-3-or-fewer", "feeds-few"), Urgency.go_now, "danger-baby"),
        (("feeds-4-or-5", "feeds-few"), Urgency.same_day, "feeds"),
        (("wet-day-3-one", "wet-nappies"), Urgency.same_day, "wet"),
        (("pain-severe", "pain"), Urgency.same_day, "pain"),
        (("mother-low-mood", "mood"), Urgency.routine, "mood"),
        (("silence-3", "silence"), Urgency.same_day, "silence"),
        (("wrong_number",), Urgency.same_day, "wrong-number"),
        (("bereaved",), Urgency.same_day, "bereaved"),
        (("call_me",), Urgency.same_day, "call-me"),
        (("a rule of the future",), Urgency.routine, "call-me"),
    ],
)
def test_the_guide_fits_the_finding(names: tuple[str, ...], urgency: Urgency, guide: str) -> None:
    assert guides().for_finding(names, urgency).id == guide


def test_every_go_now_rule_leads_to_a_guide_that_begins_with_going() -> None:
    for rule in load_factory().rules.rules:
        if rule.urgency is Urgency.go_now:
            guide = guides().for_finding((rule.id, rule.ladder), rule.urgency)
            assert guide.id in ("danger-baby", "danger-mother"), rule.id
            assert guide.step[0].do.startswith("Say first: go to the hospital now"), rule.id
            assert guide.id == f"danger-{rule.subject}" or rule.subject == "baby", rule.id
    for occasion in load_factory().occasions.values():
        if occasion.urgency is Urgency.go_now:
            assert guides().for_finding((occasion.id,), occasion.urgency).id == "danger-baby", occasion.id


def test_every_step_names_its_source() -> None:
    assert all(step.source.strip() for guide in guides().all for step in guide.step)


def test_what_was_found_is_told_in_words() -> None:
    assert guides().found_words("sent_to_hospital") == "Sent to hospital"
    assert guides().found_words("no such thing") == "no such thing"


@pytest.mark.parametrize(
    ("body", "fault"),
    [
        (GUIDE.replace('rules = ["*"]', 'rules = ["pain"]'), "The last guide must be for every finding"),
        (GUIDE + GUIDE, "stands twice"),
        (GUIDE.replace('"s1"', '"s0"'), "any.s0: stands twice"),
        (GUIDE.replace('title = "Any"', ""), "title: Field required"),
        (GUIDE.replace('title = "Any"', 'titel = "Any"'), "titel: Extra inputs"),
        ("guide = [", "is not TOML"),
    ],
)
def test_a_faulty_file_is_refused_with_what_is_wrong(tmp_path: Path, body: str, fault: str) -> None:
    with pytest.raises(Invalid, match=fault):
        load_guides(written(tmp_path, body))


def test_a_whole_file_loads(tmp_path: Path) -> None:
    assert [guide.id for guide in load_guides(written(tmp_path, GUIDE)).all] == ["any"]

"""Steps for poor signs: the shipped file, and what a wrong one is told."""

from __future__ import annotations

from pathlib import Path

import pytest

from bot.content.counselling import counselling, load_counselling, steps_for
from bot.core.errors import Invalid
from tests.support.pairs import GOOD_SIGNS


def ids(**signs: str) -> list[str]:
    return [step.id for step in steps_for(GOOD_SIGNS | signs, counselling())]


def test_nothing_is_to_do_when_all_is_good_or_not_seen() -> None:
    assert ids() == []
    assert ids(attachment_chin="not_seen", suckling="not_seen") == []


def test_a_poor_position_asks_for_its_own_step_and_no_other_sign_s() -> None:
    # Open University HEAT postnatal care 7.1.2: reposition, look again.
    assert ids(position_turned="no") == ["seat", "facing", "she-shows", "come-at-once"]


def test_poor_attachment_and_position_name_each_step_once_in_order() -> None:
    steps = ids(position_neck="no", attachment_mouth="no", attachment_chin="no")

    assert steps == [
        "seat", "straight", "wait", "bring-on", "look-again", "express", "she-shows", "come-at-once"
    ]  # fmt: skip


def test_no_suckling_at_all_is_a_danger_sign_and_leads() -> None:
    # WHO Infant and young child feeding 2009, Box 13: not suckling at all.
    assert ids(suckling="not_at_all", position_neck="no")[0] == "refer"


@pytest.mark.parametrize(
    ("found", "expected"),
    [
        # WHO IMCI chart booklet 2014, feeding problem or low weight: treat (from memory).
        ("feeds=few", ["more-feeds"]),
        ("other_food=yes", ["other-food"]),
        ("thrush=yes", ["thrush"]),
        ("weight=low", ["more-feeds", "keep-warm"]),
        ("weight=very_low", ["very-low", "more-feeds", "keep-warm"]),
        ("weight=low_lasting", ["low-lasting"]),
        ("weight=lost", ["more-feeds", "watch-and-weigh"]),
    ],
)
def test_what_was_found_besides_the_breastfeed_has_its_own_steps(found: str, expected: list[str]) -> None:
    steps = [step.id for step in steps_for(GOOD_SIGNS, counselling(), [found])]

    assert steps == [*expected, "come-at-once"]


def test_every_step_names_its_source() -> None:
    assert all(step.source for step in counselling())


def test_a_wrong_file_is_told_all_its_faults(tmp_path: Path) -> None:
    (tmp_path / "counselling.toml").write_text(
        '[[step]]\nid = "a"\nfor = ["nose=no"]\ndo = "x"\nsource = "y"\n'
        '[[step]]\nid = "a"\nfor = ["position_*=no"]\ndo = "x"\nsource = "y"\n'
    )
    with pytest.raises(Invalid) as refused:
        load_counselling(tmp_path)

    words = str(refused.value)
    assert "stands twice" in words
    assert '"nose=no" fits no poor sign' in words
    assert "nothing is said about suckling=not_at_all" in words

"""What is assumed of mothers, phones and staff, and what a manager puts over it."""

from __future__ import annotations

import pytest

from bot.cohort.assumed import by_day, default_text, read_assumed
from bot.core.errors import Invalid

SIGNS = frozenset(
    [
        "baby_hot",
        "not_feeding",
        "jaundice",
        "lethargic",
        "fast_breathing",
        "vomiting_all",
        "cord_infected",
        "convulsions",
        "baby_cold",
        "heavy_bleeding",
        "mother_fever",
        "severe_headache",
        "breast_infection",
    ]
)


def read(changes: str):
    return read_assumed(changes, languages={"en", "sw", "ar"}, signs=SIGNS)


def test_what_ships_is_whole_and_can_be_changed_by_itself():
    assert read(default_text()) == read("")


def test_a_change_leaves_the_rest_as_it_is():
    found = read("[replies]\nvague = 0.5\n[staff]\ncounsellors = 7")
    assert (found.replies.vague, found.staff.counsellors) == (0.5, 7)
    assert found.replies.again == read("").replies.again
    assert found.staff.minutes == read("").staff.minutes


def test_languages_and_signs_are_changed_as_a_whole():
    found = read("[languages]\nsw = 1\n[dangers.signs]\njaundice = 1")
    assert (dict(found.languages), dict(found.dangers.signs)) == ({"sw": 1.0}, {"jaundice": 1.0})


def test_every_fault_is_named_at_once_with_its_place():
    with pytest.raises(Invalid) as refused:
        read("[replies]\nvague = 2\nvageu = 0.1\nanswers = [[7, 1], [1, 1]]\n[staff]\ncounsellors = 0")
    places = {problem.field for problem in refused.value.problems}
    assert places == {"replies.vague", "replies.vageu", "replies.answers", "staff.counsellors"}


@pytest.mark.parametrize(
    ("changes", "place"),
    [("[languages]\nxx = 1", "languages.xx"), ("[dangers.signs]\nsad = 1", "dangers.signs.sad"), ("a", "")],
)
def test_what_is_not_known_is_refused(changes, place):
    with pytest.raises(Invalid) as refused:
        read(changes)
    assert [problem.field for problem in refused.value.problems] == [place]


def test_values_by_day_lie_on_straight_lines_and_level_outside():
    found = by_day([(2, 1.0), (4, 0.5)])
    assert found[:6] == (1.0, 1.0, 1.0, 0.75, 0.5, 0.5)
    assert found[-1] == 0.5

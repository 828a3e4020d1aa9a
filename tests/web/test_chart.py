"""The chart of the case page: weights over the bands of the standard, answers against what is expected."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from bot.content.rules import load_rules
from bot.content.source import content_root
from bot.web.chart import Chart, chart
from bot.web.chart_growth import Growth
from bot.web.chart_parts import WIDTH
from tests.support.pairs import BORN, a_baby, a_pair, an_assessment

RULES = load_rules(content_root())
BOY = a_baby(sex="male", birth_weight_g=2700)


def drawn(*weights: tuple[int, int], days: int = 26, flipped: bool = False, **baby: Any) -> Chart | None:
    """The chart at an age in days, of (age in days, grams)."""
    child = replace(BOY, **baby)
    seen = tuple(
        an_assessment(BORN + timedelta(days=day), occasion="review", weight_g=grams) for day, grams in weights
    )
    pair = a_pair(babies=[child], assessments=seen)
    return chart(pair, child, RULES, BORN + timedelta(days=days), flipped=flipped)


def weights_of(*weights: tuple[int, int], **given: Any) -> Growth:
    found = drawn(*weights, **given)
    assert found is not None
    assert found.growth is not None
    return found.growth


def test_a_weight_low_for_its_age_is_a_mark_of_another_shape_with_its_z_score_in_the_table() -> None:
    """Boys at 14 days, WHO Child Growth Standards 2006: -2 SD is 2798 g, 2790 g is z -2.02; 2 SD is 4.9 kg in
    the field tables (from memory), 4931 g by the formula."""
    found = weights_of((14, 2790))

    assert [(mark.day, mark.told, mark.short) for mark in found.marks] == [
        (0, "2700, z −1.42", False), (14, "2790 (+3.3 %), z −2.02", True),
    ]  # fmt: skip
    assert found.marks[1].expected == "2798 to 4931"
    assert [curve.words for curve in found.curves] == ["+2", "0", "−2", "−3"]
    assert found.shade


def test_the_mark_lies_below_the_band_exactly_when_the_weight_is_low() -> None:
    for grams in (2790, 2800):
        found = weights_of((14, grams), days=14)
        low_curve = next(curve for curve in found.curves if curve.z == -2)
        at_14 = float(low_curve.points.split()[-1].split(",")[1])
        assert (found.marks[1].y > at_14) is (grams == 2790)  # y grows downwards


def test_a_first_week_is_drawn_and_not_judged() -> None:
    assert [mark.short for mark in weights_of((4, 2300)).marks] == [False, False]


def test_an_early_baby_has_bands_from_term_on_by_corrected_age() -> None:
    """34 weeks: the standard begins at 42 days of life; 56 days are 14."""
    found = weights_of((56, 2790), days=60, gestation_weeks=34, birth_weight_g=2100)

    assert found.corrected
    assert len(found.curves[0].points.split()) == 60 - 42 + 1
    assert found.marks[1].told == "2790 (+32.9 %), z −2.02"
    assert not weights_of((20, 2300), days=26, gestation_weeks=34, birth_weight_g=2100).curves


@pytest.mark.parametrize("sex", [None, "unknown"])
def test_without_a_sex_the_weights_are_drawn_without_bands(sex: str | None) -> None:
    found = weights_of((14, 2790), sex=sex)

    assert (found.curves, found.shade) == ((), "")
    assert found.marks[1].told == "2790 (+3.3 %)"


def test_one_weight_is_no_line() -> None:
    found = drawn()
    assert found is None


def test_everything_stays_inside_the_drawing_and_is_mirrored() -> None:
    given = [(4, 2490), (6, 2495), (8, 2505), (9, 2560), (23, 9000)]
    left, right = weights_of(*given), weights_of(*given, flipped=True)

    for one, other in zip(left.marks, right.marks, strict=True):
        assert one.x + other.x == pytest.approx(WIDTH)
        assert left.y < one.y <= left.base
    for curve in left.curves:
        heights = [float(point.split(",")[1]) for point in curve.points.split()]
        assert all(left.y < y <= left.base for y in heights)


def test_words_that_stand_too_close_give_way_and_low_weights_keep_theirs() -> None:
    found = weights_of((4, 2490), (6, 2495), (8, 2505), (9, 2560))

    words = [mark.words for mark in found.marks]
    assert words == ["2700", "", "", "", "2560 (−5.2 %)"]
    assert all(mark.told for mark in found.marks)

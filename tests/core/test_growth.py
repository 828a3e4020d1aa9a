"""Changes of weight and weights that can't be, or must be weighed again."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.core.growth import Doubt, Weight, changes, doubt, gain_a_day, regained

BORN = date(2026, 3, 2)
AT_BIRTH = Weight(BORN, 3000, at_birth=True)


def on(days: int) -> date:
    return BORN + timedelta(days=days)


def test_a_change_is_given_since_birth_and_since_the_last_weight() -> None:
    since_birth, since_last = changes([AT_BIRTH, Weight(on(1), 2900)], 2850, on(3))

    assert since_birth is not None
    assert since_last is not None
    assert (since_birth.grams, since_birth.percent, since_birth.days) == (-150, -5.0, 3)
    assert (since_last.grams, round(since_last.percent, 2), since_last.days) == (-50, -1.72, 2)


def test_where_birth_is_the_last_weight_it_is_told_once() -> None:
    since_birth, since_last = changes([AT_BIRTH], 2700, on(3))

    assert since_birth is not None
    assert since_birth.percent == -10.0  # (3000 - 2700) / 3000, the formula of NICE NG75 1.1.2's "percentage"
    assert since_last is None


def test_nothing_is_compared_where_nothing_is_known() -> None:
    assert changes([], 2700, on(3)) == (None, None)


def test_a_weight_at_discharge_on_the_day_of_birth_comes_after_the_birth_weight() -> None:
    _, since_last = changes([Weight(BORN, 2980), AT_BIRTH], 2900, on(2))

    assert since_last is not None
    assert since_last.since.grams == 2980


@pytest.mark.parametrize(
    ("grams", "day", "expected"),
    [
        # Common practice, no source: the limits and the shares are the programme's own.
        (399, 0, Doubt.impossible),
        (7001, 0, Doubt.impossible),
        (299, 3, Doubt.impossible),
        (15001, 3, Doubt.impossible),
        (2550, 3, None),  # 15 % less
        (2549, 3, Doubt.loss),
        (3450, 3, None),  # 15 % more
        (3451, 3, Doubt.gain),
        (4000, 21, None),  # a good gain of 48 g a day
        (4471, 21, Doubt.gain),  # more than 70 g a day
    ],
)
def test_a_weight_is_doubted_beyond_its_limits(grams: int, day: int, expected: Doubt | None) -> None:
    assert doubt(grams, on(day), BORN, [AT_BIRTH]) is expected


def test_without_an_earlier_weight_only_the_impossible_is_refused() -> None:
    assert doubt(900, on(3), BORN, []) is None
    assert doubt(200, on(3), BORN, []) is Doubt.impossible


@given(st.integers(400, 7000), st.integers(1, 42), st.integers(300, 15000), st.integers(0, 500))
def test_a_greater_loss_is_never_doubted_less(birth: int, day: int, grams: int, less: int) -> None:
    known = [Weight(BORN, birth, at_birth=True)]
    if doubt(grams, on(day), BORN, known) is Doubt.loss:
        assert doubt(grams - less, on(day), BORN, known) in (Doubt.loss, Doubt.impossible)


@pytest.mark.parametrize(
    ("before", "after", "expected"),
    [
        # The weights of Grey Bruce Health's "20 to 35 g a day": 175 g in a week are 25 g a day.
        (Weight(on(12), 3100), Weight(on(19), 3275), 25.0),
        (Weight(on(12), 3100), Weight(on(19), 3060), -40 / 7),
        (Weight(on(3), 2900), Weight(on(3), 2910), None),
    ],
)
def test_gain_is_in_grams_a_day(before: Weight, after: Weight, expected: float | None) -> None:
    assert gain_a_day(before, after) == expected


@pytest.mark.parametrize(
    ("weights", "by_day"),
    [
        # By two weeks, says WHO Infant and young child feeding 2009, 7.10. The day is that of the weighing.
        ([AT_BIRTH, Weight(on(3), 2820), Weight(on(9), 3000)], 9),
        ([AT_BIRTH, Weight(on(3), 2820), Weight(on(9), 2999)], None),
        ([AT_BIRTH, Weight(on(9), 3100), Weight(on(3), 2820)], 9),  # in any order
        ([AT_BIRTH, Weight(on(3), 3050)], None),  # never seen below it
        ([Weight(on(3), 2820), Weight(on(9), 3000)], None),  # birth weight not known
        ([AT_BIRTH, Weight(on(3), 2820), Weight(on(9), 3010), Weight(on(12), 2990), Weight(on(15), 3050)], 9),
    ],
)
def test_birth_weight_is_regained_by_the_first_weighing_that_shows_it(
    weights: list[Weight], by_day: int | None
) -> None:
    found = regained(weights)
    assert (found and (found.on - BORN).days) == by_day

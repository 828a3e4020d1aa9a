"""Changes of weight and weights that can't be, or must be weighed again."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.core.growth import Doubt, Weight, changes, doubt

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

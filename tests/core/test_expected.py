"""What is expected at an age, read off the rules, against the published tables behind them."""

from __future__ import annotations

import pytest

from bot.content.factory import load_factory
from bot.core.expected import least_expected, most_expected


@pytest.fixture(scope="module")
def rules():
    return load_factory().rules


# Feeds: WHO 2009 Model Chapter p.74 (8 from day 2); North Bristol NHS (at least 4 in the first 24 hours).
@pytest.mark.parametrize(("k", "least"), [(1, 4), (2, 8), (7, 8), (28, 8)])
def test_feeds(rules, k: int, least: int) -> None:
    assert least_expected(rules, "feeds_few", k) == least


# Wet nappies: NHS Norfolk (as many as the day, 6 from day 6).
@pytest.mark.parametrize(("k", "least"), [(1, 1), (2, 2), (3, 3), (4, 4), (5, 5), (6, 6), (7, 6), (28, 6)])
def test_wet_nappies(rules, k: int, least: int) -> None:
    assert least_expected(rules, "wet_nappies", k) == least


# Stools: Unicef-UK style tables of NHS East Lancashire and Parent Club Scotland (2 or more from day 3).
@pytest.mark.parametrize(("k", "least"), [(2, 1), (3, 2), (7, 2), (28, 2)])
def test_dirty_nappies(rules, k: int, least: int) -> None:
    assert least_expected(rules, "dirty_nappies", k) == least


# Pain: NIH Clinical Center 2003 (1 to 3 is mild).
def test_pain_in_the_first_week(rules) -> None:
    assert most_expected(rules, "pain", 3) == 3


def test_nothing_is_expected_where_no_rule_looks(rules) -> None:
    assert least_expected(rules, "feeds_few", 0) is None
    assert most_expected(rules, "no such axis", 3) is None

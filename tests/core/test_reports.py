"""Counts into measures: shares with their denominators, sums over sites."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.core.reports import MEASURES, OUTCOMES, URGENCIES, Line, SiteCounts, lines, numbers, percent, total

RAW = (
    "enrolled", "by_text", "verified", "answered", "partly", "silent", "delivered", "undelivered",
    "no_report", "attended", "missed", "still_expected", "stopped", "texted_pairs",
    *(f"{urgency}_{outcome}" for urgency in URGENCIES for outcome in OUTCOMES),
)  # fmt: skip
some_counts = st.dictionaries(st.sampled_from(RAW), st.integers(0, 5000))
some_sites = st.builds(
    SiteCounts,
    st.sampled_from(["a", "b"]),
    st.just("Name"),
    some_counts,
    st.dictionaries(st.sampled_from(["finished", "moved"]), st.integers(0, 50)),
)


def by_key(counts: SiteCounts) -> dict[str, Line]:
    return {line.measure.key: line for line in lines(counts)}


def site(closed: dict[str, int] | None = None, **counts: int) -> SiteCounts:
    return SiteCounts("lakeside", "Lakeside", counts, closed or {})


def test_answers_are_told_beside_the_share_that_did_not_answer() -> None:
    found = by_key(site(answered=17, partly=2, silent=6))

    assert (found["answered"].n, found["answered"].of, found["answered"].percent) == (17, 25, 68)
    assert (found["partly"].percent, found["silent"].percent) == (8, 24)
    assert found["asked"].of is None


def test_an_escalation_not_due_yet_is_neither_in_time_nor_late() -> None:
    found = by_key(site(go_now_in_time=9, go_now_late=1, go_now_overdue=2, go_now_pending=5))

    assert (found["go_now_in_time"].n, found["go_now_in_time"].of) == (9, 12)
    assert (found["go_now_pending"].n, found["go_now_pending"].of) == (5, 17)
    assert found["go_now_all"].n == 17
    assert numbers(site(go_now_in_time=9, same_day_overdue=3))["due"] == 12


def test_each_reason_is_a_share_of_the_closed() -> None:
    found = by_key(site({"finished": 12, "moved": 3}))

    assert found["closed"].n == 15
    assert (found["closed_finished"].n, found["closed_finished"].of) == (12, 15)
    assert found["closed_finished"].percent == 80


@pytest.mark.parametrize(
    ("n", "of", "expected"),
    [
        (0, 0, None),
        (3, 9, None),
        (0, 10, 0),
        (5, 10, 50),
        (1, 200, 1),
        (1, 201, 1),
        (199, 200, 99),
        (7, None, None),
    ],
)
def test_a_share_of_few_is_not_given_in_per_cent(n: int, of: int, expected: int | None) -> None:
    assert percent(n, of) == expected


def test_nothing_counted_is_zero_everywhere() -> None:
    assert {line.n for line in lines(site())} == {0}
    assert set(numbers(site()).values()) == {0}


def test_every_key_stands_once() -> None:
    keys = [measure.key for measure in MEASURES]

    assert len(keys) == len(set(keys))


@given(st.lists(some_sites, max_size=4))
def test_the_total_is_the_sum_of_the_sites(sites: list[SiteCounts]) -> None:
    whole = numbers(total(sites))
    for key, n in whole.items():
        assert n == sum(numbers(site)[key] for site in sites)


@given(some_sites)
def test_shares_of_one_whole_add_up_to_it(counts: SiteCounts) -> None:
    found = by_key(counts)

    assert sum(found[key].n for key in ("answered", "partly", "silent")) == found["asked"].n
    assert sum(found[key].n for key in ("delivered", "undelivered", "no_report")) == found["texts"].n
    assert sum(found[key].n for key in ("attended", "missed", "still_expected")) == found["reviews"].n
    for urgency in URGENCIES:
        became = [found[f"{urgency}_{outcome}"] for outcome in OUTCOMES]
        assert sum(line.n for line in became) == found[f"{urgency}_all"].n
        assert sum(line.n for line in became[:-1]) == became[0].of

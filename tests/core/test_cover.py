"""Is anybody there, whom to wake, and where she is sent. The hours are each site's own."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.core.cover import is_covered, is_too_late, next_cover, place_for, woken_in_order
from bot.core.pair import Hours, OnCall, Place, Site
from tests.support.pairs import a_site, some_numbers

MINUTE = timedelta(minutes=1)
WEEKDAYS, EVERY_DAY = frozenset(range(5)), frozenset(range(7))
DAY = (Hours(WEEKDAYS, time(8), time(20)),)
NIGHT = (Hours(frozenset({4}), time(20), time(6)),)  # Friday evening to Saturday morning


def at(text: str) -> datetime:
    """A local time of Nairobi, in March 2026 (the 2nd is a Monday)."""
    return datetime.fromisoformat(f"2026-03-{text}:00+03:00").astimezone(UTC)


@pytest.mark.parametrize(
    ("cover", "when", "covered"),
    [
        (DAY, "02T08:00", True), (DAY, "02T07:59", False), (DAY, "02T20:00", False), (DAY, "07T10:00", False),
        (NIGHT, "06T23:00", True), (NIGHT, "07T05:59", True), (NIGHT, "07T06:00", False),
        (NIGHT, "06T05:00", False),
        ((), "02T08:00", True), ((), "02T16:00", False), ((), "08T10:00", False),  # none set: opening hours
    ],
)  # fmt: skip
def test_somebody_reads_the_inbox_in_the_hours_of_cover(
    cover: tuple[Hours, ...], when: str, covered: bool
) -> None:
    assert is_covered(a_site(cover=cover), at(when)) is covered


def test_a_closed_day_has_no_cover() -> None:
    site = a_site(cover=DAY, closed_days=frozenset({date(2026, 3, 3)}))
    assert not is_covered(site, at("03T10:00"))
    assert next_cover(site, at("02T21:00")) == at("04T08:00")


@pytest.mark.parametrize(
    ("when", "begins"),
    [("02T10:00", "02T10:00"), ("02T21:00", "03T08:00"), ("06T21:00", "09T08:00")],
)
def test_the_next_cover_is_now_or_when_it_begins(when: str, begins: str) -> None:
    assert next_cover(a_site(cover=DAY), at(when)) == at(begins)


def test_a_site_without_any_cover_has_none_to_wait_for() -> None:
    site = a_site(cover=(), open_days=frozenset())
    assert next_cover(site, at("02T10:00")) is None
    assert is_too_late(site, at("02T10:00"), timedelta(days=2))


@pytest.mark.parametrize(("when", "late"), [("03T03:59", True), ("03T04:00", False), ("02T19:59", False)])
def test_what_is_due_before_anybody_reads_is_too_late(when: str, late: bool) -> None:
    assert is_too_late(a_site(cover=DAY), at(when), timedelta(hours=4)) is late


def test_the_hours_follow_the_local_clock_through_its_changes() -> None:
    berlin = a_site(zone="Europe/Berlin", cover=(Hours(EVERY_DAY, time(8), time(20)),))
    saturday = datetime(2026, 3, 28, 21, tzinfo=UTC)  # the clock goes on at night: IANA tz database
    assert next_cover(berlin, saturday) == datetime(2026, 3, 29, 6, tzinfo=UTC)


some_hours = st.builds(Hours, st.frozensets(st.integers(0, 6), min_size=1), st.times(), st.times())
some_minutes = st.integers(0, 60 * 24 * 365).map(lambda n: datetime(2026, 1, 1, tzinfo=UTC) + n * MINUTE)


@given(some_minutes, st.lists(some_hours, min_size=1))
def test_the_next_cover_is_covered_and_nothing_before_it_is(when: datetime, cover: list[Hours]) -> None:
    site: Site = a_site(cover=tuple(cover))
    begins = next_cover(site, when)
    assert begins is not None
    assert begins >= when
    assert is_covered(site, begins)
    assert begins == when or not is_covered(site, when)
    assert begins == when or not is_covered(site, when + (begins - when) / 2)


def test_managers_are_woken_last() -> None:
    ward, head, night = (
        OnCall("Ward", "+447700900110"),
        OnCall("Head", manager=True),
        OnCall("Night", "+447700900111"),
    )
    assert woken_in_order(a_site(on_call=(head, ward, night))) == (ward, night, head)


@pytest.mark.parametrize(
    ("extra", "name"),
    [
        ({}, "Lakeside Hospital"),
        ({"lives_at": "Hillside"}, "Hill Health Centre"),
        ({"lives_at": "Elsewhere", "nearest_facility": "hill health centre "}, "Hill Health Centre"),
        ({"lives_at": ""}, "Lakeside Hospital"),
    ],
)
def test_she_is_sent_to_the_place_near_her_else_to_the_site_s_own(extra: dict[str, str], name: str) -> None:
    hill = Place("Hill Health Centre", "+447700900150", near=("hillside", "Ridge"))
    site = a_site(places=(hill,), numbers=some_numbers(place="Lakeside Hospital"))
    assert place_for(site, extra).name == name

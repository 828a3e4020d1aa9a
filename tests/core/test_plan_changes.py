"""What differs between two schedules, and between the plans one pair has by each."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.core.plan import planned
from bot.core.plan_changes import (
    How,
    born_since,
    changed_contacts,
    changed_settings,
    compared,
    differs_at_all,
)
from bot.core.schedule import Anchor, Condition, ContactSpec, Repeat, Schedule
from tests.support.pairs import a_pair
from tests.support.schedules import a_schedule, a_spec, the_standard_schedule


def with_contact(schedule: Schedule, key: str, **changes: object) -> Schedule:
    contacts = tuple(
        replace(spec, **changes) if spec.key == key else spec  # type: ignore[arg-type]
        for spec in schedule.contacts
    )
    return replace(schedule, contacts=contacts)


def how(before: Schedule, after: Schedule, key: str) -> How:
    plans = compared(planned(a_pair(), before), planned(a_pair(), after))
    return next(change.how for change in plans if change.shown.key == key)


BOTH = a_schedule(a_spec("one", days=2, at=time(9)), a_spec("two", days=3, at=time(9)))


def test_a_schedule_does_not_differ_from_itself() -> None:
    standard = the_standard_schedule()

    assert changed_contacts(standard, standard) == ()
    assert changed_settings(standard, standard) == ()
    assert not differs_at_all(standard, standard)


@pytest.mark.parametrize(
    ("changes", "fields", "expected"),
    [
        ({"at": time(10)}, ("at",), How.moved),
        ({"days": 4}, ("days",), How.moved),
        ({"questions": ("feeds",)}, ("questions",), How.asks_otherwise),
        ({"on": False}, ("on",), How.gone),
        ({"condition": Condition.small_or_twin}, ("condition",), How.gone),
        ({"valid_for": timedelta(hours=1)}, ("valid_for",), How.same),
    ],
)
def test_a_change_is_named_by_its_fields_and_by_what_a_pair_meets(
    changes: dict[str, object], fields: tuple[str, ...], expected: How
) -> None:
    after = with_contact(BOTH, "two", **changes)

    assert [(each.key, each.fields) for each in changed_contacts(BOTH, after)] == [("two", fields)]
    assert how(BOTH, after, "two") is expected
    assert how(BOTH, after, "one") is How.same


def test_a_contact_that_is_switched_on_is_added() -> None:
    off = with_contact(BOTH, "two", on=False)

    assert how(off, BOTH, "two") is How.added


def test_new_words_for_staff_change_nothing_for_mothers_but_are_worth_keeping() -> None:
    after = with_contact(BOTH, "two", meaning="said better", source="a guideline")

    assert changed_contacts(BOTH, after) == ()
    assert differs_at_all(BOTH, after)


def test_a_contact_off_before_and_after_changes_nothing() -> None:
    before = with_contact(BOTH, "two", on=False)

    assert changed_contacts(before, with_contact(before, "two", at=time(11))) == ()


def test_settings_of_the_whole_schedule_are_named() -> None:
    after = replace(BOTH, quiet_from=time(21), review=replace(BOTH.review, target_hours=72))

    assert changed_settings(BOTH, after) == ("quiet_from", "review")
    assert changed_settings(BOTH, replace(BOTH, edition=9, dated=date(2026, 1, 1))) == ()


@pytest.mark.parametrize(
    ("spec", "changed", "expected"),
    [
        (a_spec("c", days=3), {"days": 5}, date(2026, 3, 5)),
        (
            a_spec("c", days=5),
            {"days": 3},
            date(2026, 3, 5),
        ),  # one already past it by the new plan may lose it
        (a_spec("c", days=3), {"on": False}, date(2026, 3, 7)),
        (a_spec("c", days=3, repeat=Repeat(7, 38)), {"questions": ("feeds",)}, date(2026, 1, 31)),
        (a_spec("c", anchor=Anchor.discharge, days=1), {"days": 2}, date(2026, 2, 15)),
        (a_spec("c", anchor=Anchor.review, days=-1), {"days": 0}, date(2026, 2, 17)),
    ],
)
def test_whoever_is_past_every_form_of_a_changed_contact_is_not_touched(
    spec: ContactSpec, changed: dict[str, object], expected: date
) -> None:
    before = a_schedule(spec)
    found = changed_contacts(before, with_contact(before, "c", **changed))

    assert born_since(found, date(2026, 3, 10)) == expected


def test_nobody_is_touched_when_nothing_changes() -> None:
    assert born_since((), date(2026, 3, 10)) is None


@given(st.integers(0, 42), st.integers(0, 42), st.booleans())
def test_a_pair_whose_plan_changes_was_born_since_the_day_named(old: int, new: int, on: bool) -> None:
    """The estimate may count too many pairs, never too few."""
    before = a_schedule(a_spec("c", days=old, at=time(10)))
    after = with_contact(before, "c", days=new, on=on)
    found = changed_contacts(before, after)
    pair = a_pair()
    differs = any(c.how is not How.same for c in compared(planned(pair, before), planned(pair, after)))
    if differs:
        last = max(old, new) if on else old
        in_force = pair.youngest.born_on + timedelta(days=last)
        since = born_since(found, in_force)
        assert since is not None
        assert pair.youngest.born_on >= since

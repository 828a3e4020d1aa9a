"""When contacts are due. Clock changes are read as in RFC 5545, section 3.3.5; their dates: tz database."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.core.pair import Pair
from bot.core.plan import (
    DAY,
    Planned,
    is_quiet,
    latest_birth,
    next_contact,
    out_of_quiet,
    passed,
    plan_stamp,
    planned,
    send_at,
    small_or_twin,
)
from bot.core.schedule import Anchor, ContactKind, Repeat, Schedule, Window
from bot.core.states import BabyState, ReviewState
from tests.support.pairs import a_baby, a_contact, a_pair, a_review, a_site
from tests.support.schedules import a_schedule, a_spec, the_standard_schedule

HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)
NO_QUIET = {"quiet_from": time(0), "quiet_until": time(0)}
ZONES = [
    "Africa/Nairobi",
    "Africa/Cairo",
    "Europe/London",
    "America/New_York",
    "America/St_Johns",
    "Asia/Kolkata",
    "Asia/Kathmandu",
    "Australia/Lord_Howe",  # its clocks move by half an hour
    "Pacific/Kiritimati",
]


def wall(text: str, zone: str = "Africa/Nairobi") -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(zone))


def due(pair: Pair, schedule: Schedule) -> dict[str, str]:
    """Each contact's local due time, by key and (from the second on) occurrence."""
    return {
        each.key
        if each.occurrence == 1
        else f"{each.key}#{each.occurrence}": f"{each.due_local:%Y-%m-%d %H:%M}"
        for each in planned(pair, schedule)
    }


def recorded(pair: Pair, contact: Planned) -> Pair:
    return replace(
        pair, contacts=(*pair.contacts, a_contact(contact.key, contact.occurrence, contact.due_at))
    )


# ---------------------------------------------------------------- wall-clock time


@pytest.mark.parametrize(
    ("zone", "born", "at", "utc"),
    [
        pytest.param(
            "Africa/Nairobi", "2026-03-02 06:15", "08:30", "2026-03-04 05:30", id="no clock changes"
        ),
        pytest.param("Asia/Kolkata", "2026-03-02 06:15", "08:30", "2026-03-04 03:00", id="half-hour zone"),
        pytest.param(
            "Asia/Kathmandu", "2026-03-02 06:15", "08:30", "2026-03-04 02:45", id="quarter-hour zone"
        ),
        pytest.param("Europe/London", "2026-03-27 10:00", "08:30", "2026-03-29 07:30", id="over a short day"),
        pytest.param("Europe/London", "2026-10-23 10:00", "08:30", "2026-10-25 08:30", id="over a long day"),
        pytest.param(
            "Europe/London", "2026-03-27 10:00", "01:30", "2026-03-29 01:30", id="London gap: 02:30 BST"
        ),
        pytest.param(
            "Europe/London", "2026-10-23 10:00", "01:30", "2026-10-25 00:30", id="London, first 01:30"
        ),
        pytest.param("America/New_York", "2026-03-06 10:00", "02:30", "2026-03-08 07:30", id="New York gap"),
        pytest.param(
            "America/New_York", "2026-10-30 10:00", "01:30", "2026-11-01 05:30", id="New York, first"
        ),
        pytest.param(
            "Africa/Cairo", "2026-04-22 10:00", "00:30", "2026-04-23 22:30", id="Cairo midnight gap"
        ),
        pytest.param(
            "Africa/Cairo", "2026-10-27 10:00", "23:30", "2026-10-29 20:30", id="Cairo, first 23:30"
        ),
    ],
)
def test_two_days_after_birth_is_the_same_wall_time_two_local_dates_later(zone, born, at, utc):
    pair = a_pair(zone=zone, born_at=wall(born, zone), discharged_at=wall(born, zone) + 4 * HOUR)
    schedule = a_schedule(a_spec(days=2, at=time.fromisoformat(at)), **NO_QUIET)

    (contact,) = planned(pair, schedule)

    assert contact.due_at == datetime.fromisoformat(utc).replace(tzinfo=UTC)


@pytest.mark.parametrize(
    ("spec", "utc"),
    [
        pytest.param(a_spec(anchor=Anchor.discharge, hours=24), "2026-03-29 10:00", id="24 elapsed hours"),
        pytest.param(
            a_spec(anchor=Anchor.discharge, days=1), "2026-03-29 09:00", id="one day, 23 real hours"
        ),
        pytest.param(a_spec(anchor=Anchor.discharge, days=1, hours=0.5), "2026-03-29 09:30", id="both"),
    ],
)
def test_hours_are_elapsed_and_days_are_wall_time_over_a_spring_night_in_london(spec, utc):
    left = wall("2026-03-28 10:00", "Europe/London")
    pair = a_pair(zone="Europe/London", born_at=left - DAY, discharged_at=left)

    (contact,) = planned(pair, a_schedule(spec))

    assert contact.due_at == datetime.fromisoformat(utc).replace(tzinfo=UTC)


def test_a_discharge_in_the_second_coming_of_an_hour_is_not_taken_for_the_first():
    left = datetime(2026, 10, 25, 1, 10, tzinfo=UTC)  # 01:10 in London for the second time
    pair = a_pair(zone="Europe/London", born_at=left - DAY, discharged_at=left)

    (contact,) = planned(pair, a_schedule(a_spec(anchor=Anchor.discharge), **NO_QUIET))

    assert contact.due_at == left


def test_enrolment_in_the_second_coming_of_an_hour_is_after_discharge_in_the_first():
    london = ZoneInfo("Europe/London")
    left = datetime(2026, 10, 25, 1, 50, tzinfo=london)
    enrolled = datetime(2026, 10, 25, 1, 10, tzinfo=london, fold=1)  # 20 minutes later
    pair = a_pair(zone="Europe/London", born_at=left - DAY, discharged_at=left, enrolled_at=enrolled)
    advice = a_spec(kind=ContactKind.advice, anchor=Anchor.discharge)

    (contact,) = planned(pair, a_schedule(advice, **NO_QUIET))

    assert contact.due_at == datetime(2026, 10, 25, 1, 10, tzinfo=UTC)


@pytest.mark.parametrize(
    ("born", "second_day"),
    [
        ("2026-03-02 23:59", "2026-03-04 08:30"),
        ("2026-03-03 00:00", "2026-03-05 08:30"),
        ("2026-03-03 00:01", "2026-03-05 08:30"),
    ],
)
def test_a_birth_around_midnight_counts_from_its_own_date(born, second_day):
    pair = a_pair(born_at=wall(born))

    assert due(pair, a_schedule(a_spec(days=2, at=time(8, 30)))) == {"look": second_day}


def test_the_local_date_of_birth_is_the_sites_not_utc():
    born = wall("2026-03-03 01:00", "Asia/Kolkata")  # still 2 March in UTC
    pair = a_pair(zone="Asia/Kolkata", born_at=born.astimezone(UTC))

    assert due(pair, a_schedule(a_spec(days=2, at=time(8, 30)))) == {"look": "2026-03-05 08:30"}


# ---------------------------------------------------------------- time of day


@pytest.mark.parametrize(
    ("preferred", "opens", "closes", "expected"),
    [
        pytest.param(None, "08:00", "16:00", "08:30", id="no wish: half an hour after opening"),
        pytest.param(10, "08:00", "16:00", "10:00", id="as she wished"),
        pytest.param(7, "08:00", "16:00", "08:30", id="before opening"),
        pytest.param(19, "08:00", "16:00", "13:00", id="three hours before closing at the latest"),
        pytest.param(12, "09:00", "11:00", "09:30", id="a short day: soon after opening"),
        pytest.param(12, "00:00", "02:00", "08:00", id="closed before the quiet hours end: at their end"),
        pytest.param(None, "07:00", "15:00", "08:00", id="opens in the quiet hours: at their end"),
        pytest.param(23, "00:00", "23:59", "08:00", id="wishes for the quiet hours: next morning"),
    ],
)
def test_a_check_in_leaves_the_site_hours_to_act(preferred, opens, closes, expected):
    site = a_site(opens=time.fromisoformat(opens), closes=time.fromisoformat(closes))
    pair = a_pair(site=site, preferred_hour=preferred)

    (contact,) = planned(pair, a_schedule(a_spec(days=2, cover=True)))

    assert contact.due_local.strftime("%H:%M") == expected


@pytest.mark.parametrize(
    ("preferred", "expected"), [(None, "09:00"), (8, "09:00"), (11, "11:00"), (20, "18:00")]
)
def test_the_preferred_hour_is_kept_inside_a_window(preferred, expected):
    spec = a_spec(days=2, window=Window(time(9), time(18)))

    (contact,) = planned(a_pair(preferred_hour=preferred), a_schedule(spec))

    assert contact.due_local.strftime("%H:%M") == expected


@pytest.mark.parametrize(
    ("at", "valid_hours", "expected"),
    [
        pytest.param("19:59", 6, "2026-03-04 19:59", id="just before"),
        pytest.param("20:00", 13, "2026-03-05 08:00", id="at their start"),
        pytest.param("07:59", 1, "2026-03-04 08:00", id="at their last minute"),
        pytest.param("08:00", 1, "2026-03-04 08:00", id="at their end"),
        pytest.param("20:00", 12, None, id="no longer valid when they end"),
    ],
)
def test_a_contact_in_quiet_hours_moves_to_their_end_while_it_is_valid(at, valid_hours, expected):
    spec = a_spec(days=2, at=time.fromisoformat(at), valid_for=valid_hours * HOUR)

    assert due(a_pair(), a_schedule(spec)) == ({} if expected is None else {"look": expected})


def test_a_question_is_not_valid_into_the_quiet_hours_but_advice_is():
    question = a_spec("ask", days=2, at=time(13), valid_for=DAY)
    advice = a_spec("tell", kind=ContactKind.advice, days=2, at=time(13), valid_for=DAY)

    ask, tell = planned(a_pair(), a_schedule(question, advice))

    assert ask.valid_until == wall("2026-03-04 20:00")
    assert tell.valid_until == wall("2026-03-05 13:00")


@pytest.mark.parametrize(
    ("start", "until", "quiet", "loud"),
    [
        pytest.param(
            "20:00", "08:00", ["20:00", "23:59", "00:00", "07:59"], ["08:00", "19:59"], id="over midnight"
        ),
        pytest.param("13:00", "14:00", ["13:00", "13:59"], ["12:59", "14:00", "00:00"], id="by day"),
        pytest.param("00:00", "00:00", [], ["00:00", "12:00", "23:59"], id="none"),
    ],
)
def test_quiet_hours_hold_their_start_and_not_their_end(start, until, quiet, loud):
    schedule = a_schedule(quiet_from=time.fromisoformat(start), quiet_until=time.fromisoformat(until))

    assert all(is_quiet(time.fromisoformat(clock), schedule) for clock in quiet)
    assert not any(is_quiet(time.fromisoformat(clock), schedule) for clock in loud)


@pytest.mark.parametrize(
    ("now", "expected"),
    [
        pytest.param("2026-03-04 09:00", "2026-03-04 13:00", id="early: when due"),
        pytest.param("2026-03-04 15:00", "2026-03-04 15:00", id="late but valid: at once"),
        pytest.param("2026-03-04 21:00", "2026-03-05 08:00", id="at night: in the morning"),
        pytest.param("2026-03-05 13:00", None, id="too late: not at all"),
    ],
)
def test_a_contact_taken_up_late_keeps_quiet_hours_and_validity(now, expected):
    schedule = a_schedule(a_spec("tell", kind=ContactKind.advice, days=2, at=time(13), valid_for=DAY))
    (contact,) = planned(a_pair(), schedule)

    assert send_at(contact, schedule, wall(now)) == (expected and wall(expected))


@pytest.mark.parametrize(
    ("utc", "until", "end"),
    [
        pytest.param("2026-10-25 00:15", "01:30", "2026-10-25 00:30", id="first 01:15: the first 01:30"),
        pytest.param("2026-10-25 01:15", "01:30", "2026-10-25 01:30", id="second 01:15: the second 01:30"),
        pytest.param("2026-03-29 00:15", "01:30", "2026-03-29 01:30", id="01:30 left out: 02:30 BST"),
        pytest.param("2026-03-28 22:00", "08:00", "2026-03-29 07:00", id="through a short night"),
    ],
)
def test_quiet_hours_of_london_end_right_when_its_clocks_change(utc, until, end):
    schedule = a_schedule(quiet_from=time(20), quiet_until=time.fromisoformat(until))
    instant = datetime.fromisoformat(utc).replace(tzinfo=UTC)

    result = out_of_quiet(instant, schedule, ZoneInfo("Europe/London"))

    assert result == datetime.fromisoformat(end).replace(tzinfo=UTC)


# ---------------------------------------------------------------- questions


def test_counts_of_24_hours_are_not_asked_of_a_baby_younger_than_that():
    born = wall("2026-03-02 10:00")
    pair = a_pair(born_at=born, discharged_at=born + 8 * HOUR)
    asks: dict[str, Any] = {"days": 1, "questions": ("worry", "feeds", "pain")}

    (young,) = planned(pair, a_schedule(a_spec(at=time(9, 59), **asks)))
    (day_old,) = planned(pair, a_schedule(a_spec(at=time(10), **asks)))

    assert young.questions == ("worry", "pain")
    assert day_old.questions == ("worry", "feeds", "pain")


def test_a_check_in_with_nothing_but_counts_is_not_planned_before_24_hours():
    pair = a_pair(born_at=wall("2026-03-02 10:00"), discharged_at=wall("2026-03-02 18:00"))

    assert planned(pair, a_schedule(a_spec(days=1, at=time(9), questions=("feeds", "wet_nappies")))) == []


@pytest.mark.parametrize(
    ("discharged", "asked"),
    [
        pytest.param("2026-03-03 09:00", ("worry",), id="may have been born at the end of the day"),
        pytest.param("2026-03-02 12:00", ("worry",), id="born by noon: may be 22 hours old"),
        pytest.param("2026-03-02 10:00", ("worry", "feeds"), id="born by ten: surely a day old"),
    ],
)
def test_an_unknown_hour_of_birth_means_the_youngest_possible_age(discharged, asked):
    pair = a_pair(born_at=None, born_on=date(2026, 3, 2), discharged_at=wall(discharged))

    (contact,) = planned(pair, a_schedule(a_spec(days=1, at=time(10), questions=("worry", "feeds"))))

    assert contact.questions == asked


def test_the_youngest_of_several_babies_sets_age_and_day():
    babies = [a_baby(1, born_at=wall("2026-03-02 23:50")), a_baby(2, born_at=wall("2026-03-03 00:20"))]
    pair = a_pair(babies=babies)

    assert latest_birth(pair) == wall("2026-03-03 00:20")
    assert due(pair, a_schedule(a_spec(days=2, at=time(9)))) == {"look": "2026-03-05 09:00"}


@pytest.mark.parametrize(("days", "asked"), [(2, 3), (7, 3), (8, 4)])
def test_a_contact_of_the_first_week_asks_three_questions_at_most(days, asked):
    four = ("worry", "feeds", "wet_nappies", "pain")

    (contact,) = planned(a_pair(), a_schedule(a_spec(days=days, at=time(9), questions=four)))

    assert contact.questions == four[:asked]


def test_a_local_day_asks_four_questions_at_most_and_the_later_contact_gives_way():
    schedule = a_schedule(
        a_spec("first", days=9, at=time(9), questions=("worry", "feeds", "wet_nappies")),
        a_spec("second", days=9, at=time(12), questions=("pain", "other_food")),
        a_spec("third", days=9, at=time(15), questions=("pain",)),
        a_spec("next-day", days=10, at=time(9), questions=("pain", "other_food")),
    )

    asked = {each.key: each.questions for each in planned(a_pair(), schedule)}

    assert asked == {
        "first": ("worry", "feeds", "wet_nappies"),
        "second": ("pain",),
        "next-day": ("pain", "other_food"),
    }


# ---------------------------------------------------------------- late enrolment, the past


def test_late_enrolment_skips_what_is_past_and_still_tells_her_how_to_stop():
    pair = a_pair(enrolled_at=wall("2026-03-07 12:00"))  # day 5, after that day's check-in

    first_three = list(due(pair, the_standard_schedule()).items())[:3]

    assert first_three == [
        ("welcome", "2026-03-07 12:00"),
        ("day-7", "2026-03-09 08:30"),
        ("visit-reminder-week-1", "2026-03-10 09:00"),
    ]


def test_enrolment_at_night_waits_for_the_morning():
    pair = a_pair(enrolled_at=wall("2026-03-07 22:00"))

    assert due(pair, the_standard_schedule())["welcome"] == "2026-03-08 08:00"


def test_a_check_in_due_before_she_left_the_ward_is_not_hers():
    pair = a_pair(discharged_at=wall("2026-03-04 14:00"))  # day 2; the check-in was due at 08:30

    assert "day-2" not in due(pair, the_standard_schedule())
    assert due(pair, the_standard_schedule())["day-3"] == "2026-03-05 08:30"


def test_what_passed_while_nobody_worked_is_told_and_never_offered_again():
    pair, schedule = a_pair(), the_standard_schedule()
    for contact in planned(pair, schedule)[:2]:
        pair = recorded(pair, contact)
    now = wall("2026-03-05 09:00")  # day 3: nothing ran since day 1

    assert [each.key for each in passed(pair, schedule, now)] == ["day-2"]
    following = next_contact(pair, schedule, now)
    assert following is not None
    assert following.key == "day-3"
    assert following.due_at < now


def test_a_contact_is_past_at_the_very_end_of_its_validity_and_not_before():
    pair, schedule = a_pair(), a_schedule(a_spec(days=2, at=time(9), valid_for=HOUR))
    (contact,) = planned(pair, schedule)
    end = wall("2026-03-04 10:00")

    assert next_contact(pair, schedule, end - MINUTE) == contact
    assert passed(pair, schedule, end - MINUTE) == []
    assert next_contact(pair, schedule, end) is None
    assert passed(pair, schedule, end) == [contact]


# ---------------------------------------------------------------- who gets what


@pytest.mark.parametrize(
    ("babies", "small"),
    [
        pytest.param([a_baby()], False, id="term, 3,000 g"),
        pytest.param([a_baby(birth_weight_g=2500, gestation_weeks=37.0)], False, id="at both limits"),
        pytest.param([a_baby(birth_weight_g=2499)], True, id="low birth weight"),
        pytest.param([a_baby(gestation_weeks=36.9)], True, id="preterm"),
        pytest.param([a_baby(birth_weight_g=None, gestation_weeks=None)], False, id="unknown"),
        pytest.param([a_baby(1), a_baby(2)], True, id="twins"),
        pytest.param([a_baby(1, state=BabyState.died), a_baby(2)], True, id="a twin whose twin died"),
    ],
)
def test_small_early_and_twin_babies_get_more_contacts(babies, small):
    """Low birth weight is below 2,500 g, preterm before 37 completed weeks: WHO definitions."""
    pair = a_pair(babies=babies)
    keys = [each.key for each in planned(pair, the_standard_schedule())]

    assert small_or_twin(pair) is small
    assert ("small-day-6" in keys) is small
    assert keys.count("small-weekly") == (4 if small else 0)


def test_a_contact_that_is_off_is_not_planned():
    assert planned(a_pair(), a_schedule(a_spec(days=2, on=False))) == []


def test_a_repeating_contact_counts_its_occurrences_from_the_anchor():
    schedule = a_schedule(a_spec(days=3, at=time(9), repeat=Repeat(every_days=2, until_days=8)))

    assert due(a_pair(), schedule) == {
        "look": "2026-03-05 09:00",
        "look#2": "2026-03-07 09:00",
        "look#3": "2026-03-09 09:00",
    }
    late = a_pair(enrolled_at=wall("2026-03-06 09:00"))
    assert due(late, schedule) == {"look#2": "2026-03-07 09:00", "look#3": "2026-03-09 09:00"}


# ---------------------------------------------------------------- the review


def reminders(pair: Pair) -> dict[str, str]:
    return {key: at for key, at in due(pair, the_standard_schedule()).items() if key.startswith("review-")}


def test_reminders_come_the_evening_before_and_the_morning_of_the_review():
    pair = a_pair(reviews=(a_review(date(2026, 3, 5), time(14)),))

    assert reminders(pair) == {"review-evening": "2026-03-04 18:00", "review-morning": "2026-03-05 08:00"}


def test_without_an_expected_review_there_are_no_reminders():
    assert reminders(a_pair()) == {}
    attended = a_review(date(2026, 3, 5), state=ReviewState.attended)
    assert reminders(a_pair(reviews=(attended,))) == {}


def test_a_moved_review_has_reminders_of_its_own():
    moved = a_review(date(2026, 3, 5), time(14), state=ReviewState.cancelled)
    new = a_review(date(2026, 3, 6), time(14), booked_at=wall("2026-03-05 09:00"))
    reminded = a_contact("review-evening", 1, wall("2026-03-04 18:00"))
    pair = a_pair(reviews=(moved, new), contacts=(reminded,))

    assert reminders(pair) == {"review-evening#2": "2026-03-05 18:00", "review-morning#2": "2026-03-06 08:00"}
    only_evening = [spec for spec in the_standard_schedule().contacts if spec.key == "review-evening"]
    following = next_contact(pair, a_schedule(*only_evening), wall("2026-03-05 17:00"))
    assert following is not None
    assert following.occurrence == 2


def test_hours_from_a_review_count_from_its_hour_or_from_opening():
    days_on = a_schedule(a_spec(kind=ContactKind.reminder, anchor=Anchor.review, days=-1, hours=2))

    assert due(a_pair(reviews=(a_review(date(2026, 3, 5), time(14)),)), days_on) == {
        "look": "2026-03-04 16:00"
    }
    assert due(a_pair(reviews=(a_review(date(2026, 3, 5)),)), days_on) == {"look": "2026-03-04 10:00"}


def test_a_review_booked_after_the_evening_has_only_the_morning():
    pair = a_pair(reviews=(a_review(date(2026, 3, 5), time(14), booked_at=wall("2026-03-04 18:30")),))

    assert reminders(pair) == {"review-morning": "2026-03-05 08:00"}


def test_a_reminder_is_never_valid_beyond_the_hour_of_the_review():
    pair = a_pair(reviews=(a_review(date(2026, 3, 5), time(9, 15)),))
    morning = next(each for each in planned(pair, the_standard_schedule()) if each.key == "review-morning")

    assert morning.valid_until == wall("2026-03-05 09:15")
    at_opening = a_pair(reviews=(a_review(date(2026, 3, 5), time(8)),))
    assert reminders(at_opening) == {"review-evening": "2026-03-04 18:00"}


# ---------------------------------------------------------------- the standard schedule


def test_the_standard_plan_of_a_term_baby():
    pair = a_pair(reviews=(a_review(date(2026, 3, 5), time(14)),))

    assert [
        (each.key, f"{each.due_local:%d.%m. %H:%M}") for each in planned(pair, the_standard_schedule())
    ] == [
        ("welcome", "03.03. 14:00"),
        ("practise-attach", "03.03. 14:30"),
        ("day-2", "04.03. 08:30"),
        ("review-evening", "04.03. 18:00"),
        ("review-morning", "05.03. 08:00"),
        ("day-3", "05.03. 08:30"),
        ("day-4", "06.03. 08:30"),
        ("day-5", "07.03. 08:30"),
        ("day-7", "09.03. 08:30"),
        ("visit-reminder-week-1", "10.03. 09:00"),
        ("day-10", "12.03. 08:30"),
        ("day-14", "16.03. 08:30"),
        ("advice-week-2", "17.03. 09:00"),
        ("day-21", "23.03. 08:30"),
        ("day-28", "30.03. 08:30"),
        ("day-35", "06.04. 08:30"),
        ("visit-reminder-week-6", "11.04. 09:00"),
        ("day-42", "13.04. 08:30"),
        ("finished", "14.04. 15:00"),
    ]


def test_the_stamp_changes_with_the_edition_and_with_the_site():
    schedule, site = the_standard_schedule(), a_site()
    stamps = {
        plan_stamp(schedule, site),
        plan_stamp(replace(schedule, edition=2), site),
        plan_stamp(schedule, replace(site, revision=2)),
    }

    assert len(stamps) == 3


# ---------------------------------------------------------------- what always holds


@st.composite
def clocks(draw: st.DrawFn, first: int = 0, last: int = 23) -> time:
    return time(draw(st.integers(first, last)), draw(st.sampled_from([0, 15, 30, 59])))


@st.composite
def pairs(draw: st.DrawFn) -> Pair:
    zone = draw(st.sampled_from(ZONES))
    # Half of the births fall a few days before a clock change of one of the zones.
    changes = [(3, 5), (3, 26), (4, 2), (4, 21), (10, 1), (10, 22), (10, 27), (10, 29)]
    month, day = draw(st.one_of(st.tuples(st.integers(1, 12), st.integers(1, 28)), st.sampled_from(changes)))
    born = datetime(2026, month, day, tzinfo=UTC) + draw(st.integers(0, 24 * 60)) * MINUTE
    discharged = born + draw(st.integers(2, 120)) * HOUR
    enrolled = discharged + draw(st.one_of(st.just(timedelta()), st.integers(0, 500).map(lambda h: h * HOUR)))
    known = draw(st.booleans())
    babies = [
        a_baby(
            n + 1,
            zone=zone,
            born_at=born if known else None,
            born_on=born.astimezone(ZoneInfo(zone)).date(),
            birth_weight_g=draw(st.sampled_from([None, 1800, 3000])),
        )
        for n in range(draw(st.integers(1, 2)))
    ]
    on_day = discharged.astimezone(ZoneInfo(zone)).date() + draw(st.integers(1, 10)) * DAY
    review = a_review(on_day, draw(st.one_of(st.none(), clocks(8, 16))), booked_at=enrolled)
    return a_pair(
        site=a_site(zone=zone, opens=draw(clocks(0, 12)), closes=draw(clocks(13, 23))),
        babies=babies,
        discharged_at=discharged,
        enrolled_at=enrolled,
        preferred_hour=draw(st.one_of(st.none(), st.integers(0, 23))),
        reviews=draw(st.sampled_from([(), (review,)])),
    )


@st.composite
def schedules(draw: st.DrawFn) -> Schedule:
    """The standard schedule with other quiet hours and limits."""
    return replace(
        the_standard_schedule(),
        quiet_from=draw(clocks(18, 23)),
        quiet_until=draw(clocks(0, 9)),
        max_asking_a_day=draw(st.integers(1, 5)),
        max_questions_first_week=draw(st.integers(1, 3)),
    )


@given(pairs(), schedules())
def test_every_contact_is_well_timed(pair, schedule):
    home = max(pair.discharged_at, pair.enrolled_at)
    for contact in planned(pair, schedule):
        assert contact.due_at.tzinfo is UTC
        assert contact.valid_until.tzinfo is UTC
        assert contact.due_local.tzinfo is pair.tz
        assert contact.due_local.astimezone(UTC) == contact.due_at < contact.valid_until
        assert contact.due_at >= home
        assert not is_quiet(contact.due_local.time(), schedule)


@given(pairs(), schedules())
def test_contacts_come_in_order_and_none_twice(pair, schedule):
    contacts = planned(pair, schedule)

    assert [each.due_at for each in contacts] == sorted(each.due_at for each in contacts)
    assert max(Counter((each.key, each.occurrence) for each in contacts).values(), default=1) == 1


@given(pairs(), schedules())
def test_questions_keep_all_limits(pair, schedule):
    asked: Counter[date] = Counter()
    for contact in planned(pair, schedule):
        asked[contact.due_local.date()] += len(contact.questions)
        assert bool(contact.questions) is (contact.kind is ContactKind.check_in)
        assert list(contact.questions) == [q for q in contact.spec.questions if q in contact.questions]
        if (contact.due_local.date() - pair.youngest.born_on).days <= 7:
            assert len(contact.questions) <= schedule.max_questions_first_week
        if contact.due_at - latest_birth(pair) < DAY:
            assert not schedule.day_counts & set(contact.questions)
    assert max(asked.values(), default=0) <= schedule.max_asking_a_day


@given(pairs(), schedules())
def test_taking_each_next_contact_in_turn_takes_all_in_order(pair, schedule):
    whole, taken = planned(pair, schedule), []
    while (contact := next_contact(pair, schedule, pair.enrolled_at)) is not None:
        taken.append(contact)
        pair = recorded(pair, contact)

    assert taken == whole
    assert passed(pair, schedule, datetime.max.replace(tzinfo=UTC)) == []


@given(pairs(), schedules(), st.integers(0, 60 * 24 * 60), st.sets(st.integers(0, 30)))
def test_at_any_moment_each_contact_is_done_past_or_still_to_come(pair, schedule, minutes, done):
    whole, now = planned(pair, schedule), pair.discharged_at + minutes * MINUTE
    for place, contact in enumerate(whole):
        if place in done:
            pair = recorded(pair, contact)

    gone = passed(pair, schedule, now)
    to_come = [each for place, each in enumerate(whole) if place not in done and each not in gone]

    assert planned(pair, schedule) == whole
    assert next_contact(pair, schedule, now) == (to_come[0] if to_come else None)
    assert all(each.valid_until <= now for each in gone)
    assert all(each.valid_until > now for each in to_come)


@given(st.sampled_from(ZONES), clocks(), clocks(), st.integers(0, 365 * 24 * 4))
def test_quiet_hours_end_where_counting_minutes_says(zone, start, until, quarters):
    tz, schedule = ZoneInfo(zone), a_schedule(quiet_from=start, quiet_until=until)
    instant = datetime(2026, 1, 1, tzinfo=UTC) + quarters * 15 * MINUTE
    first = instant
    while is_quiet(first.astimezone(tz).time(), schedule):
        first += MINUTE

    result = out_of_quiet(instant, schedule, tz)

    assert not is_quiet(result.astimezone(tz).time(), schedule)
    if result == instant or result.astimezone(tz).time() == until:
        assert result == first
    else:  # their end does not exist that day: the clock change carries it forward
        assert first <= result <= first + HOUR

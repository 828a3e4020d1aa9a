"""Discharge details: what is refused, what is asked about, what is taken as it stands."""

import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.core.enrolment import differences, examine
from bot.core.pair import Pair
from bot.core.states import EnrolmentState, Texting
from tests.support.discharges import ASSESSMENT, GONE, NOW, details, terms
from tests.support.pairs import a_site

# Times as a clock on a wall shows them.
FIRST_WALL, LAST_WALL = datetime.fromisoformat("2025-01-01"), datetime.fromisoformat("2027-12-31")


def faults(raw: object, *, now: datetime = NOW, **changed: Any) -> set[str]:
    """The faults by field; a mark of interrogation stands before those that can be confirmed."""
    found = examine(raw, terms(**changed), now)
    assert (found.pair is None) == bool(found.faults)
    return {("?" if fault.confirm else "") + fault.field for fault in found.faults}


def pair_of(raw: object, *, now: datetime = NOW, **changed: Any) -> Pair:
    found = examine(raw, terms(**changed), now)
    assert found.pair is not None, [str(fault) for fault in found.faults]
    return found.pair


def test_a_whole_enrolment_becomes_a_pair_that_is_followed_but_not_yet_texted():
    pair = pair_of(details())
    baby = pair.babies[0]
    assert (pair.state, pair.mother.texting) == (EnrolmentState.following, Texting.unverified)
    assert pair.mother.phone == "+447700900123"
    assert pair.discharged_at == datetime(2026, 3, 3, 11, 0, tzinfo=UTC)
    assert (baby.born_on, baby.born_at) == (date(2026, 3, 2), datetime(2026, 3, 2, 3, 15, tzinfo=UTC))
    assert (baby.birth_weight_g, baby.gestation_weeks, baby.sex) == (3250, 39.5, "female")
    assert pair.enrolled_at == NOW
    assert pair.wake_at is None  # the transition sets it


def test_the_same_input_at_the_same_moment_gives_the_same_pair():
    assert pair_of(details()) == pair_of(details())


# Both sides of each bound.
BOUNDS = [
    ("babies__0__birth_weight_g", 399, {"babies.0.birth_weight_g"}),
    ("babies__0__birth_weight_g", 400, {"?babies.0.birth_weight_g"}),
    ("babies__0__birth_weight_g", 1499, {"?babies.0.birth_weight_g"}),
    ("babies__0__birth_weight_g", 1500, set()),
    ("babies__0__birth_weight_g", 7000, set()),
    ("babies__0__birth_weight_g", 7001, {"babies.0.birth_weight_g"}),
    ("babies__0__gestation_weeks", 21.9, {"babies.0.gestation_weeks"}),
    ("babies__0__gestation_weeks", 22, {"?babies.0.gestation_weeks"}),
    ("babies__0__gestation_weeks", 31.9, {"?babies.0.gestation_weeks"}),
    ("babies__0__gestation_weeks", 32, set()),
    ("babies__0__gestation_weeks", 45, set()),
    ("babies__0__gestation_weeks", 45.1, {"babies.0.gestation_weeks"}),
    ("discharged_at", "2026-03-03T14:20", set()),  # now
    ("discharged_at", "2026-03-03T14:21", {"discharged_at"}),
    ("babies__0__born_at", "2026-03-03T14:00", set()),  # the minute of discharge
    ("babies__0__born_at", "2026-03-03T14:01", {"babies.0.born_at"}),
    ("babies__0__born_at", "2026-03-03", set()),
    ("babies__0__born_at", "2026-03-04", {"babies.0.born_at"}),
    ("babies__0__born_at", "2026-01-20", set()),  # 42 days before
    ("babies__0__born_at", "2026-01-19", {"?babies.0.born_at"}),
    ("babies__0__born_at", "2025-03-03", {"?babies.0.born_at"}),
    ("babies__0__born_at", "2025-03-02", {"babies.0.born_at"}),
    ("preferred_hour", 0, set()),
    ("preferred_hour", 23, set()),
    ("preferred_hour", 24, {"preferred_hour"}),
    ("preferred_hour", -1, {"preferred_hour"}),
    ("mother__age", 10, set()),
    ("mother__age", 9, {"mother.age"}),
    ("mother__age", 65, set()),
    ("mother__age", 66, {"mother.age"}),
    ("mother__parity", 0, set()),
    ("mother__parity", 26, {"mother.parity"}),
]


@pytest.mark.parametrize(("name", "value", "expected"), BOUNDS)
def test_bounds_hold_on_both_sides(name, value, expected):
    assert faults(details(**{name: value})) == expected


@pytest.mark.parametrize(
    ("name", "value", "expected"),
    [
        ("external_id", GONE, {"external_id"}),
        ("external_id", "x" * 65, {"external_id"}),
        ("site", "elsewhere", {"site"}),
        ("mother", GONE, {"mother.name", "mother.phone", "mother.language"}),
        ("mother", "Amina", {"mother", "mother.name", "mother.phone", "mother.language"}),
        ("mother__name", "  ", {"mother.name"}),
        ("mother__name", "A\ud800", {"mother.name"}),
        ("mother__name", "A\x00", {"mother.name"}),
        ("mother__name", 7, {"mother.name"}),
        ("mother__phon", "1", {"mother.phon"}),
        ("mother__language", "xx", {"mother.language"}),
        ("mother__phone_shared", "perhaps", {"mother.phone_shared"}),
        ("mother__birth_mode", "other", {"mother.birth_mode"}),
        ("mother__risks", 3, {"mother.risks"}),
        ("babies", GONE, {"babies"}),
        ("babies", [], {"babies"}),
        ("babies", "Nia", {"babies"}),
        ("babies", [{}] * 10, {"babies"}),
        ("babies__0", 5, {"babies.0", "babies.0.born_at"}),
        ("babies__0__born_at", GONE, {"babies.0.born_at"}),
        ("babies__0__born_at", "2026-02-30", {"babies.0.born_at"}),
        ("babies__0__born_at", "2.3.2026", {"babies.0.born_at"}),
        ("babies__0__born_at", "2026-03-02T25:00", {"babies.0.born_at"}),
        ("babies__0__sex", "f", {"babies.0.sex"}),
        ("babies__0__birth_weight_g", 3250.5, {"babies.0.birth_weight_g"}),
        ("babies__0__birth_weight_g", "3.25", {"babies.0.birth_weight_g"}),
        ("babies__0__birth_weight_g", True, {"babies.0.birth_weight_g"}),
        ("babies__0__gestation_weeks", float("nan"), {"babies.0.gestation_weeks"}),
        ("babies__0__gestation_weeks", 10**400, {"babies.0.gestation_weeks"}),
        ("babies__0__place", "moon", {"babies.0.place"}),
        ("babies__0__assessment", {"suckling": "well"}, {"babies.0.assessment.suckling"}),
        ("babies__0__assessment", {"position": {"nek": "yes"}}, {"babies.0.assessment.position.nek"}),
        ("babies__0__assessment", {"weight_g": 300}, {"babies.0.assessment.weight_g"}),
        ("discharged_at", GONE, {"discharged_at"}),
        ("discharged_at", "2026-03-03", {"discharged_at"}),
        ("consent", GONE, {"consent"}),
        ("consent", False, {"consent"}),
        ("consent", {"texts": False, "calls": True}, {"follow_up_by"}),
        ("consent", {"txts": True}, {"consent.txts", "follow_up_by"}),
        ("second_contact", {"name": "Joy", "phone": "07700900124"}, {"second_contact"}),
        ("remarks", "x", {"remarks"}),
        ("confirmed", 5, {"confirmed"}),
        ("confirmed", [5], {"confirmed"}),
    ],
)
def test_each_fault_is_named_by_its_field(name, value, expected):
    assert faults(details(**{name: value})) == expected


def test_all_faults_are_named_at_once():
    raw = details(
        site="nowhere",
        mother__language="xx",
        babies__0__birth_weight_g=90,
        discharged_at="soon",
        colour="red",
    )
    assert faults(raw) == {"site", "mother.language", "babies.0.birth_weight_g", "discharged_at", "colour"}


@pytest.mark.parametrize("raw", [None, [], "text", 3, {}, {"babies": [None]}, {"mother": []}])
def test_what_is_no_enrolment_at_all_is_refused_with_its_faults(raw):
    assert faults(raw)


# ---- unusual facts


@pytest.mark.parametrize(
    ("name", "value", "field"),
    [
        ("babies__0__birth_weight_g", 1200, "babies.0.birth_weight_g"),
        ("babies__0__gestation_weeks", 30, "babies.0.gestation_weeks"),
        ("babies__0__born_at", "2026-01-02", "babies.0.born_at"),
        ("mother__phone", "+1 555 555 1234", "mother.phone"),
    ],
)
def test_an_unusual_fact_passes_once_its_own_field_is_confirmed(name, value, field):
    assert faults(details(**{name: value})) == {"?" + field}
    assert faults(details(**{name: value, "confirmed": ["mother.name"]})) == {"?" + field}
    assert pair_of(details(**{name: value, "confirmed": [field]})).extra["confirmed"] == field


def test_nothing_confirms_an_impossible_fact():
    raw = details(babies__0__birth_weight_g=399, confirmed=["babies.0.birth_weight_g"])
    assert faults(raw) == {"babies.0.birth_weight_g"}


def test_a_site_that_nobody_is_woken_for_enrols_no_real_mother():
    alone = {"on_call": ()}
    assert "site" in faults(details(), demo=False, site=alone)
    assert faults(details(), demo=True, site=alone) == set()


# ---- phones


def test_a_number_for_fiction_passes_in_a_demo_only():
    assert faults(details(), demo=True) == set()
    assert faults(details(), demo=False) == {"mother.phone"}
    us = details(mother__phone="+1 202 555 0123")  # valid by its numbering plan, yet it reaches nobody
    assert faults(us, demo=True) == set()
    assert faults(us, demo=False) == {"mother.phone"}


def test_a_national_number_is_read_with_the_region_of_the_site():
    raw = details(mother__phone="0491 570 006")
    assert faults(raw, site={"region": "GB"}) == {"?mother.phone"}
    assert pair_of(raw, site={"region": "AU"}).mother.phone == "+61491570006"


@pytest.mark.parametrize("phone", ["", None, GONE])
def test_a_pair_without_a_phone_is_followed_by_call_or_visit(phone):
    assert faults(details(mother__phone=phone)) == {"mother.phone"}
    for way in ("call", "visit"):
        pair = pair_of(details(mother__phone=phone, follow_up_by=way))
        assert (pair.mother.phone, pair.mother.texting) == (None, Texting.none)


def test_a_phone_of_a_mother_followed_by_call_gets_no_texts():
    pair = pair_of(details(follow_up_by="call", consent={"texts": False, "calls": True}))
    assert (pair.mother.phone, pair.mother.texting) == ("+447700900123", Texting.stopped)


def test_she_is_not_followed_by_calls_that_she_declined():
    assert faults(details(follow_up_by="call", consent={"texts": True, "calls": False})) == {"follow_up_by"}


def test_a_phone_not_said_to_be_hers_alone_counts_as_shared():
    assert pair_of(details(mother__phone_shared=GONE)).mother.phone_shared is True


def test_consent_may_be_true_for_texts_and_calls():
    consent = pair_of(details(consent=True)).consent
    assert (consent.texts, consent.calls, consent.home_visit, consent.research) == (True, True, False, False)


def test_a_second_contact_needs_consent_and_a_possible_number():
    agreed = {"texts": True, "calls": True, "second_contact": True}
    joy = {"name": "Joy", "phone": "07700 900124", "may_know": True}
    extra = pair_of(details(consent=agreed, second_contact=joy)).extra
    assert extra["second_contact_phone"] == "+447700900124"
    assert extra["second_contact_may_know"] == "yes"
    raw = details(consent=agreed, second_contact={"phone": "12"})
    assert faults(raw) == {"second_contact.name", "second_contact.phone"}


# ---- times


def test_a_date_alone_says_that_the_hour_is_unknown():
    baby = pair_of(details(babies__0__born_at="2026-03-02")).babies[0]
    assert (baby.born_on, baby.born_at) == (date(2026, 3, 2), None)


def test_a_time_with_an_offset_keeps_it_and_its_day_is_that_of_the_site():
    baby = pair_of(details(babies__0__born_at="2026-03-01T22:30Z")).babies[0]
    assert (baby.born_on, baby.born_at) == (date(2026, 3, 2), datetime(2026, 3, 1, 22, 30, tzinfo=UTC))


def test_an_hour_that_the_clocks_skipped_is_refused():
    # Europe/London goes from 01:00 to 02:00 on 29 March 2026 (IANA time zone database).
    raw = details(babies__0__born_at="2026-03-29T01:30", discharged_at="2026-03-30T10:00")
    later = datetime(2026, 3, 30, 12, 0, tzinfo=UTC)
    assert faults(raw, site={"zone": "Europe/London"}, now=later) == {"babies.0.born_at"}


def test_an_hour_that_comes_twice_makes_the_baby_as_young_as_it_can_be():
    # 01:30 comes twice on 25 October 2026 in Europe/London; the second one is in winter time.
    raw = details(babies__0__born_at="2026-10-25T01:30", discharged_at="2026-10-26T10:00")
    later = datetime(2026, 10, 26, 12, 0, tzinfo=UTC)
    baby = pair_of(raw, site={"zone": "Europe/London"}, now=later).babies[0]
    assert baby.born_at == datetime(2026, 10, 25, 1, 30, tzinfo=UTC)


# ---- facts as files and phones write them


@pytest.mark.parametrize(
    ("name", "value", "read"),
    [
        ("birth_weight_g", "3250", 3250),
        ("birth_weight_g", "٣٢٥٠", 3250),
        ("birth_weight_g", 3250.0, 3250),
        ("birth_weight_g", None, None),
        ("birth_weight_g", "", None),
        ("gestation_weeks", "38,5", 38.5),
        ("gestation_weeks", "38+3", 38.43),
        ("gestation_weeks", 38, 38.0),
        ("gestation_weeks", None, None),
        ("sex", None, None),
        ("sex", "Female", "female"),
        ("place", "neonatal unit", "neonatal_unit"),
        ("name", " Nia \u202e Grace ", "Nia Grace"),
    ],
)
def test_a_fact_of_a_baby_is_read_as_it_is_written(name, value, read):
    assert getattr(pair_of(details(**{f"babies__0__{name}": value})).babies[0], name) == read


def test_twins_are_two_babies_of_one_pair():
    twin = {"name": "Baraka", "born_at": "2026-03-02T06:40", "feeding_plan": "cup"}
    raw = details(feeding_plan="breast")
    pair = pair_of(raw | {"babies": [*raw["babies"], twin]})
    assert [(baby.ordinal, baby.name, baby.feeding_plan) for baby in pair.babies] == [
        (1, "Nia", "breast"),
        (2, "Baraka", "cup"),
    ]
    assert pair.babies[0].id != pair.babies[1].id


def test_babies_born_days_apart_are_asked_about():
    raw = details()
    for day, expected in (("2026-02-28", set()), ("2026-02-27", {"?babies.1.born_at"})):
        assert faults(raw | {"babies": [*raw["babies"], {"born_at": day}]}) == expected


def test_an_assessment_keeps_each_sign_and_says_what_was_not_seen():
    seen = pair_of(details(babies__0__assessment=ASSESSMENT)).assessments[0]
    assert (seen.baby, seen.occasion, seen.by, seen.weight_g) == (1, "discharge", "Ruth", 3150)
    assert seen.signs["position_supported"] == "no"
    assert seen.signs["attachment_lower_lip"] == "not_seen"
    partly = pair_of(details(babies__0__assessment={"suckling": "not_at_all"})).assessments[0]
    assert partly.signs["position_neck"] == "not_seen"


def test_an_assessment_in_which_nothing_was_seen_is_none():
    assert pair_of(details(babies__0__assessment={"suckling": "not_seen"})).assessments == ()


# ---- a repeated enrolment


def again(stored: Pair, **changes: Any) -> tuple[str, ...]:
    return differences(examine(details(**changes), terms(), NOW + timedelta(hours=2)), stored)


def test_the_same_enrolment_again_differs_in_nothing():
    for changes in (
        {},
        {"consent": True, "follow_up_by": "text"},
        {"babies__0__assessment": ASSESSMENT, "mother__risks": ["first baby"], "lives_at": "Hill Road"},
        {"babies__0__born_at": "2026-03-02", "mother__phone": "", "follow_up_by": "visit"},
    ):
        assert again(pair_of(details(**changes)), **changes) == ()


def test_a_value_written_another_way_does_not_differ():
    stored = pair_of(details())
    same = {"mother__phone": "+44 7700 900123", "babies__0__born_at": "2026-03-02T03:15Z"}
    assert again(stored, **same) == ()


def test_what_differs_is_named_and_so_is_what_can_not_be_read():
    stored = pair_of(details(babies__0__assessment=ASSESSMENT))
    assert again(
        stored, mother__phone="07700 900124", babies__0__birth_weight_g=90, babies__0__born_at="2026-03-02"
    ) == (
        "babies.0.assessment.attachment.areola",
        "babies.0.assessment.attachment.chin",
        "babies.0.assessment.attachment.mouth",
        "babies.0.assessment.position.close",
        "babies.0.assessment.position.neck",
        "babies.0.assessment.position.supported",
        "babies.0.assessment.position.turned",
        "babies.0.assessment.suckling",
        "babies.0.assessment.weight_g",
        "babies.0.birth_weight_g",
        "babies.0.born_at",
        "mother.phone",
    )


def test_a_number_that_turned_out_to_be_shared_is_no_difference():
    stored = pair_of(details())
    shared = replace(stored, mother=replace(stored.mother, phone_shared=True))
    assert again(shared) == ()
    assert again(stored, mother__phone_shared=True) == ("mother.phone_shared",)


# ---- anything at all

_VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=30),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=12), inner, max_size=4),
    max_leaves=12,
)
_NAMES = st.sampled_from(
    [
        "external_id",
        "site",
        "mother",
        "babies",
        "discharged_at",
        "consent",
        "preferred_hour",
        "follow_up_by",
        "second_contact",
        "lives_at",
        "confirmed",
        "feeding_plan",
        "mother__name",
        "mother__phone",
        "mother__language",
        "mother__phone_shared",
        "mother__age",
        "mother__risks",
        "babies__0",
        "babies__0__born_at",
        "babies__0__sex",
        "babies__0__birth_weight_g",
        "babies__0__assessment",
        "babies__0__gestation_weeks",
        "consent__texts",
        "second_contact__phone",
        "babies__0__assessment__position",
    ]
)


@given(_NAMES, _VALUES)
def test_any_value_anywhere_gives_a_pair_or_faults_that_each_name_a_field(name, value):
    raw = details(**{name: value})
    found = examine(raw, terms(), NOW)
    assert (found.pair is None) == bool(found.faults)
    for fault in found.faults:
        assert fault.field
        assert fault.message == fault.words % fault.values
        json.dumps({fault.field: fault.message})


@given(
    st.datetimes(FIRST_WALL, LAST_WALL),
    st.sampled_from(["Europe/London", "Africa/Nairobi"]),
)
def test_a_birth_time_is_stored_as_the_clock_of_the_site_showed_it(wall, zone):
    site = a_site(zone=zone)
    now = datetime(2027, 12, 31, 23, 59, tzinfo=UTC) + timedelta(days=1)
    raw = details(babies__0__born_at=wall.isoformat(), discharged_at="2027-12-31T23:59:59")
    born = examine(raw, terms(sites={"lakeside": site}), now).facts.get("babies.0.born_at")
    if born is None:  # the clocks skipped it
        assert zone == "Europe/London"
        assert wall.replace(tzinfo=site.tz).astimezone(UTC).astimezone(site.tz).replace(tzinfo=None) != wall
    else:
        assert born.astimezone(site.tz).replace(tzinfo=None) == wall


def test_her_phone_may_show_latin_letters_only():
    pair = examine(details(mother__language="en", mother__latin=True), terms(), NOW).pair
    assert pair is not None
    assert (pair.mother.latin, pair.mother.reads) == (True, "en-Latn")
    plain = examine(details(), terms(), NOW).pair
    assert plain is not None
    assert (plain.mother.latin, plain.mother.reads) == (False, plain.mother.language)


def test_without_texts_in_latin_letters_such_a_phone_is_refused():
    raw = details(mother__language="ar", mother__latin=True)
    (fault,) = examine(raw, terms(no_latin=frozenset({"ar"})), NOW).faults
    assert fault.field == "mother.latin"

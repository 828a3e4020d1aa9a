"""Invented pairs for tests: a whole one by default, each fact changed by name.

`a_pair()` is a term baby of 3,000 g, born at 06:15 on Monday 2 March 2026, discharged at 14:00 the next day
from a site in Nairobi (UTC+3, no clock changes) that opens every day but Sunday. Phone numbers come from the
range that Ofcom reserves for drama (07700 900000 to 900999).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from bot.core.ids import derived_id
from bot.core.pair import (
    Assessment,
    Baby,
    Consent,
    Contact,
    Mother,
    Numbers,
    Pair,
    Review,
    Site,
)
from bot.core.states import BabyState, EnrolmentState, ReviewState, Texting

ZONE = "Africa/Nairobi"
BORN = datetime(2026, 3, 2, 6, 15, tzinfo=ZoneInfo(ZONE))
DISCHARGED = datetime(2026, 3, 3, 14, 0, tzinfo=ZoneInfo(ZONE))

GOOD_SIGNS = {
    "position_neck": "yes",
    "position_turned": "yes",
    "position_close": "yes",
    "position_supported": "yes",
    "attachment_chin": "yes",
    "attachment_mouth": "yes",
    "attachment_lower_lip": "yes",
    "attachment_areola": "yes",
    "suckling": "effective",
}


def an_id(*parts: object) -> UUID:
    """Give the same id for the same parts, in every run."""
    return derived_id(BORN, *parts)


def some_numbers(**changes: Any) -> Numbers:
    return replace(
        Numbers(
            text="+447700900100",
            call="+447700900101",
            hours="8:00 to 16:00, Monday to Saturday",
            place="Lakeside Hospital",
            place_call="+447700900102",
        ),
        **changes,
    )


def a_site(**changes: Any) -> Site:
    """A site; `changes` are fields of `Site`."""
    site = Site(
        id=an_id("site"),
        code="lakeside",
        name="Lakeside Hospital",
        zone=ZONE,
        region="KE",
        open_days=frozenset(range(6)),
        closed_days=frozenset(),
        opens=time(8),
        closes=time(16),
        numbers=some_numbers(),
    )
    return replace(site, **changes)


def a_mother(**changes: Any) -> Mother:
    """A mother who answered the practice text; `changes` are fields of `Mother`."""
    mother = Mother(
        id=an_id("mother"),
        name="Amina",
        phone="+447700900123",
        language="en",
        phone_shared=False,
        texting=Texting.on,
    )
    return replace(mother, **changes)


def a_baby(ordinal: int = 1, *, zone: str = ZONE, **changes: Any) -> Baby:
    """A baby; `changes` are fields of `Baby`. `born_on` follows `born_at` in `zone` unless it is given."""
    changes.setdefault("born_at", BORN)
    if changes["born_at"] is not None:
        changes.setdefault("born_on", changes["born_at"].astimezone(ZoneInfo(zone)).date())
    else:
        changes.setdefault("born_on", BORN.date())
    baby = Baby(
        id=an_id("baby", ordinal),
        ordinal=ordinal,
        name="Nia",
        born_on=BORN.date(),
        born_at=BORN,
        sex="female",
        birth_weight_g=3000,
        gestation_weeks=39.0,
        state=BabyState.living,
    )
    return replace(baby, **changes)


def an_assessment(
    at: datetime = DISCHARGED, *, baby: int = 1, occasion: str = "discharge", **signs: Any
) -> Assessment:
    """A feeding assessment, all good; `signs` changes single signs and `weight_g`."""
    weight = signs.pop("weight_g", None)
    return Assessment(
        id=an_id("assessment", baby, occasion, at),
        baby=baby,
        at=at,
        by="the ward",
        occasion=occasion,
        signs=GOOD_SIGNS | signs,
        weight_g=weight,
    )


def a_review(on_day: date, at: time | None = None, **changes: Any) -> Review:
    """An expected first review; `changes` are fields of `Review`."""
    review = Review(
        id=an_id("review", on_day, at),
        on_day=on_day,
        at=at,
        kind="first",
        state=ReviewState.expected,
        booked_at=DISCHARGED,
    )
    return replace(review, **changes)


def a_contact(key: str, occurrence: int, due_at: datetime, **changes: Any) -> Contact:
    """A contact that was texted; `changes` are fields of `Contact`."""
    contact = Contact(key=key, occurrence=occurrence, edition=1, due_at=due_at, outcome="texted")
    return replace(contact, **changes)


def a_pair(
    *,
    born_at: datetime | None = BORN,
    born_on: date | None = None,
    discharged_at: datetime | None = None,
    zone: str | None = None,
    babies: Sequence[Baby] | None = None,
    **changes: Any,
) -> Pair:
    """A pair that is followed by text from its discharge on, not yet woken; `changes` are fields of `Pair`.

    `born_at=None` with `born_on` makes a birth whose hour is unknown. Discharge is a day and 7:45 hours
    after the birth unless given; enrolment is at discharge unless given. `zone` changes the site's zone.
    """
    site = changes.pop("site", None) or a_site(**({"zone": zone} if zone else {}))
    if babies is None:
        facts: dict[str, Any] = {"born_at": born_at}
        if born_on is not None:
            facts["born_on"] = born_on
        babies = (a_baby(zone=site.zone, **facts),)
    if discharged_at is None:
        lead = babies[0]
        start = lead.born_at or datetime.combine(lead.born_on, time(6, 15), site.tz)
        discharged_at = start + (DISCHARGED - BORN)
    enrolled_at = changes.setdefault("enrolled_at", discharged_at)
    pair = Pair(
        id=an_id("pair"),
        external_id="L-0001",
        site=site,
        mother=a_mother(),
        babies=tuple(babies),
        discharged_at=discharged_at,
        enrolled_at=enrolled_at,
        consent=Consent(texts=True, calls=True, taken_by="the ward", language="en"),
        preferred_hour=None,
        follow_up_by="text",
        schedule="standard",
        state=EnrolmentState.following,
        wake_at=enrolled_at + timedelta(minutes=1),
        assessments=tuple(an_assessment(discharged_at, baby=baby.ordinal) for baby in babies),
    )
    return replace(pair, **changes)

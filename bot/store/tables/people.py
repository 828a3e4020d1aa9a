"""Sites, mothers, babies and their enrolments, with what was seen of them."""

from __future__ import annotations

from datetime import date, datetime, time
from typing import Any
from uuid import UUID

from sqlalchemy import (
    Boolean,
    CheckConstraint,
    Column,
    Date,
    Float,
    Index,
    LargeBinary,
    SmallInteger,
    Table,
    Text,
    Time,
    TypedColumns,
    UniqueConstraint,
    false,
)

from bot.core.states import BabyState, EnrolmentState, MotherState, Texting
from bot.store.tables._base import (
    fixed,
    known_states,
    link,
    maybe_link,
    metadata,
    of_baby,
    partial_index,
    row_id,
    state,
)
from bot.store.types import Instant, Json, Sealed, Word, WordSet, known_words


class _Site(TypedColumns):
    id = row_id()
    code: Column[str] = Column(Text, nullable=False, unique=True)
    name: Column[str] = Column(Text, nullable=False)
    zone: Column[str] = Column(Text, nullable=False)
    region: Column[str] = Column(Text, nullable=False)
    open_days: Column[frozenset[int]] = Column(WordSet, nullable=False)
    opens: Column[time] = Column(Time, nullable=False)
    closes: Column[time] = Column(Time, nullable=False)
    numbers: Column[bytes] = Column(Sealed, nullable=False)
    cover: Column[Any] = Column(Json, nullable=False, server_default="[]")
    on_call: Column[bytes | None] = Column(Sealed, nullable=True)
    places: Column[bytes | None] = Column(Sealed, nullable=True)
    revision: Column[int]


class _ClosedDay(TypedColumns):
    site: Column[UUID] = link("site", primary_key=True)
    day: Column[date] = Column(Date, primary_key=True)


class _Mother(TypedColumns):
    id = row_id()
    name: Column[bytes] = Column(Sealed, nullable=False)
    phone: Column[bytes | None] = Column(Sealed, nullable=True)
    phone_key: Column[bytes | None] = Column(LargeBinary, nullable=True)
    language: Column[str] = Column(Text, nullable=False)
    phone_shared: Column[bool]
    latin: Column[bool] = Column(Boolean, nullable=False, server_default=false())
    texting: Column[Any] = state(Texting)
    state: Column[Any] = Column(Word(MotherState), nullable=False, server_default=MotherState.living.value)
    age: Column[int | None] = Column(SmallInteger, nullable=True)
    parity: Column[int | None] = Column(SmallInteger, nullable=True)
    birth_mode: Column[str] = Column(Text, nullable=False)
    risks: Column[frozenset[str]] = Column(WordSet, nullable=False)


class _OtherPhone(TypedColumns):
    """Numbers that may write about a mother besides her own: an earlier one, that of her second contact."""

    id = row_id()
    mother: Column[UUID] = link("mother")
    phone: Column[bytes] = Column(Sealed, nullable=False)
    phone_key: Column[bytes] = Column(LargeBinary, nullable=False)
    kind: Column[str] = Column(Text, nullable=False)
    since: Column[datetime] = Column(Instant, nullable=False)


class _Enrolment(TypedColumns):
    id = row_id()
    mother: Column[UUID] = link("mother")
    site: Column[UUID] = link("site")
    external_id: Column[str] = Column(Text, nullable=False)
    discharged_at: Column[datetime] = Column(Instant, nullable=False)
    enrolled_at: Column[datetime] = Column(Instant, nullable=False)
    consent: Column[dict[str, Any]] = Column(Json, nullable=False)
    consent_taken_by: Column[bytes] = Column(Sealed, nullable=False)
    preferred_hour: Column[int | None] = Column(SmallInteger, nullable=True)
    follow_up_by: Column[str] = Column(Text, nullable=False)
    schedule: Column[str] = Column(Text, nullable=False)
    state: Column[Any] = state(EnrolmentState)
    closed_reason: Column[str | None] = Column(Text, nullable=True)
    wake_at: Column[datetime | None] = Column(Instant, nullable=True)
    look_at: Column[datetime | None] = Column(Instant, nullable=True)
    undelivered_since: Column[datetime | None] = Column(Instant, nullable=True)
    home_at: Column[datetime | None] = Column(Instant, nullable=True)
    closed_at: Column[datetime | None] = Column(Instant, nullable=True)
    erased_at: Column[datetime | None] = Column(Instant, nullable=True)  # no word of the pair is left
    offered_to: Column[UUID | None] = maybe_link("site")
    plan_stamp: Column[str] = Column(Text, nullable=False)
    extra: Column[bytes] = Column(Sealed, nullable=False)


class _NameToken(TypedColumns):
    enrolment: Column[UUID] = link("enrolment", primary_key=True)
    token: Column[bytes] = Column(LargeBinary, primary_key=True)


class _Baby(TypedColumns):
    id = row_id()
    enrolment: Column[UUID] = link("enrolment")
    ordinal: Column[int] = Column(SmallInteger, nullable=False)
    name: Column[bytes] = Column(Sealed, nullable=False)
    born_on: Column[date] = Column(Date, nullable=False)
    born_at: Column[datetime | None] = Column(Instant, nullable=True)
    sex: Column[str | None] = Column(Text, nullable=True)
    birth_weight_g: Column[int | None] = Column(SmallInteger, nullable=True)
    gestation_weeks: Column[float | None] = Column(Float(53), nullable=True)
    place: Column[str] = Column(Text, nullable=False)
    feeding_plan: Column[bytes] = Column(Sealed, nullable=False)
    state: Column[Any] = state(BabyState)


class _Assessment(TypedColumns):
    id = row_id()
    enrolment: Column[UUID] = link("enrolment")
    seq: Column[int] = Column(SmallInteger, nullable=False)
    baby: Column[int] = Column(SmallInteger, nullable=False)
    at: Column[datetime] = Column(Instant, nullable=False)
    by: Column[bytes] = Column(Sealed, nullable=False)
    occasion: Column[str] = Column(Text, nullable=False)
    signs: Column[dict[str, str]] = Column(Json, nullable=False)
    weight_g: Column[int | None] = Column(SmallInteger, nullable=True)


site = Table("site", metadata, _Site)
closed_day = Table("closed_day", metadata, _ClosedDay)

mother = Table(
    "mother",
    metadata,
    _Mother,
    known_states(Texting, "texting"),
    known_states(MotherState),
    CheckConstraint("state = 'living' OR texting = 'none'", name="no_texts_after_death"),
    CheckConstraint("(phone IS NULL) = (phone_key IS NULL)", name="phone_has_key"),
    CheckConstraint("phone IS NOT NULL OR texting NOT IN ('unverified', 'on')", name="texted_has_phone"),
)
Index("ix_mother_phone_key", mother.c.phone_key)

other_phone = Table("other_phone", metadata, _OtherPhone, known_words("kind", ("earlier", "second_contact")))
Index("ix_other_phone_phone_key", other_phone.c.phone_key)

enrolment = Table(
    "enrolment",
    metadata,
    _Enrolment,
    UniqueConstraint("site", "external_id"),
    known_states(EnrolmentState),
    known_words("follow_up_by", ("text", "call", "visit")),
    # Nobody is lost: whoever is not closed has a time at which somebody looks again, and no closing is mute.
    CheckConstraint("(state = 'closed') = (wake_at IS NULL)", name="wakes_until_closed"),
    CheckConstraint("(state = 'closed') = (closed_reason IS NOT NULL)", name="closed_has_reason"),
    CheckConstraint("preferred_hour BETWEEN 0 AND 23", name="preferred_hour_of_day"),
)
_followed = enrolment.c.state != fixed(EnrolmentState.closed)
partial_index("ix_enrolment_wake", enrolment.c.wake_at, where=_followed)
partial_index("ix_enrolment_offered_to", enrolment.c.offered_to, where=enrolment.c.offered_to.is_not(None))
partial_index("ix_enrolment_plan_stamp", enrolment.c.plan_stamp, where=_followed)
partial_index("uq_enrolment_open_mother", enrolment.c.mother, where=_followed, unique=True)
Index("ix_enrolment_mother", enrolment.c.mother)
_ended = enrolment.c.state == fixed(EnrolmentState.closed)
partial_index("ix_enrolment_kept", enrolment.c.closed_at, where=_ended & enrolment.c.erased_at.is_(None))

name_token = Table("name_token", metadata, _NameToken)
Index("ix_name_token_token", name_token.c.token)

baby = Table("baby", metadata, _Baby, UniqueConstraint("enrolment", "ordinal"), known_states(BabyState))

assessment = Table("assessment", metadata, _Assessment, of_baby())
Index("ix_assessment_enrolment", assessment.c.enrolment)

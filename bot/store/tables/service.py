"""The service itself: who works with it, what content it runs on, its settings and its counts."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from uuid import UUID

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Date,
    Index,
    Integer,
    Table,
    Text,
    TypedColumns,
    UniqueConstraint,
)

from bot.store.tables._base import known_states, link, maybe_link, metadata, row_id, state
from bot.store.types import Instant, Json, Sealed
from bot.store.viewer import Role


class _Staff(TypedColumns):
    id = row_id()
    login: Column[str] = Column(Text, nullable=False, unique=True)  # as typed, folded to lower case
    name: Column[bytes] = Column(Sealed, nullable=False)
    password_hash: Column[str] = Column(Text, nullable=False)
    role: Column[Any] = state(Role)
    active: Column[bool] = Column(Boolean, nullable=False)
    language: Column[str] = Column(Text, nullable=False)
    session_epoch: Column[int]  # a session of an older epoch is over
    created_at: Column[datetime] = Column(Instant, nullable=False)


class _StaffSite(TypedColumns):
    staff: Column[UUID] = link("staff", primary_key=True)
    site: Column[UUID] = link("site", primary_key=True)


class _LoginAttempt(TypedColumns):
    id: Column[int] = Column(BigInteger().with_variant(Integer(), "sqlite"), primary_key=True)
    login: Column[str] = Column(Text, nullable=False)
    at: Column[datetime] = Column(Instant, nullable=False)
    succeeded: Column[bool] = Column(Boolean, nullable=False)


class _ApiToken(TypedColumns):
    id = row_id()
    name: Column[str] = Column(Text, nullable=False)
    hash: Column[str] = Column(Text, nullable=False, unique=True)
    role: Column[Any] = state(Role)
    created_at: Column[datetime] = Column(Instant, nullable=False)
    revoked_at: Column[datetime | None] = Column(Instant, nullable=True)


class _ApiTokenSite(TypedColumns):
    token: Column[UUID] = link("api_token", primary_key=True)
    site: Column[UUID] = link("site", primary_key=True)


class _Pulse(TypedColumns):
    """A stretch of machine time in which a part of the service was seen in one state, and last when."""

    part: Column[str] = Column(Text, primary_key=True)  # worker, or gateway:NAME, or loop:NAME
    since: Column[datetime] = Column(Instant, primary_key=True)
    until: Column[datetime] = Column(Instant, nullable=False)
    state: Column[str] = Column(Text, nullable=False)  # ok, resting, denied, silent, failed


class _Edition(TypedColumns):
    id = row_id()
    kind: Column[str] = Column(Text, nullable=False)
    name: Column[str] = Column(Text, nullable=False)
    number: Column[int]
    body: Column[Any] = Column(Json, nullable=False)
    sha256: Column[str] = Column(Text, nullable=False)
    origin: Column[str] = Column(Text, nullable=False)  # factory, or edited here
    based_on: Column[UUID | None] = maybe_link("edition")
    effective_from: Column[datetime] = Column(Instant, nullable=False)
    by: Column[UUID | None] = maybe_link("staff")
    at: Column[datetime] = Column(Instant, nullable=False)
    why: Column[str] = Column(Text, nullable=False)  # about content, never about a pair


class _Setting(TypedColumns):
    key: Column[str] = Column(Text, primary_key=True)
    value: Column[Any] = Column(Json, nullable=False)


class _ReportDay(TypedColumns):
    site: Column[UUID] = link("site", primary_key=True)
    day: Column[date] = Column(Date, primary_key=True)
    language: Column[str] = Column(Text, primary_key=True)
    measure: Column[str] = Column(Text, primary_key=True)
    n: Column[int]


staff = Table("staff", metadata, _Staff, known_states(Role, "role"))
staff_site = Table("staff_site", metadata, _StaffSite)

login_attempt = Table("login_attempt", metadata, _LoginAttempt)
Index("ix_login_attempt_login", login_attempt.c.login, login_attempt.c.at)

api_token = Table("api_token", metadata, _ApiToken, known_states(Role, "role"))
api_token_site = Table("api_token_site", metadata, _ApiTokenSite)

edition = Table("edition", metadata, _Edition, UniqueConstraint("kind", "name", "number"))
setting = Table("setting", metadata, _Setting)
report_day = Table("report_day", metadata, _ReportDay)

pulse = Table("pulse", metadata, _Pulse)

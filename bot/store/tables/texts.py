"""Texts: what came in and how it was read, what goes out and what became of it."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import (
    BigInteger,
    Boolean,
    CheckConstraint,
    Column,
    Index,
    LargeBinary,
    SmallInteger,
    Table,
    Text,
    TypedColumns,
    UniqueConstraint,
    Uuid,
    and_,
    literal_column,
    true,
)

from bot.core.states import InboundState, MessageState
from bot.store.tables._base import (
    fixed,
    known_states,
    link,
    maybe_link,
    metadata,
    partial_index,
    row_id,
    state,
)
from bot.store.types import Instant, Sealed


class _Inbound(TypedColumns):
    id = row_id()
    gateway: Column[str] = Column(Text, nullable=False)
    external_key: Column[str | None] = Column(Text, nullable=True)
    phone_key: Column[bytes | None] = Column(LargeBinary, nullable=True)  # NULL when the sender is unreadable
    sender: Column[bytes | None] = Column(Sealed, nullable=True)
    text: Column[bytes | None] = Column(Sealed, nullable=True)
    raw: Column[bytes] = Column(Sealed, nullable=False)
    kind: Column[str] = Column(Text, nullable=False)
    # Of a part of a long reply that the gateway did not join.
    part_ref: Column[str | None] = Column(Text, nullable=True)
    part_number: Column[int | None] = Column(SmallInteger, nullable=True)
    part_total: Column[int | None] = Column(SmallInteger, nullable=True)
    received_at: Column[datetime] = Column(Instant, nullable=False)
    stored_at: Column[datetime] = Column(Instant, nullable=False)
    state: Column[Any] = state(InboundState)
    enrolment: Column[UUID | None] = maybe_link("enrolment")


class _Reading(TypedColumns):
    id = row_id()
    inbound: Column[UUID] = link("inbound")
    by: Column[str] = Column(Text, nullable=False)  # 'program', or the id of staff
    at: Column[datetime] = Column(Instant, nullable=False)
    edition: Column[int]  # of the words approved here that it was read by; 0: those of the program alone
    intent: Column[str] = Column(Text, nullable=False)
    result: Column[bytes] = Column(Sealed, nullable=False)


class _WordProposal(TypedColumns):
    """Words out of a reply that somebody proposes for the reader; undecided while `approved` is NULL."""

    id = row_id()
    inbound: Column[UUID] = link("inbound")
    language: Column[str] = Column(Text, nullable=False)
    phrase: Column[bytes] = Column(Sealed, nullable=False)
    means: Column[str] = Column(Text, nullable=False)
    by: Column[UUID] = link("staff")
    at: Column[datetime] = Column(Instant, nullable=False)
    approved: Column[bool | None] = Column(Boolean, nullable=True)
    decided_by: Column[UUID | None] = maybe_link("staff")
    decided_at: Column[datetime | None] = Column(Instant, nullable=True)
    why: Column[bytes | None] = Column(Sealed, nullable=True)  # of a refusal, in the lead's words


class _TextSignature(TypedColumns):
    """A clinician who speaks the language has approved one text as it stood: its hash says what it was."""

    language: Column[str] = Column(Text, primary_key=True)
    text_key: Column[str] = Column(Text, primary_key=True)
    sha256: Column[str] = Column(Text, primary_key=True)
    by: Column[UUID | None] = maybe_link("staff")  # NULL: signed on the server
    name: Column[str] = Column(Text, nullable=False)
    role: Column[str] = Column(Text, nullable=False)
    registration: Column[str] = Column(Text, nullable=False)
    at: Column[datetime] = Column(Instant, nullable=False)


class _Message(TypedColumns):
    id = row_id()
    enrolment: Column[UUID | None] = maybe_link("enrolment")
    phone_key: Column[bytes] = Column(LargeBinary, nullable=False)
    to: Column[bytes] = Column(Sealed, nullable=False)
    text: Column[bytes | None] = Column(Sealed, nullable=True)  # rendered at the first claim
    text_key: Column[str] = Column(Text, nullable=False)
    # JSON of what the words are made with; `values` would hide a method of the column collection.
    text_values: Column[bytes] = Column(Sealed, nullable=False)
    language: Column[str] = Column(Text, nullable=False)
    priority: Column[int] = Column(SmallInteger, nullable=False)
    created_at: Column[datetime] = Column(Instant, nullable=False)
    send_after: Column[datetime] = Column(Instant, nullable=False)
    expires_at: Column[datetime] = Column(Instant, nullable=False)
    after_id: Column[UUID | None] = maybe_link("message")
    once_key: Column[str] = Column(Text, nullable=False)
    state: Column[Any] = state(MessageState)
    attempts: Column[int] = Column(SmallInteger, nullable=False)
    claim: Column[UUID | None] = Column(Uuid, nullable=True)
    lease_until: Column[datetime | None] = Column(Instant, nullable=True)
    sent_at: Column[datetime | None] = Column(Instant, nullable=True)
    final_at: Column[datetime | None] = Column(Instant, nullable=True)
    failure: Column[int] = Column(SmallInteger, nullable=False, default=0, server_default="0")
    # False from a final state on, until the pair has been told of it.
    told: Column[bool] = Column(Boolean, nullable=False, default=True, server_default=true())
    route: Column[str] = Column(Text, nullable=False, default="", server_default="")
    gateway: Column[str | None] = Column(Text, nullable=True)  # known once it was claimed
    encoding: Column[str | None] = Column(Text, nullable=True)
    segments: Column[int | None] = Column(SmallInteger, nullable=True)


class _SendAttempt(TypedColumns):
    message: Column[UUID] = link("message", primary_key=True)
    n: Column[int] = Column(SmallInteger, primary_key=True)
    gateway: Column[str] = Column(Text, nullable=False)
    gateway_ref: Column[str | None] = Column(Text, nullable=True)
    cost: Column[int | None] = Column(BigInteger, nullable=True)  # in millionths of the currency
    currency: Column[str | None] = Column(Text, nullable=True)
    at: Column[datetime] = Column(Instant, nullable=False)
    outcome: Column[str] = Column(Text, nullable=False)


class _Receipt(TypedColumns):
    id = row_id()
    gateway: Column[str] = Column(Text, nullable=False)
    dedupe_key: Column[str] = Column(Text, nullable=False)
    ref: Column[str] = Column(Text, nullable=False)
    reported: Column[str] = Column(Text, nullable=False)
    failure: Column[int] = Column(SmallInteger, nullable=False, default=0, server_default="0")
    state: Column[Any] = state(InboundState)
    raw: Column[bytes] = Column(Sealed, nullable=False)
    stored_at: Column[datetime] = Column(Instant, nullable=False)
    message: Column[UUID | None] = maybe_link("message")


class _GatewayState(TypedColumns):
    gateway: Column[str] = Column(Text, primary_key=True)
    next_free_at: Column[datetime] = Column(Instant, nullable=False)
    open_until: Column[datetime | None] = Column(Instant, nullable=True)
    failures: Column[int]
    # Why the gateway denies us, until it takes a text again: a person must mend the settings.
    denied: Column[str | None] = Column(Text, nullable=True)
    denied_at: Column[datetime | None] = Column(Instant, nullable=True)


inbound = Table(
    "inbound",
    metadata,
    _Inbound,
    UniqueConstraint("gateway", "external_key"),
    known_states(InboundState),
)
Index("ix_inbound_enrolment", inbound.c.enrolment)
partial_index(  # what strangers wrote and still stands
    "ix_inbound_stranger",
    inbound.c.id,
    where=and_(inbound.c.enrolment.is_(None), inbound.c.sender.is_not(None)),
)
partial_index(
    "ix_inbound_unread",
    inbound.c.phone_key,
    inbound.c.id,
    where=inbound.c.state == fixed(InboundState.stored),
)

reading = Table("reading", metadata, _Reading)
Index("ix_reading_inbound", reading.c.inbound)

word_proposal = Table(
    "word_proposal",
    metadata,
    _WordProposal,
    CheckConstraint("(approved IS NULL) = (decided_at IS NULL)", name="decided_at_a_time"),
    CheckConstraint("(approved IS NULL) = (decided_by IS NULL)", name="decided_by_somebody"),
)
Index("ix_word_proposal_inbound", word_proposal.c.inbound)
partial_index("ix_word_proposal_open", word_proposal.c.at, where=word_proposal.c.approved.is_(None))
text_signature = Table("text_signature", metadata, _TextSignature)

message = Table(
    "message",
    metadata,
    _Message,
    UniqueConstraint("enrolment", "once_key"),
    known_states(MessageState),
    CheckConstraint("priority BETWEEN 0 AND 3", name="priority_known"),
    CheckConstraint("(state = 'sending') = (claim IS NOT NULL)", name="sending_is_claimed"),
    CheckConstraint("(claim IS NULL) = (lease_until IS NULL)", name="claim_has_lease"),
)
Index("ix_message_phone_key", message.c.phone_key)
Index("ix_message_after_id", message.c.after_id)
partial_index(  # what is made once for a number that belongs to no enrolment
    "uq_message_once_phone",
    message.c.phone_key,
    message.c.once_key,
    where=message.c.enrolment.is_(None),
    unique=True,
)
partial_index(
    "ix_message_due",
    message.c.priority,
    message.c.route,
    message.c.send_after,
    message.c.id,
    where=message.c.state == fixed(MessageState.queued),
)
partial_index(  # what one gateway failed to carry and another of its route may
    "ix_message_failed",
    message.c.priority,
    message.c.route,
    message.c.send_after,
    message.c.id,
    where=and_(message.c.state == fixed(MessageState.queued), message.c.attempts >= literal_column("2")),
)
partial_index("ix_message_lease", message.c.lease_until, where=message.c.state == fixed(MessageState.sending))
partial_index(  # those whose report may never come
    "ix_message_unreported", message.c.expires_at, where=message.c.state == fixed(MessageState.accepted)
)
partial_index("ix_message_untold", message.c.final_at, message.c.id, where=message.c.told.is_(False))

send_attempt = Table("send_attempt", metadata, _SendAttempt, UniqueConstraint("gateway", "gateway_ref"))
receipt = Table(
    "receipt", metadata, _Receipt, UniqueConstraint("gateway", "dedupe_key"), known_states(InboundState)
)
Index("ix_receipt_message", receipt.c.message)
partial_index("ix_receipt_unmatched", receipt.c.id, where=receipt.c.state == fixed(InboundState.stored))
gateway_state = Table("gateway_state", metadata, _GatewayState)

"""The course of follow-up: contacts, check-ins, answers, triage, escalations, reviews, events."""

from __future__ import annotations

from datetime import date, datetime, time
from typing import Any
from uuid import UUID

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Column,
    Date,
    Float,
    Index,
    Integer,
    LargeBinary,
    SmallInteger,
    Table,
    Text,
    Time,
    TypedColumns,
    Uuid,
    literal_column,
)

from bot.core.chase import RESULTS
from bot.core.pair import CHASED
from bot.core.states import (
    ChaseState,
    CheckInState,
    EpisodeState,
    EscalationState,
    QuestionState,
    ReviewState,
    Urgency,
)
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
from bot.store.types import Instant, Json, Sealed, UrgencyLevel, WordSet, known_words


class _Contact(TypedColumns):
    enrolment: Column[UUID] = link("enrolment", primary_key=True)
    contact_key: Column[str] = Column(Text, primary_key=True)
    occurrence: Column[int] = Column(SmallInteger, primary_key=True)
    seq: Column[int] = Column(SmallInteger, nullable=False)
    edition: Column[int]
    due_at: Column[datetime] = Column(Instant, nullable=False)
    outcome: Column[str] = Column(Text, nullable=False)
    reason: Column[str] = Column(Text, nullable=False)


class _CheckIn(TypedColumns):
    id = row_id()
    enrolment: Column[UUID] = link("enrolment")
    seq: Column[int] = Column(SmallInteger, nullable=False)
    contact_key: Column[str] = Column(Text, nullable=False)
    occurrence: Column[int] = Column(SmallInteger, nullable=False)
    opened_at: Column[datetime] = Column(Instant, nullable=False)
    expires_at: Column[datetime] = Column(Instant, nullable=False)
    state: Column[Any] = state(CheckInState)


class _Question(TypedColumns):
    id = row_id()
    check_in: Column[UUID] = link("check_in")
    enrolment: Column[UUID] = link("enrolment")
    seq: Column[int] = Column(SmallInteger, nullable=False)
    position: Column[int] = Column(SmallInteger, nullable=False)
    key: Column[str] = Column(Text, nullable=False)
    baby: Column[int | None] = Column(SmallInteger, nullable=True)
    state: Column[Any] = state(QuestionState)
    asked_at: Column[datetime | None] = Column(Instant, nullable=True)
    asked_again_at: Column[datetime | None] = Column(Instant, nullable=True)
    phone_key: Column[bytes | None] = Column(LargeBinary, nullable=True)
    message: Column[UUID | None] = maybe_link("message")  # the text that carried it last


class _Answer(TypedColumns):
    id = row_id()
    enrolment: Column[UUID] = link("enrolment")
    seq: Column[int] = Column(SmallInteger, nullable=False)
    question: Column[UUID | None] = maybe_link("question")
    baby: Column[int | None] = Column(SmallInteger, nullable=True)
    key: Column[str] = Column(Text, nullable=False)
    low: Column[float | None] = Column(Float(53), nullable=True)
    high: Column[float | None] = Column(Float(53), nullable=True)
    at: Column[datetime] = Column(Instant, nullable=False)
    inbound: Column[UUID | None] = maybe_link("inbound")
    by: Column[UUID | None] = maybe_link("staff")
    # Checked at the commit: a correction and what it supersedes are written together.
    superseded_by: Column[UUID | None] = maybe_link("answer", deferrable=True, initially="DEFERRED")


class _TriageRun(TypedColumns):
    id = row_id()
    enrolment: Column[UUID] = link("enrolment")
    baby: Column[int | None] = Column(SmallInteger, nullable=True)
    at: Column[datetime] = Column(Instant, nullable=False)
    facts: Column[Any] = Column(Json, nullable=False)  # as judged; no personal data
    rules_edition: Column[int]
    overlay: Column[int] = Column(Integer, nullable=False, server_default="0")  # edition of the site's own
    program: Column[str] = Column(Text, nullable=False)
    fired: Column[Any] = Column(Json, nullable=False)
    just_inside: Column[Any] = Column(Json, nullable=False)
    urgency: Column[Urgency] = Column(UrgencyLevel, nullable=False)
    # Ids of rules that are tried out and would have held, with a space between them.
    shadow: Column[str] = Column(Text, nullable=False, server_default="")


class _Escalation(TypedColumns):
    id = row_id()
    enrolment: Column[UUID | None] = maybe_link("enrolment")
    seq: Column[int] = Column(SmallInteger, nullable=False)
    phone_key: Column[bytes | None] = Column(LargeBinary, nullable=True)
    site: Column[UUID | None] = maybe_link("site")
    urgency: Column[Urgency] = Column(UrgencyLevel, nullable=False)
    raised_at: Column[datetime] = Column(Instant, nullable=False)
    due_at: Column[datetime] = Column(Instant, nullable=False)
    state: Column[Any] = state(EscalationState)
    taken_by: Column[UUID | None] = maybe_link("staff")
    taken_at: Column[datetime | None] = Column(Instant, nullable=True)
    offered_to: Column[UUID | None] = maybe_link("staff")
    spoken_at: Column[datetime | None] = Column(Instant, nullable=True)
    not_before: Column[datetime | None] = Column(Instant, nullable=True)
    closed_at: Column[datetime | None] = Column(Instant, nullable=True)
    disposition: Column[str] = Column(Text, nullable=False)
    note: Column[bytes | None] = Column(Sealed, nullable=True)


class _Finding(TypedColumns):
    escalation: Column[UUID] = link("escalation", primary_key=True)
    seq: Column[int] = Column(SmallInteger, primary_key=True)
    rule: Column[str] = Column(Text, nullable=False)
    baby: Column[int | None] = Column(SmallInteger, nullable=True)
    urgency: Column[Urgency] = Column(UrgencyLevel, nullable=False)
    first_at: Column[datetime] = Column(Instant, nullable=False)
    last_at: Column[datetime] = Column(Instant, nullable=False)
    count: Column[int]
    inbound: Column[UUID | None] = maybe_link("inbound")
    detail: Column[bytes] = Column(Sealed, nullable=False)
    withdrawn_by: Column[UUID | None] = maybe_link("staff")
    risen_at: Column[datetime | None] = Column(Instant, nullable=True)


class _Episode(TypedColumns):
    id = row_id()
    enrolment: Column[UUID] = link("enrolment")
    seq: Column[int] = Column(SmallInteger, nullable=False)
    escalation: Column[UUID] = link("escalation")
    state: Column[Any] = state(EpisodeState)
    opened_at: Column[datetime] = Column(Instant, nullable=False)
    place: Column[str] = Column(Text, nullable=False)
    grounds: Column[frozenset[str]] = Column(WordSet, nullable=False)
    told_key: Column[str] = Column(Text, nullable=False)
    told_at: Column[datetime | None] = Column(Instant, nullable=True)
    delivered_at: Column[datetime | None] = Column(Instant, nullable=True)
    answered_at: Column[datetime | None] = Column(Instant, nullable=True)
    why: Column[str] = Column(Text, nullable=False)
    arrived_at: Column[datetime | None] = Column(Instant, nullable=True)
    checks: Column[int] = Column(SmallInteger, nullable=False)
    look_at: Column[datetime | None] = Column(Instant, nullable=True)
    closed_at: Column[datetime | None] = Column(Instant, nullable=True)
    outcome: Column[str] = Column(Text, nullable=False)
    closed_by: Column[UUID | None] = maybe_link("staff")


class _Chase(TypedColumns):
    """A stay on the list of those whom texts do not reach."""

    id = row_id()
    enrolment: Column[UUID] = link("enrolment")
    seq: Column[int] = Column(SmallInteger, nullable=False)
    state: Column[Any] = state(ChaseState)
    ground: Column[str] = Column(Text, nullable=False)
    opened_at: Column[datetime] = Column(Instant, nullable=False)
    look_at: Column[datetime | None] = Column(Instant, nullable=True)
    given_up_by: Column[UUID | None] = maybe_link("staff")
    given_up_at: Column[datetime | None] = Column(Instant, nullable=True)
    why: Column[str] = Column(Text, nullable=False)
    closed_at: Column[datetime | None] = Column(Instant, nullable=True)
    closed_by: Column[UUID | None] = maybe_link("staff")


class _Attempt(TypedColumns):
    """A call, a call to the second contact or a visit; without a result while the visit is to be made."""

    id = row_id()
    enrolment: Column[UUID] = link("enrolment")
    seq: Column[int] = Column(SmallInteger, nullable=False)
    kind: Column[str] = Column(Text, nullable=False)
    result: Column[str] = Column(Text, nullable=False)
    at: Column[datetime] = Column(Instant, nullable=False)
    by: Column[UUID] = link("staff")
    on_day: Column[date | None] = Column(Date, nullable=True)
    who: Column[bytes] = Column(Sealed, nullable=False)
    done_at: Column[datetime | None] = Column(Instant, nullable=True)


class _Alert(TypedColumns):
    """Somebody on call is told about an item: one row a step, with the text or mail that carries it."""

    id = row_id()
    escalation: Column[UUID] = link("escalation")
    step: Column[int] = Column(SmallInteger, nullable=False)
    reason: Column[str] = Column(Text, nullable=False)
    who: Column[bytes] = Column(Sealed, nullable=False)
    message: Column[UUID] = link("message")
    made_at: Column[datetime] = Column(Instant, nullable=False)
    heeded_at: Column[datetime | None] = Column(Instant, nullable=True)
    heeded_how: Column[str] = Column(Text, nullable=False)


class _Review(TypedColumns):
    id = row_id()
    enrolment: Column[UUID] = link("enrolment")
    seq: Column[int] = Column(SmallInteger, nullable=False)
    site: Column[UUID] = link("site")
    on_day: Column[date] = Column(Date, nullable=False)
    at: Column[time | None] = Column(Time, nullable=True)
    kind: Column[str] = Column(Text, nullable=False)
    state: Column[Any] = state(ReviewState)
    booked_at: Column[datetime] = Column(Instant, nullable=False)
    note: Column[bytes] = Column(Sealed, nullable=False)


class _AdverseEvent(TypedColumns):
    id = row_id()
    enrolment: Column[UUID] = link("enrolment")
    baby: Column[int | None] = Column(SmallInteger, nullable=True)
    kind: Column[str] = Column(Text, nullable=False)
    opened_at: Column[datetime] = Column(Instant, nullable=False)
    on_day: Column[date | None] = Column(Date, nullable=True)
    place: Column[bytes | None] = Column(Sealed, nullable=True)
    source: Column[str] = Column(Text, nullable=False)  # who says so: an id of SOURCES
    note: Column[bytes | None] = Column(Sealed, nullable=True)
    completed_at: Column[datetime | None] = Column(Instant, nullable=True)
    completed_by: Column[UUID | None] = maybe_link("staff")


class _LegalHold(TypedColumns):
    enrolment: Column[UUID] = link("enrolment", primary_key=True)
    since: Column[datetime] = Column(Instant, nullable=False)
    why: Column[str] = Column(Text, nullable=False)
    released_at: Column[datetime | None] = Column(Instant, nullable=True)
    released_why: Column[str] = Column(Text, nullable=False)


class _CatchUp(TypedColumns):
    """A pair that we could not hear: `since` when we were deaf, until somebody has looked."""

    enrolment: Column[UUID] = link("enrolment", primary_key=True)
    since: Column[datetime] = Column(Instant, nullable=False)
    seen_at: Column[datetime | None] = Column(Instant, nullable=True)
    seen_by: Column[UUID | None] = maybe_link("staff")


class _Event(TypedColumns):
    id: Column[int] = Column(BigInteger().with_variant(Integer(), "sqlite"), primary_key=True)
    at: Column[datetime] = Column(Instant, nullable=False)
    actor: Column[str] = Column(Text, nullable=False)  # id of staff or token, or the program's part
    subject: Column[UUID] = Column(Uuid, nullable=False)
    what: Column[str] = Column(Text, nullable=False)
    from_state: Column[str] = Column(Text, nullable=False)
    to_state: Column[str] = Column(Text, nullable=False)
    why: Column[str] = Column(Text, nullable=False)  # ids and keys only, nobody's words
    data: Column[Any] = Column(Json, nullable=False)


contact = Table("contact", metadata, _Contact, known_words("outcome", ("texted", "call", "skipped")))

check_in = Table("check_in", metadata, _CheckIn, known_states(CheckInState))
Index("ix_check_in_enrolment", check_in.c.enrolment)
partial_index(
    "uq_check_in_open", check_in.c.enrolment, where=check_in.c.state == fixed(CheckInState.open), unique=True
)

question = Table("question", metadata, _Question, known_states(QuestionState), of_baby())
Index("ix_question_enrolment", question.c.enrolment)
Index("ix_question_message", question.c.message)
partial_index(  # one question at a time on one phone, whoever shares it
    "uq_question_asked",
    question.c.phone_key,
    where=question.c.state.in_([fixed(QuestionState.asked), fixed(QuestionState.asked_again)]),
    unique=True,
)

answer = Table("answer", metadata, _Answer, of_baby())
Index("ix_answer_enrolment", answer.c.enrolment)

triage_run = Table("triage_run", metadata, _TriageRun, of_baby())
Index("ix_triage_run_enrolment", triage_run.c.enrolment)
partial_index(
    "ix_triage_run_shadow", triage_run.c.at, where=triage_run.c.shadow != literal_column("''", Text())
)

escalation = Table(
    "escalation",
    metadata,
    _Escalation,
    known_states(EscalationState),
    CheckConstraint("urgency BETWEEN 0 AND 3", name="urgency_known"),
    CheckConstraint("enrolment IS NOT NULL OR phone_key IS NOT NULL", name="about_somebody"),
    CheckConstraint("enrolment IS NULL OR site IS NOT NULL", name="pair_has_site"),
    CheckConstraint("state <> 'taken' OR taken_by IS NOT NULL", name="taken_by_somebody"),
    CheckConstraint("(state = 'closed') = (closed_at IS NOT NULL)", name="closed_has_time"),
    CheckConstraint("state <> 'closed' OR disposition <> ''", name="closed_has_disposition"),
)
_open = escalation.c.state != fixed(EscalationState.closed)
Index("ix_escalation_enrolment", escalation.c.enrolment)
partial_index("uq_escalation_open", escalation.c.enrolment, where=_open, unique=True)
partial_index(
    "uq_escalation_open_phone",
    escalation.c.phone_key,
    where=_open & escalation.c.enrolment.is_(None),
    unique=True,
)
partial_index("ix_escalation_stranger", escalation.c.phone_key, where=escalation.c.enrolment.is_(None))
partial_index(
    "ix_escalation_inbox", escalation.c.site, escalation.c.urgency, escalation.c.due_at, where=_open
)

finding = Table(
    "finding", metadata, _Finding, CheckConstraint("urgency BETWEEN 0 AND 3", name="urgency_known")
)

episode = Table(
    "episode",
    metadata,
    _Episode,
    known_states(EpisodeState),
    CheckConstraint("(state = 'closed') = (closed_at IS NOT NULL)", name="closed_has_time"),
    CheckConstraint("(state = 'closed') = (outcome <> '')", name="closed_has_outcome"),
    CheckConstraint("(state = 'closed') = (closed_by IS NOT NULL)", name="closed_by_a_person"),
    CheckConstraint("(state = 'closed') = (look_at IS NULL)", name="looked_at_until_closed"),
)
Index("ix_episode_enrolment", episode.c.enrolment)
partial_index(
    "uq_episode_open", episode.c.enrolment, where=episode.c.state != fixed(EpisodeState.closed), unique=True
)

chase = Table(
    "chase",
    metadata,
    _Chase,
    known_states(ChaseState),
    CheckConstraint("(state IN ('trying', 'given_up')) = (closed_at IS NULL)", name="closed_has_time"),
    CheckConstraint(
        "(state IN ('trying', 'given_up')) = (look_at IS NOT NULL)", name="looked_at_until_closed"
    ),
    CheckConstraint(
        "state NOT IN ('given_up', 'unresolved') OR (given_up_by IS NOT NULL AND why <> '')",
        name="given_up_by_a_person",
    ),
    CheckConstraint(
        "state <> 'unresolved' OR (closed_by IS NOT NULL AND closed_by <> given_up_by)",
        name="unresolved_by_two_people",
    ),
)
_chased = chase.c.state.in_([fixed(each) for each in ChaseState if each in CHASED])
Index("ix_chase_enrolment", chase.c.enrolment)
partial_index("uq_chase_open", chase.c.enrolment, where=_chased, unique=True)

attempt = Table(
    "attempt",
    metadata,
    _Attempt,
    known_words("kind", tuple(RESULTS)),
    CheckConstraint("kind = 'visit' OR result <> ''", name="call_has_result"),
    CheckConstraint("(kind = 'visit') = (on_day IS NOT NULL)", name="visit_has_day"),
    CheckConstraint("kind <> 'visit' OR (result = '') = (done_at IS NULL)", name="visit_done_has_result"),
)
Index("ix_attempt_enrolment", attempt.c.enrolment)
partial_index(
    "uq_attempt_planned",
    attempt.c.enrolment,
    where=attempt.c.result == literal_column("''", Text()),
    unique=True,
)

alert = Table("alert", metadata, _Alert)
Index("ix_alert_message", alert.c.message)
Index("ix_alert_escalation", alert.c.escalation)

review = Table(
    "review",
    metadata,
    _Review,
    known_states(ReviewState),
    known_words("kind", ("first", "feeding_problem", "weight_loss", "low_weight", "follow_up")),
)
Index("ix_review_enrolment", review.c.enrolment)
Index("ix_review_site_on_day", review.c.site, review.c.on_day)
partial_index(
    "uq_review_expected", review.c.enrolment, where=review.c.state == fixed(ReviewState.expected), unique=True
)

adverse_event = Table("adverse_event", metadata, _AdverseEvent, of_baby())
Index("ix_adverse_event_enrolment", adverse_event.c.enrolment)
partial_index(
    "ix_adverse_event_open", adverse_event.c.opened_at, where=adverse_event.c.completed_at.is_(None)
)
legal_hold = Table("legal_hold", metadata, _LegalHold)
catch_up = Table("catch_up", metadata, _CatchUp)
partial_index("ix_catch_up_open", catch_up.c.since, where=catch_up.c.seen_at.is_(None))

event_log = Table("event", metadata, _Event)
Index("ix_event_subject", event_log.c.subject, event_log.c.id)

"""The pair under follow-up, whole: a mother, her babies, and everything the transition looks at.

Plain frozen values. A store loads a `Pair`, `follow` gives the next one, the store writes what differs.
Rows that are loaded but never written through the pair (what the network said of a question's text) say so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from datetime import date, datetime, time
from operator import attrgetter
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from bot.core.states import (
    BabyState,
    ChaseState,
    CheckInState,
    EnrolmentState,
    EpisodeState,
    EscalationState,
    MessageState,
    MotherState,
    QuestionState,
    ReviewState,
    Texting,
    Urgency,
)


@dataclass(frozen=True, slots=True)
class Numbers:
    """What a mother is told to call and where to go. Numbers in E.164."""

    text: str  # she texts this one
    call: str
    hours: str  # when `call` is answered, in words
    place: str  # where to go day or night
    place_call: str = ""
    transport: str = ""


@dataclass(frozen=True, slots=True)
class Hours:
    """Local hours on some days of the week (Monday = 0). `until` at or before `since` runs past midnight."""

    days: frozenset[int]
    since: time
    until: time


@dataclass(frozen=True, slots=True)
class OnCall:
    """Somebody to wake: a duty phone or a person. Numbers in E.164; one of phone and email is given."""

    who: str
    phone: str = ""
    email: str = ""
    manager: bool = False  # woken last
    strangers: bool = False  # woken for numbers that belong to no pair, too
    language: str = "en"


@dataclass(frozen=True, slots=True)
class Place:
    """A place that takes her at any hour. `near` are places where mothers live who should go to this one;
    `heads_up` is a number that is told, by text, that somebody is coming."""

    name: str
    call: str = ""
    transport: str = ""
    near: tuple[str, ...] = ()
    heads_up: str = ""


@dataclass(frozen=True, slots=True)
class Site:
    """A facility. Days of the week count from Monday = 0; `opens` is when reviews begin, local time."""

    id: UUID
    code: str
    name: str
    zone: str  # IANA name
    region: str  # ISO 3166-1 alpha-2, reads national phone numbers
    open_days: frozenset[int]
    closed_days: frozenset[date]
    opens: time
    closes: time
    numbers: Numbers
    cover: tuple[Hours, ...] = ()  # when somebody reads the inbox; none: while it is open
    on_call: tuple[OnCall, ...] = ()  # whom a danger wakes, in order
    places: tuple[Place, ...] = ()  # besides the one in `numbers`
    revision: int = 1

    @property
    def tz(self) -> ZoneInfo:
        return ZoneInfo(self.zone)

    def is_open(self, day: date) -> bool:
        return day.weekday() in self.open_days and day not in self.closed_days


@dataclass(frozen=True, slots=True)
class Consent:
    """What she agreed to, and who asked in which language."""

    texts: bool
    calls: bool
    second_contact: bool = False
    home_visit: bool = False
    research: bool = False
    taken_by: str = ""
    language: str = ""


@dataclass(frozen=True, slots=True)
class Mother:
    id: UUID
    name: str
    phone: str | None  # E.164
    language: str
    phone_shared: bool
    texting: Texting
    age: int | None = None
    parity: int | None = None
    state: MotherState = MotherState.living
    birth_mode: str = ""  # vaginal, assisted, caesarean, '' unknown
    risks: frozenset[str] = frozenset()
    latin: bool = False  # her phone shows Latin letters only

    @property
    def reads(self) -> str:
        """The tag (BCP 47) of what she is texted: her language, or the same in Latin letters."""
        return f"{self.language}-Latn" if self.latin else self.language


@dataclass(frozen=True, slots=True)
class Assessment:
    """A feeding assessment: `signs` maps position_neck .. attachment_areola to yes, no or not_seen, and
    suckling to effective, not_effective, not_at_all or not_seen."""

    id: UUID
    baby: int
    at: datetime
    by: str
    occasion: str  # discharge or review
    signs: Mapping[str, str]
    weight_g: int | None = None


@dataclass(frozen=True, slots=True)
class Baby:
    """`born_on` is the local date at the site; `born_at` is None when the hour is unknown."""

    id: UUID
    ordinal: int  # 1, 2 ..
    name: str
    born_on: date
    born_at: datetime | None
    sex: str | None = None  # female, male
    birth_weight_g: int | None = None
    gestation_weeks: float | None = None
    place: str = "with_mother"  # with_mother, neonatal_unit, elsewhere
    feeding_plan: str = ""
    state: BabyState = BabyState.living


@dataclass(frozen=True, slots=True)
class Contact:
    """A contact of the schedule that has been dealt with; outcome: texted, call, skipped."""

    key: str
    occurrence: int
    edition: int
    due_at: datetime
    outcome: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Question:
    """One question of a check-in, for one baby or (None) for the mother or the pair."""

    id: UUID
    position: int
    key: str
    baby: int | None
    state: QuestionState
    asked_at: datetime | None = None
    asked_again_at: datetime | None = None
    # Loaded from the text that carried it last, never written through the pair:
    sent_at: datetime | None = None
    delivery: MessageState | None = None


@dataclass(frozen=True, slots=True)
class CheckIn:
    id: UUID
    contact_key: str
    occurrence: int
    opened_at: datetime
    expires_at: datetime
    state: CheckInState
    questions: tuple[Question, ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """One thing she told us. Numbers stand as `low` to `high` (equal when exact, one of them None when
    open), yes as 1 to 1 and no as 0 to 0. A danger sign is an answer too: its key is the sign's id. A
    correction is a new answer that supersedes the old."""

    id: UUID
    key: str
    baby: int | None
    low: float | None
    high: float | None
    at: datetime
    question: UUID | None = None
    inbound: UUID | None = None
    by: UUID | None = None  # staff who entered it
    superseded_by: UUID | None = None


@dataclass(frozen=True, slots=True)
class Finding:
    """Why an escalation stands: a rule or an occasion that held, for one baby or (None) for the pair.

    `risen_at` is when it went up because nothing had settled it for a day; its urgency was same_day before.
    """

    rule: str
    baby: int | None
    urgency: Urgency
    first_at: datetime
    last_at: datetime
    count: int = 1
    inbound: UUID | None = None  # the reply that brought it last
    detail: str = ""
    withdrawn_by: UUID | None = None
    risen_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Escalation:
    """An item of the inbox. Its clock runs from `raised_at` to `spoken_at`."""

    id: UUID
    urgency: Urgency
    raised_at: datetime
    due_at: datetime
    state: EscalationState
    findings: tuple[Finding, ...]
    taken_by: UUID | None = None
    taken_at: datetime | None = None
    offered_to: UUID | None = None  # a colleague who is asked to take it over; until then the first has it
    spoken_at: datetime | None = None
    not_before: datetime | None = None
    closed_at: datetime | None = None
    disposition: str = ""  # what was found: the id of one of a guide's findings, or of a reason for the end
    note: str | None = None  # in the words of staff; sealed where it is stored


@dataclass(frozen=True, slots=True)
class Episode:
    """What follows a danger, from the warning to the arrival. At most one is open, and one is open while the
    open item of the inbox says go_now.

    grounds   what she was told about so far: sign, number (a count alone), private (never named in a text)
    checks    how many of the timed looks after the warning are done
    look_at   the next of them, or when she should have arrived
    """

    id: UUID
    escalation: UUID
    state: EpisodeState
    opened_at: datetime
    place: str  # the name of where she was told to go
    grounds: frozenset[str] = frozenset()
    told_key: str = ""  # once_key of the text that told her last
    told_at: datetime | None = None
    delivered_at: datetime | None = None
    answered_at: datetime | None = None
    why: str = ""  # of one who cannot go: an id of HINDRANCES
    arrived_at: datetime | None = None
    checks: int = 0
    look_at: datetime | None = None
    closed_at: datetime | None = None
    outcome: str = ""  # an id of OUTCOMES
    closed_by: UUID | None = None
    # Loaded from the text that told her last, never written through the pair nor part of what it is:
    delivery: MessageState | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class Attempt:
    """One try to reach them otherwise than by text: `kind` and `result` from RESULTS of `chase.py`, the
    result '' while a visit is still to be made. `who` makes the visit; `done_at` is when its
    result was noted."""

    id: UUID
    kind: str
    result: str
    at: datetime
    by: UUID
    on_day: date | None = None
    who: str = ""  # sealed where it is stored
    done_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Chase:
    """A stay on the list of those whom texts do not reach. At most one is open.

    ground     why it began: an id of GROUNDS
    look_at    when a person is shown that nothing was tried, or that a visit has no result
    why        of giving up: an id of GIVEN_UP; it stands when a second person, `closed_by`, has signed
    """

    id: UUID
    state: ChaseState
    ground: str
    opened_at: datetime
    look_at: datetime | None
    given_up_by: UUID | None = None
    given_up_at: datetime | None = None
    why: str = ""
    closed_at: datetime | None = None
    closed_by: UUID | None = None  # None where the program saw that she can be reached


CHASED = frozenset({ChaseState.trying, ChaseState.given_up})


@dataclass(frozen=True, slots=True)
class Review:
    id: UUID
    on_day: date
    at: time | None
    kind: str  # first, feeding_problem, weight_loss, low_weight, follow_up
    state: ReviewState
    booked_at: datetime
    note: str = ""


_TEXTED = frozenset({EnrolmentState.following, EnrolmentState.away})


@dataclass(frozen=True, slots=True)
class Pair:
    """An enrolment with everything that hangs on it. `wake_at` is the earliest of its timers, None only
    when closed. `look_at` is when an away or held pair is looked at again."""

    id: UUID
    external_id: str
    site: Site
    mother: Mother
    babies: tuple[Baby, ...]
    discharged_at: datetime
    enrolled_at: datetime
    consent: Consent
    preferred_hour: int | None
    follow_up_by: str  # text, call, visit
    schedule: str
    state: EnrolmentState
    wake_at: datetime | None
    plan_stamp: str = ""
    look_at: datetime | None = None
    closed_reason: str | None = None
    assessments: tuple[Assessment, ...] = ()
    contacts: tuple[Contact, ...] = ()
    check_ins: tuple[CheckIn, ...] = ()
    answers: tuple[Answer, ...] = ()
    escalations: tuple[Escalation, ...] = ()
    episodes: tuple[Episode, ...] = ()
    chases: tuple[Chase, ...] = ()
    attempts: tuple[Attempt, ...] = ()
    reviews: tuple[Review, ...] = ()
    undelivered_since: datetime | None = None  # a text did not arrive, and nothing did or was heard since
    home_at: datetime | None = None  # when they came home again, after they were away or admitted
    closed_at: datetime | None = None  # when the follow-up ended; the time for which records are kept begins
    offered_to: UUID | None = None  # the site that is asked to take over; until it accepts they stay here
    extra: Mapping[str, str] = field(default_factory=dict)  # lives_at, nearest_facility, second contact

    def with_changes(self, **changes: Any) -> Pair:
        """The pair with some fields changed: as `dataclasses.replace`, in less than half its time. A pair has
        many fields, and every event changes it several times."""
        changed = object.__new__(Pair)
        for put, value in zip(_PUT, _VALUES(self), strict=True):
            put(changed, value)
        for name, value in changes.items():
            object.__setattr__(changed, name, value)
        return changed

    @property
    def tz(self) -> ZoneInfo:
        return self.site.tz

    @property
    def living(self) -> tuple[Baby, ...]:
        return tuple(baby for baby in self.babies if baby.state is BabyState.living)

    @property
    def open_check_in(self) -> CheckIn | None:
        return next((c for c in self.check_ins if c.state is CheckInState.open), None)

    @property
    def open_escalation(self) -> Escalation | None:
        return next((e for e in self.escalations if e.state is not EscalationState.closed), None)

    @property
    def open_episode(self) -> Episode | None:
        return next((e for e in self.episodes if e.state is not EpisodeState.closed), None)

    @property
    def open_chase(self) -> Chase | None:
        return next((c for c in self.chases if c.state in CHASED), None)

    @property
    def expected_review(self) -> Review | None:
        return next((r for r in self.reviews if r.state is ReviewState.expected), None)

    @property
    def youngest(self) -> Baby:
        """The baby whose age leads (twins share it, but one may be entered with an hour)."""
        return max(self.living or self.babies, key=lambda baby: baby.born_on)

    def local(self, instant: datetime) -> datetime:
        return instant.astimezone(self.tz)

    def can_text(self) -> bool:
        return self.mother.texting is Texting.on and self.state in _TEXTED


_NAMES = tuple(each.name for each in fields(Pair))
_VALUES = attrgetter(*_NAMES)
_PUT = tuple(getattr(Pair, name).__set__ for name in _NAMES)  # the slots, past what makes the pair frozen

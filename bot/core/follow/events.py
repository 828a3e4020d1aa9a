"""What can happen to a pair, and what may follow from it: plain values in, plain values out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time
from typing import Literal
from uuid import UUID

from bot.core.outbox import Priority
from bot.core.pair import Assessment, OnCall, Review, Site
from bot.core.reader import Reading
from bot.core.states import EpisodeState, Urgency
from bot.core.triage import Verdict

# ---------------------------------------------------------------- events


@dataclass(frozen=True, slots=True)
class Enrolled:
    """The discharge details were accepted. At the bedside the practice text goes out at once."""

    bedside: bool


@dataclass(frozen=True, slots=True)
class Woke:
    """A timer of the pair is due. `phone_busy`: another mother's question is open on the same phone."""

    phone_busy: bool = False


@dataclass(frozen=True, slots=True)
class ReplyRead:
    """A reply from her number was read. `question` is the one that it may answer.

    `sure` is False where several mothers share the number and it is not clear who writes: then only
    dangers, endings and the wish for a call are taken from it. `hers` is False where it came from another
    number that is known of her, one she had before or that of her second contact: then it is not sure
    either, and it ends nothing. `language` is the one she asks for, if that is all she writes.
    """

    inbound: UUID
    received_at: datetime
    reading: Reading
    question: UUID | None
    sure: bool = True
    hers: bool = True
    language: str = ""


@dataclass(frozen=True, slots=True)
class RangUs:
    """Her number rang ours and hung up. `sure` and `hers` as of a reply."""

    inbound: UUID
    received_at: datetime
    sure: bool = True
    hers: bool = True


@dataclass(frozen=True, slots=True)
class ReplyFailed:
    """A reply came that the program could not read: a person must."""

    inbound: UUID


@dataclass(frozen=True, slots=True)
class Replanned:
    """A new edition of the schedule, or of the site, is in force: the pair's timers are set anew."""


@dataclass(frozen=True, slots=True)
class Delivered:
    """The network says that the phone has the text."""

    once_key: str


@dataclass(frozen=True, slots=True)
class Undelivered:
    """A text did not reach the phone. `permanent`: the network refuses the number for good."""

    once_key: str
    permanent: bool
    opted_out: bool = False


@dataclass(frozen=True, slots=True)
class ReviewRecorded:
    """A person recorded a review: who came, what was seen, or that they did not come.

    `said` is what was heard or looked at besides the breastfeed: baby -> key of an answer -> (low, high), yes
    is (1, 1), no is (0, 0).
    """

    by: UUID
    review: UUID
    attended: bool
    assessments: tuple[Assessment, ...] = ()
    note: str = ""
    said: Mapping[int, Mapping[str, tuple[float | None, float | None]]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class StaffActed:
    """A signed-in person did something to the pair."""

    by: UUID
    action: Action


Event = (
    Enrolled
    | Woke
    | Replanned
    | ReplyRead
    | RangUs
    | ReplyFailed
    | Delivered
    | Undelivered
    | ReviewRecorded
    | StaffActed
)

# ---------------------------------------------------------------- what staff can do


@dataclass(frozen=True, slots=True)
class Take:
    """Take the open escalation; refused when somebody else has it."""


@dataclass(frozen=True, slots=True)
class Release:
    """Put a taken escalation back."""


@dataclass(frozen=True, slots=True)
class HandOver:
    """Ask a colleague to take a taken item over; until they accept it stays with who has it."""

    to: UUID


@dataclass(frozen=True, slots=True)
class AcceptHandOver:
    """The colleague who was asked takes it over."""


@dataclass(frozen=True, slots=True)
class PutOff:
    """Look at the open item again later: refused for go_now."""

    until: datetime
    why: str


@dataclass(frozen=True, slots=True)
class Spoke:
    """The mother was spoken to; stops the escalation's clock."""


@dataclass(frozen=True, slots=True)
class SheRang:
    """She rang the ward and a person spoke to her; needs no open item."""


@dataclass(frozen=True, slots=True)
class CheckedWho:
    """Who was on the line proved to be the mother, before anything was said or changed."""


@dataclass(frozen=True, slots=True)
class Tried:
    """A call, or a call to the second contact, with its result from RESULTS of `core/chase.py`."""

    kind: Literal["call", "second_contact"]
    result: str


@dataclass(frozen=True, slots=True)
class PlanVisit:
    """Somebody goes to their home; `who` by name. One visit is planned at a time."""

    on_day: date
    who: str


@dataclass(frozen=True, slots=True)
class Visited:
    """What came of the planned visit: a result from RESULTS."""

    result: str


@dataclass(frozen=True, slots=True)
class GiveUp:
    """They can't be reached: `why` is an id of GIVEN_UP. A second person must sign it."""

    why: str


@dataclass(frozen=True, slots=True)
class SignUnresolved:
    """A second person agrees that they can't be reached."""


@dataclass(frozen=True, slots=True)
class TryOn:
    """Somebody does not agree that all was tried: it goes on."""


@dataclass(frozen=True, slots=True)
class AskToCall:
    """The text that asks her to call, to one of those on the list who can be texted."""


@dataclass(frozen=True, slots=True)
class EnterAnswers:
    """What she said on the phone, for one baby or (None) the mother or all: same triage as a text.

    `answers` maps a question's key to (low, high); yes is (1, 1), no is (0, 0).
    """

    answers: Mapping[str, tuple[float | None, float | None]]
    signs: frozenset[str] = frozenset()
    baby: int | None = None


@dataclass(frozen=True, slots=True)
class WithdrawFinding:
    """A finding was wrong (misread, another baby). Only a person takes one back."""

    rule: str
    baby: int | None
    why: str


@dataclass(frozen=True, slots=True)
class SetUrgency:
    """Only a person lowers an urgency, and says why."""

    urgency: Urgency
    why: str


@dataclass(frozen=True, slots=True)
class Going:
    """What a person learned of the way to help: on_the_way, cannot (`why`: an id of HINDRANCES), doubts or
    arrived."""

    state: EpisodeState
    why: str = ""


@dataclass(frozen=True, slots=True)
class Close:
    """Close the open escalation with what was found; with an episode, with its outcome from OUTCOMES. If
    nobody spoke to her the note says why it is closed all the same."""

    found: str
    note: str = ""
    outcome: str = ""


@dataclass(frozen=True, slots=True)
class MoveReview:
    on_day: date
    at: time | None = None


@dataclass(frozen=True, slots=True)
class Write:
    """The counsellor's own words, in her language. `key` makes a doubled click one text."""

    key: str
    text: str


@dataclass(frozen=True, slots=True)
class ConfirmPhone:
    """Staff confirm that the number is hers, without the practice answer."""


@dataclass(frozen=True, slots=True)
class SendPractice:
    """Try the number once more. `key` makes a doubled click one text."""

    key: str


@dataclass(frozen=True, slots=True)
class ChangePhone:
    """Another number (E.164), which is then tried like the first; texts to the old one are withdrawn."""

    phone: str
    shared: bool


@dataclass(frozen=True, slots=True)
class StopTexts:
    why: str


@dataclass(frozen=True, slots=True)
class Hold:
    why: str


@dataclass(frozen=True, slots=True)
class Away:
    until: date
    why: str


@dataclass(frozen=True, slots=True)
class Resume:
    """Follow again. `texting` False after a confirmed wrong number: by call or visit from now on."""

    texting: bool = True


@dataclass(frozen=True, slots=True)
class RecordDeath:
    """A baby of several died; the others are still followed. The last one's death closes the pair."""

    baby: int


@dataclass(frozen=True, slots=True)
class RecordMotherDeath:
    """The mother died and the baby lives: no text goes out any more, people follow the baby."""


@dataclass(frozen=True, slots=True)
class OfferMove:
    """Ask the site with the id `to` to take the pair over."""

    to: UUID


@dataclass(frozen=True, slots=True)
class WithdrawMove:
    """End an offer: withdrawn by the site that made it, or declined by the other."""

    outcome: Literal["withdrawn", "declined"]
    why: str = ""


@dataclass(frozen=True, slots=True)
class AcceptMove:
    """The site to which the pair was offered takes it over."""

    site: Site


@dataclass(frozen=True, slots=True)
class SetLanguage:
    """She wants her texts in another language, or the wrong one was entered; `latin`: in Latin letters, for
    her phone shows no others."""

    language: str
    latin: bool = False


@dataclass(frozen=True, slots=True)
class Finish:
    """A person ends the follow-up, with a reason from CLOSED_REASONS."""

    reason: str


Action = (
    Take
    | Release
    | HandOver
    | AcceptHandOver
    | PutOff
    | Going
    | Spoke
    | SheRang
    | CheckedWho
    | Tried
    | PlanVisit
    | Visited
    | GiveUp
    | SignUnresolved
    | TryOn
    | AskToCall
    | EnterAnswers
    | WithdrawFinding
    | SetUrgency
    | Close
    | MoveReview
    | Write
    | ConfirmPhone
    | SendPractice
    | ChangePhone
    | StopTexts
    | Hold
    | Away
    | Resume
    | RecordDeath
    | RecordMotherDeath
    | OfferMove
    | WithdrawMove
    | AcceptMove
    | SetLanguage
    | Finish
)

CLOSED_REASONS: Mapping[str, str] = {
    "finished": "The schedule ran to its end and nothing is open.",
    "moved": "Followed by another facility, which agreed.",
    "declined": "The mother wants no follow-up at all.",
    "baby_died": "The baby died.",
    "mother_died": "The mother died; the baby is followed by other means.",
    "admitted": "Under the care of a hospital until it says otherwise.",
    "duplicate": "Enrolled twice.",
    "error": "Enrolled by mistake.",
}

# How a danger ended. Only a person says so.
OUTCOMES: Mapping[str, str] = {
    "admitted": "Admitted.",
    "treated_home": "Treated and sent home.",
    "nothing_found": "Seen; nothing was found.",
    "referred_on": "Referred on to another place.",
    "died": "Died.",
    "stood_down": "Not a danger: misread, or a wrong number; a person made sure.",
    "not_found": "Could not be found, by phone or by visit.",
}

# What opens an entry in the register of adverse events.
ADVERSE: Mapping[str, str] = {
    "admitted": "Admitted.",
    "baby_died": "The baby died.",
    "mother_died": "The mother died.",
    "died": "A death, not yet said whose.",
}

# What keeps her from going.
HINDRANCES: Mapping[str, str] = {
    "transport": "No money or no transport.",
    "permission": "Somebody does not allow it.",
    "alone": "Nobody to go with her or to stay with the other children.",
    "other": "Something else.",
}

# ---------------------------------------------------------------- effects


@dataclass(frozen=True, slots=True)
class Say:
    """A text to make, by key and values, or (`text`) a counsellor's own words."""

    once_key: str
    text_key: str
    values: Mapping[str, str]
    priority: Priority
    send_after: datetime
    expires_at: datetime
    text: str | None = None


@dataclass(frozen=True, slots=True)
class Ask:
    """A text that carries a question."""

    once_key: str
    text_key: str
    values: Mapping[str, str]
    priority: Priority
    send_after: datetime
    expires_at: datetime
    question: UUID


@dataclass(frozen=True, slots=True)
class Cancel:
    """Withdraw queued texts: all of them, those of questions, or the reminders of a review."""

    once_key: str
    which: Literal["all", "questions", "review"]


@dataclass(frozen=True, slots=True)
class Raise:
    """The inbox has something new or graver."""

    once_key: str
    escalation: UUID
    urgency: Urgency
    due_at: datetime
    rules: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Alert:
    """Wake one on the site's list, about an item of the inbox; step 0 at once, the others when nobody heeds.
    `reason` names why: go_now, not_reached, no_answer, cannot, not_arrived, lapsed, no_cover."""

    once_key: str
    escalation: UUID
    step: int
    to: OnCall
    reason: str
    text_key: str
    values: Mapping[str, str]
    send_after: datetime
    expires_at: datetime


@dataclass(frozen=True, slots=True)
class Heeded:
    """Somebody has it: what still waits to be sent about this item is withdrawn."""

    once_key: str
    escalation: UUID
    how: Literal["taken", "spoken", "closed", "reply", "tap"]


@dataclass(frozen=True, slots=True)
class HeadsUp:
    """Tell the place where she goes that somebody is coming, and no more."""

    once_key: str
    phone: str
    values: Mapping[str, str]
    send_after: datetime
    expires_at: datetime


@dataclass(frozen=True, slots=True)
class Adverse:
    """Something grave happened, which a person completes with date, place and source. `kind` is an id of
    ADVERSE; `baby` None where it is the mother, or not known which."""

    once_key: str
    kind: str
    baby: int | None = None


@dataclass(frozen=True, slots=True)
class CatchUp:
    """We were deaf while an answer of hers was awaited: she stands on a list, and it is not her silence."""

    once_key: str


@dataclass(frozen=True, slots=True)
class Book:
    """A review was booked or moved."""

    once_key: str
    review: Review


@dataclass(frozen=True, slots=True)
class Judged:
    """A triage run to keep: what was looked at, what held, what was just inside."""

    once_key: str
    baby: int
    facts: Mapping[str, object]  # in the form of the triage interface; no personal data
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class Note:
    """A line of the audit: ids and words of the program only, nothing a mother said."""

    once_key: str
    subject: str
    before: str = ""
    after: str = ""
    why: str = ""
    by: UUID | None = None
    data: Mapping[str, str] = field(default_factory=dict)


Effect = (
    Say | Ask | Cancel | Raise | Alert | Heeded | HeadsUp | Adverse | CatchUp | Book | Judged | Note
)  # fmt: skip

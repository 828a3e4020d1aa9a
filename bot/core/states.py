"""Every state a thing can be in, a sentence for each, and the one table of allowed moves.

The contributor guide's diagrams are generated from `MOVES`; the database checks the same words.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import IntEnum, StrEnum
from typing import Self, TypeVar

from bot.core.errors import Conflict


class Urgency(IntEnum):
    """How soon a person must act. Ordered: a larger one is graver."""

    none = 0
    routine = 1
    same_day = 2
    go_now = 3


class State(StrEnum):
    """A state with a sentence that explains it."""

    sentence: str

    def __new__(cls, value: str, sentence: str) -> Self:
        member = str.__new__(cls, value)
        member._value_ = value
        member.sentence = sentence
        return member


class EnrolmentState(State):
    following = "following", "The schedule runs and somebody looks again at a known time."
    away = "away", "Mother or baby is elsewhere for a while; looked at again on a known date."
    held = "held", "All texts stopped until a person decides, after a death or a wrong number, say."
    closed = "closed", "Nobody follows this pair any more, for a stated reason."


class Texting(State):
    unverified = "unverified", "The number has not answered yet: only the practice text goes out."
    on = "on", "She answered from this number; texts go out."
    stopped = "stopped", "She asked for no texts; people follow by call or visit."
    unreachable = "unreachable", "The network refuses this number; people follow by call or visit."
    none = "none", "There is no number to text; people follow by call or visit."


class CheckInState(State):
    open = "open", "Questions are being asked or will be."
    complete = "complete", "Every question was answered or went to a person."
    expired = "expired", "Its time ran out with a question unanswered."
    dropped = "dropped", "Withdrawn before its end: replaced, stopped or closed."


class QuestionState(State):
    waiting = "waiting", "Its turn has not come."
    asked = "asked", "A text with it was made; the answer is awaited."
    asked_again = "asked_again", "Asked once more in simpler words."
    answered = "answered", "A value or yes or no was understood, or a person entered it."
    to_person = "to_person", "Asked twice and still not clear: a person reads and asks."
    expired = "expired", "No answer before its check-in ended."
    dropped = "dropped", "Withdrawn with its check-in."


class MessageState(State):
    queued = "queued", "Waits for its time and a sender."
    sending = "sending", "Claimed by a sender whose lease runs."
    accepted = "accepted", "The gateway took it; nothing is known of the phone."
    delivered = "delivered", "The network says that the phone has it."
    undelivered = "undelivered", "The network says that the phone did not get it."
    unknown = "unknown", "No final report came in time."
    failed = "failed", "The gateway refused it for good."
    expired = "expired", "Its time ran out before it could be sent."
    cancelled = "cancelled", "Withdrawn before it was sent."


class InboundState(State):
    stored = "stored", "On disk and acknowledged; not read yet."
    read = "read", "Read, and what follows from it is stored with it."
    set_aside = "set_aside", "The program could not read it; a person does."


class EscalationState(State):
    waiting = "waiting", "Nobody has taken it."
    taken = "taken", "One counsellor has it."
    closed = "closed", "A person closed it, with what was found."


class EpisodeState(State):
    told = "told", "She was told to go, or a person must tell her; nothing has come back."
    delivered = "delivered", "Her phone has the text, or somebody spoke to her."
    on_the_way = "on_the_way", "She says that she is going."
    cannot = "cannot", "She can't get there by herself."
    doubts = "doubts", "She thinks that it is not needed."
    arrived = "arrived", "She is where she can be helped."
    closed = "closed", "A person said how it ended."


class ChaseState(State):
    trying = "trying", "Texts do not reach them; people try by call, second contact or visit."
    given_up = "given_up", "One person gives up and says why; a second one must sign it."
    reached = "reached", "She was spoken to, or can be reached by text again."
    unresolved = "unresolved", "Two people signed that they could not be reached."
    dropped = "dropped", "The follow-up ended before they were reached."


class ReviewState(State):
    expected = "expected", "Mother and baby are expected on this day."
    attended = "attended", "They came; what was seen is recorded."
    missed = "missed", "They did not come."
    cancelled = "cancelled", "Moved to another day or no longer needed."


class MotherState(State):
    living = "living", "Followed."
    died = "died", "A person recorded her death; nothing is texted, people look after the baby's follow-up."


class BabyState(State):
    living = "living", "Followed."
    died = "died", "A person recorded the death; nothing about this baby is texted."


Moves = Mapping[State, frozenset[State]]
S = TypeVar("S", bound=State)


def _table(*rows: tuple[State, str]) -> Moves:
    return {state: frozenset(_named(type(state), word) for word in after.split()) for state, after in rows}


def _named(states: type[State], word: str) -> State:
    return next(state for state in states if state.value == word)


_E, _T, _C, _Q, _M, _I, _X, _P, _H, _R, _B, _D = (
    EnrolmentState, Texting, CheckInState, QuestionState, MessageState, InboundState, EscalationState,
    EpisodeState, ChaseState, ReviewState, BabyState, MotherState,
)  # fmt: skip

MOVES: Mapping[type[State], Moves] = {
    _E: _table(
        (_E.following, "away held closed"),
        (_E.away, "following held closed"),
        (_E.held, "following away closed"),
        (_E.closed, "following held"),  # a person re-opens it; a danger lets a person decide
    ),
    _T: _table(
        (_T.unverified, "on stopped unreachable none"),
        (_T.on, "unverified stopped unreachable none"),
        (_T.stopped, "unverified on unreachable none"),
        (_T.unreachable, "unverified on stopped none"),
        (_T.none, "unverified"),
    ),
    _C: _table(
        (_C.open, "complete expired dropped"),
        (_C.complete, ""),
        (_C.expired, ""),
        (_C.dropped, ""),
    ),
    _Q: _table(
        (_Q.waiting, "asked answered to_person expired dropped"),
        (_Q.asked, "asked_again answered to_person expired dropped"),
        (_Q.asked_again, "answered to_person expired dropped"),
        (_Q.answered, ""),
        (_Q.to_person, "answered"),
        (_Q.expired, "answered"),
        (_Q.dropped, ""),
    ),
    _M: _table(
        (_M.queued, "sending expired cancelled failed"),
        (_M.sending, "queued accepted delivered undelivered failed expired"),
        (_M.accepted, "delivered undelivered unknown expired failed"),
        (_M.delivered, ""),
        (_M.undelivered, "delivered"),  # a late 'delivered' is better news than the failure before it
        (_M.unknown, "delivered undelivered"),
        (_M.failed, "delivered"),
        (_M.expired, "delivered"),
        (_M.cancelled, ""),
    ),
    _I: _table(
        (_I.stored, "read set_aside"),
        (_I.read, ""),
        (_I.set_aside, "read"),  # once a person has read it
    ),
    _X: _table(
        (_X.waiting, "taken closed"),
        (_X.taken, "waiting closed"),
        (_X.closed, ""),
    ),
    _P: _table(
        (_P.told, "delivered on_the_way cannot doubts arrived closed"),
        (_P.delivered, "on_the_way cannot doubts arrived closed"),
        (_P.on_the_way, "cannot doubts arrived closed"),
        (_P.cannot, "on_the_way doubts arrived closed"),
        (_P.doubts, "on_the_way cannot arrived closed"),
        (_P.arrived, "closed"),
        (_P.closed, ""),
    ),
    _H: _table(
        (_H.trying, "given_up reached dropped"),
        (_H.given_up, "trying reached unresolved dropped"),
        (_H.reached, ""),
        (_H.unresolved, "reached"),  # she was found after all
        (_H.dropped, ""),
    ),
    _R: _table(
        (_R.expected, "attended missed cancelled"),
        (_R.attended, ""),
        (_R.missed, "attended"),  # she came after all, later the same day
        (_R.cancelled, ""),
    ),
    _B: _table((_B.living, "died"), (_B.died, "living")),  # a death entered in error is taken back
    _D: _table((_D.living, "died"), (_D.died, "living")),
}


def may_move(before: State, after: State) -> bool:
    """Tell whether the table allows `before` to become `after`; staying is always allowed."""
    return before == after or after in MOVES[type(before)][before]


def move(before: S, after: S) -> S:
    """Give `after` if the table allows the move; raise Conflict where it does not."""
    if not may_move(before, after):
        raise Conflict(f"This is {before.value} and can't become {after.value}.")
    return after

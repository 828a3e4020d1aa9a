"""One outgoing message: what becomes of it after an attempt to send it, and after a report about it.

In: the gateway's outcome or reported state, the attempts so far, the time. Out: a `Decision` or the state.
A text missed is worse than one doubled: what may succeed is tried again, with the same id, until it expires.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import IntEnum

from bot.core.states import MessageState, may_move


class Priority(IntEnum):
    """Which queued text goes first. Ordered: a smaller one is sooner."""

    go_now = 0  # passes rate limit and resting gateway
    answer = 1  # she has just written and waits
    reminder = 2
    rest = 3


@dataclass(frozen=True, slots=True)
class OutboundText:
    """What a gateway is asked to carry. `id` is the same at every attempt; numbers in E.164."""

    id: str
    to: str
    text: str
    expires_at: datetime


@dataclass(frozen=True, slots=True)
class Accepted:
    """The gateway took it and names it `ref` in its reports."""

    ref: str


@dataclass(frozen=True, slots=True)
class Temporary:
    """Not taken now; `retry_after` is how long the gateway asks us to wait."""

    reason: str
    retry_after: timedelta | None = None


@dataclass(frozen=True, slots=True)
class Permanent:
    """This text to this number will never be taken. `number` tells that the number itself is at fault."""

    reason: str
    number: bool = False


@dataclass(frozen=True, slots=True)
class OptedOut:
    """The network says that this number wants no texts from us."""

    reason: str = "opted out at the network"


@dataclass(frozen=True, slots=True)
class Denied:
    """The gateway denies us, whatever the text: wrong token or address. A person must mend the settings."""

    reason: str


@dataclass(frozen=True, slots=True)
class Unknown:
    """No answer came: the text may have been taken or not."""

    reason: str


Outcome = Accepted | Temporary | Permanent | OptedOut | Denied | Unknown


class Failure(IntEnum):
    """Why a text failed for good, as far as the pair must know it."""

    none = 0
    text = 1  # this text was refused; another may pass
    number = 2  # the number can't be texted
    opted_out = 3  # the network says that she wants no texts


@dataclass(frozen=True, slots=True)
class Decision:
    """What becomes of a message: its next state; when to try again (queued only); `ref` (accepted only)."""

    state: MessageState
    send_after: datetime | None = None
    ref: str | None = None
    failure: Failure = Failure.none
    reason: str = ""


FINAL = frozenset({
    MessageState.delivered, MessageState.undelivered, MessageState.unknown,
    MessageState.failed, MessageState.expired, MessageState.cancelled,
})  # fmt: skip

# How long a text is worth sending when nothing else bounds it (common practice, no source). One that answers
# her or says 'go now' is soon stale: by then a person has phoned.
_LIFETIME = {
    Priority.go_now: timedelta(hours=12),
    Priority.answer: timedelta(hours=6),
    Priority.reminder: timedelta(hours=12),
    Priority.rest: timedelta(hours=24),
}
# A report that has not come this long after the text expired will not come (common practice, no source).
REPORT_WAIT = timedelta(hours=72)

_FIRST_WAIT = timedelta(seconds=5)
_LONGEST_WAIT = {
    Priority.go_now: timedelta(seconds=30),
    Priority.answer: timedelta(minutes=5),
    Priority.reminder: timedelta(minutes=15),
    Priority.rest: timedelta(minutes=15),
}
_LONGEST_RETRY_AFTER = timedelta(hours=1)

# So many texts in a row must fail before a gateway rests; it rests the longer the more they are.
_FAILURES_TO_REST = 3
_REST = timedelta(seconds=3)
_LONGEST_REST = timedelta(minutes=1)


def expiry(priority: Priority, made_at: datetime, until: datetime | None = None) -> datetime:
    """Tell when a text is no longer worth sending; `until` bounds it further (a window's end, the visit)."""
    by_kind = made_at + _LIFETIME[priority]
    return by_kind if until is None else min(by_kind, until)


def after_attempt(
    outcome: Outcome,
    *,
    attempts: int,
    now: datetime,
    expires_at: datetime,
    priority: Priority,
    jitter: float,
) -> Decision:
    """Decide what follows an attempt to send.

    attempts  how often it was tried, this time included (from 1)
    jitter    from 0 up to 1, drawn by the caller; spreads the retries of texts that failed together
    """
    match outcome:
        case Accepted(ref):
            return Decision(MessageState.accepted, ref=ref)
        case Permanent(reason, number):
            failure = Failure.number if number else Failure.text
            return Decision(MessageState.failed, failure=failure, reason=reason)
        case OptedOut(reason):
            return Decision(MessageState.failed, failure=Failure.opted_out, reason=reason)
    asked = outcome.retry_after if isinstance(outcome, Temporary) else None
    again = now + wait(attempts, priority, jitter, asked)
    if again >= expires_at:
        return Decision(MessageState.expired, reason=outcome.reason)
    return Decision(MessageState.queued, send_after=again, reason=outcome.reason)


def wait(attempts: int, priority: Priority, jitter: float, asked: timedelta | None = None) -> timedelta:
    """Give the time to the next attempt: doubling, bounded by priority, the upper half of it at random, and
    never less than the gateway `asked` for (up to an hour)."""
    doubled = _FIRST_WAIT * (1 << min(attempts - 1, 16))
    spread = min(doubled, _LONGEST_WAIT[priority]) * (1 + jitter) / 2
    return max(spread, min(asked or timedelta(), _LONGEST_RETRY_AFTER))


def after_receipt(current: MessageState, reported: MessageState) -> MessageState:
    """Give the state after a report. It never goes backwards; the first final one stands, except that
    `delivered` replaces a failure reported before it. Reports come doubled, late and in any order."""
    return reported if may_move(current, reported) else current


def got_through(outcome: Outcome) -> bool:
    """Tell whether the gateway dealt with the text, be it by refusing it."""
    return isinstance(outcome, Accepted | Permanent | OptedOut)


def rest(failures: int, asked: timedelta | None, *, denied: bool = False) -> timedelta | None:
    """Tell how long a gateway is left alone after `failures` texts in a row did not get through; None if not
    at all (common practice, no source). `asked` is the longest Retry-After among them. One that denies us
    would deny the next text too: it rests at once, so that another gateway can take over."""
    if denied:
        return max(_LONGEST_REST, min(asked or timedelta(), _LONGEST_RETRY_AFTER))
    if failures < _FAILURES_TO_REST and asked is None:
        return None
    return max(min(failures * _REST, _LONGEST_REST), min(asked or timedelta(), _LONGEST_RETRY_AFTER))

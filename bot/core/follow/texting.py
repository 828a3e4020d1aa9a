"""Whether texts go out: the number verified, stopped, refused; the pair held or away."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from uuid import UUID

from bot.core.checkin import ended
from bot.core.follow.draft import Draft
from bot.core.plan import at_local
from bot.core.states import CheckInState, EnrolmentState, Texting, move

# A held or away pair is looked at again at the start of a working day. Common practice, no source.
LOOK_AT = time(8, 0)


def verify(draft: Draft, why: str, by: UUID | None = None) -> None:
    """The number is hers: texts may go out from now on."""
    _set_texting(draft, Texting.on, why, by)


def stop_texts(draft: Draft, why: str, to: Texting = Texting.stopped, by: UUID | None = None) -> None:
    """No more texts; what is queued is withdrawn. The follow-up itself goes on by call or visit."""
    if draft.pair.mother.texting is to or draft.pair.mother.texting is Texting.none:
        return
    _set_texting(draft, to, why, by)
    drop_check_in(draft)
    draft.cancel("all", why)


def _set_texting(draft: Draft, after: Texting, why: str, by: UUID | None) -> None:
    before = draft.pair.mother.texting
    if before is after:
        return
    draft.set(mother=replace(draft.pair.mother, texting=move(before, after)))
    draft.note("texting", before.value, after.value, why, by)


def drop_check_in(draft: Draft) -> None:
    if draft.pair.open_check_in is not None:
        draft.put_check_in(ended(draft.pair.open_check_in, CheckInState.dropped))


def set_state(
    draft: Draft, after: EnrolmentState, why: str, look_at: datetime | None = None, by: UUID | None = None
) -> None:
    before = draft.pair.state
    ended = draft.now if after is EnrolmentState.closed else None
    draft.set(state=move(before, after), look_at=look_at, closed_at=ended)
    draft.note("enrolment", before.value, after.value, why, by)


def hold(draft: Draft, why: str, by: UUID | None = None) -> None:
    """All texts stop until a person decides; looked at again next morning."""
    drop_check_in(draft)
    draft.cancel("all", why)
    set_state(draft, EnrolmentState.held, why, next_morning(draft), by)


def next_morning(draft: Draft) -> datetime:
    return morning_of(draft, draft.pair.local(draft.now).date() + timedelta(days=1))


def morning_of(draft: Draft, day: date) -> datetime:
    return at_local(day, LOOK_AT, draft.pair.tz)


def reopen(draft: Draft, why: str, by: UUID | None = None) -> None:
    """Held, not followed: a person decides whether texts and questions begin again, perhaps after a death."""
    hold(draft, why, by)
    draft.set(closed_reason=None)

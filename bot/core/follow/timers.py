"""When somebody or something must look at the pair again: the earliest of all its timers."""

from __future__ import annotations

from datetime import datetime, timedelta

from bot.core.escalation import lapses_at, rises_at
from bot.core.follow.chase import looks_at
from bot.core.follow.contacts import put_off_until
from bot.core.follow.draft import Draft
from bot.core.pair import Pair
from bot.core.review import late_after
from bot.core.states import EnrolmentState

# With no other timer the pair is looked at once a day, so that none is ever out of sight.
HEARTBEAT = timedelta(days=1)


def wake_at(draft: Draft, phone_busy: bool = False) -> datetime | None:
    """The earliest timer of the pair after this event; None only when it is closed."""
    pair = draft.pair
    if pair.state is EnrolmentState.closed:
        return None
    timers = [draft.now + HEARTBEAT]
    if pair.look_at is not None:
        timers.append(pair.look_at)
    timers += _of_the_inbox(pair) + looks_at(draft)
    if pair.state in (EnrolmentState.following, EnrolmentState.away):
        timers += _of_the_schedule(draft, phone_busy)
    return min(timers)


def _of_the_inbox(pair: Pair) -> list[datetime]:
    """A danger is looked at again, a claim lapses and what is unsettled goes up, even after the end."""
    episode, item = pair.open_episode, pair.open_escalation
    looks = [episode.look_at if episode else None, lapses_at(item) if item else None, rises_at(item)]
    return [at for at in looks if at is not None]


def _of_the_schedule(draft: Draft, phone_busy: bool) -> list[datetime]:
    pair = draft.pair
    timers = []
    if pair.open_check_in is not None:
        timers.append(pair.open_check_in.expires_at)
    if pair.expected_review is not None:
        timers.append(late_after(pair.expected_review, pair.site))
    contact = draft.next_contact()
    if contact is not None:
        waits = put_off_until(draft, contact, phone_busy) if contact.due_at <= draft.now else None
        timers.append(waits or contact.due_at)
    return timers

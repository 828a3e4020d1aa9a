"""A new plan is in force: what it puts before now is recorded as skipped, never sent late."""

from __future__ import annotations

from bot.core.follow.draft import Draft
from bot.core.follow.events import Replanned
from bot.core.pair import Contact
from bot.core.states import EnrolmentState, Texting


def skip_what_is_past(draft: Draft) -> None:
    """Record what the new plan puts before the pair's old timer: all that was due by then is dealt with."""
    pair = draft.pair
    waits = pair.mother.texting is Texting.unverified
    if waits or pair.state is not EnrolmentState.following or pair.wake_at is None:
        return
    reached = min(draft.now, pair.wake_at)
    edition = draft.content.schedule.edition
    past = tuple(
        Contact(each.key, each.occurrence, edition, each.due_at, "skipped", "past when the plan changed")
        for each in draft.contacts_left()
        if each.due_at < reached
    )
    draft.set(contacts=pair.contacts + past)


def nothing_else(draft: Draft, event: Replanned) -> None:
    """The timers are set after every event; a change of plan asks for no more than that."""

"""The discharge details were accepted: the review is booked and the number is tried."""

from __future__ import annotations

from datetime import timedelta

from bot.core.follow.draft import Draft
from bot.core.follow.events import Enrolled, Say
from bot.core.follow.reviews import book_first
from bot.core.outbox import Priority
from bot.core.states import Texting

# The practice text is worth answering while she is still near the ward or just home.
PRACTICE_EXPIRES = timedelta(hours=24)


def enrolled(draft: Draft, event: Enrolled) -> None:
    """Book the review for every pair; send the practice text to every number, at the bedside at once."""
    draft.note("enrolment", after=draft.pair.state.value, why="enrolled")
    book_first(draft)
    if draft.pair.mother.texting is Texting.unverified:
        until = draft.now + PRACTICE_EXPIRES
        at, until = (draft.now, until) if event.bedside else draft.by_day(until)
        priority = Priority.answer if event.bedside else Priority.rest
        draft.effects.append(Say("practice", "practice", draft.values(), priority, at, until))

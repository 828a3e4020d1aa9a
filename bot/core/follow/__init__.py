"""The one transition: pair + event + content + now -> the pair as it is then, and what must be done.

Nothing here reads a clock, a database or a network; the worker, the virtual cohort, a back-test and the
property tests all call this same function.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

from bot.core.follow import chase
from bot.core.follow.contacts import woke
from bot.core.follow.delivery import delivered, undelivered
from bot.core.follow.draft import Content, Draft
from bot.core.follow.enrolled import enrolled
from bot.core.follow.events import (
    Delivered,
    Effect,
    Enrolled,
    Event,
    RangUs,
    Replanned,
    ReplyFailed,
    ReplyRead,
    ReviewRecorded,
    StaffActed,
    Undelivered,
    Woke,
)
from bot.core.follow.replanned import nothing_else, skip_what_is_past
from bot.core.follow.replies import rang, reply_failed, reply_read
from bot.core.follow.reviews import record_review
from bot.core.follow.staff import staff_acted
from bot.core.follow.timers import wake_at
from bot.core.pair import Pair
from bot.core.plan import plan_stamp

__all__ = ["Content", "follow"]

_STEPS: Mapping[type, Callable[[Draft, Any], None]] = {
    Enrolled: enrolled,
    Replanned: nothing_else,
    Woke: woke,
    ReplyRead: reply_read,
    RangUs: rang,
    ReplyFailed: reply_failed,
    Delivered: delivered,
    Undelivered: undelivered,
    StaffActed: staff_acted,
    ReviewRecorded: record_review,
}


def follow(pair: Pair, event: Event, content: Content, now: datetime) -> tuple[Pair, tuple[Effect, ...]]:
    """Give the pair after `event` and its effects, in the order in which they are to be done.

    Raises Conflict, Invalid or NotFound (nothing has changed then) where a person asked for what can't be.
    """
    content = content.at(pair.site.code)
    draft = Draft(pair, content, now)
    stamp = plan_stamp(content.schedule, pair.site)
    if pair.plan_stamp not in ("", stamp):
        skip_what_is_past(draft)
    _STEPS[type(event)](draft, event)
    chase.settle(draft, None if isinstance(event, Enrolled) else pair.mother.texting)
    phone_busy = isinstance(event, Woke) and event.phone_busy
    draft.set(wake_at=wake_at(draft, phone_busy), plan_stamp=stamp)
    return draft.pair, tuple(draft.effects)

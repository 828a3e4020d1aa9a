"""A pair moves to another site: offered by this one, ours until the other accepts."""

from __future__ import annotations

from datetime import date, timedelta
from uuid import UUID

from bot.core.errors import Conflict, Invalid, Problem
from bot.core.follow import events as act
from bot.core.follow.draft import Draft
from bot.core.follow.reviews import book_on
from bot.core.outbox import Priority
from bot.core.pair import Site

# So many days after the day it was booked for, a review must be on an open day of the new site, or a person
# finds one.
_OPEN_WITHIN = 3


def offer(draft: Draft, action: act.OfferMove, by: UUID) -> None:
    """Ask another site to take over. Nothing else changes: the pair, its item and its texts stay here."""
    if action.to == draft.pair.site.id:
        raise Invalid([Problem("to", "This is the site that follows them now. Choose another.")])
    draft.set(offered_to=action.to)
    draft.note("move", "", "offered", str(action.to), by)


def withdraw(draft: Draft, action: act.WithdrawMove, by: UUID) -> None:
    """Take the offer back, or decline it: they stay with the site that has them."""
    if draft.pair.offered_to is None:
        raise Conflict("Nothing is offered any more. Look at the page again.")
    draft.set(offered_to=None)
    draft.note("move", "offered", action.outcome, action.why, by)


def accept(draft: Draft, action: act.AcceptMove, by: UUID) -> None:
    """The other site takes over, the open item with it; the review goes to one of its open days, and the
    mother is told the new place and numbers."""
    if draft.pair.offered_to != action.site.id:
        raise Conflict("They are not offered to this site any more. Look at the page again.")
    before = draft.pair.site
    draft.set(site=action.site, offered_to=None)
    draft.note("move", before.code, action.site.code, "accepted", by)
    review = draft.pair.expected_review
    if review is not None:
        day = _open_day(action.site, max(review.on_day, draft.pair.local(draft.now).date()))
        if day is None:
            draft.occasion("no_open_day", detail=review.on_day.isoformat())
        else:
            book_on(draft, day, None, review.kind)
    if draft.pair.can_text():
        draft.say(f"moved:{action.site.code}:{draft.now.isoformat()}", "site-changed", Priority.answer)
    else:
        draft.occasion("site_changed_untold")


def _open_day(site: Site, wanted: date) -> date | None:
    days = (wanted + timedelta(days=n) for n in range(_OPEN_WITHIN + 1))
    return next((day for day in days if site.is_open(day)), None)

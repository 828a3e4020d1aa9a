"""The review visit: booked at enrolment, attended or missed, and the next one set by what was found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, time
from uuid import UUID

from bot.core.errors import Conflict, NotFound
from bot.core.escalation import News
from bot.core.follow.answers import keep_answer
from bot.core.follow.draft import Draft
from bot.core.follow.events import ReviewRecorded
from bot.core.follow.judging import judge
from bot.core.ids import derived_id
from bot.core.outbox import Priority
from bot.core.pair import Answer, Review
from bot.core.review import Booking, first_review, home_review, next_review
from bot.core.states import ReviewState, move

# Ladders of rules that say 'weigh again in 24 to 48 hours'.
WEIGH_AGAIN = frozenset({"weight-loss", "weight-loss-unwell"})


def book_first(draft: Draft) -> None:
    """Every pair gets a review at enrolment; where no day is open a person phones instead."""
    _book(draft, first_review(draft.pair, draft.content.schedule))


def book_after_home(draft: Draft) -> None:
    """Who comes home again is seen again as after the first discharge."""
    if _book(draft, home_review(draft.pair, draft.content.schedule, draft.now)) and draft.pair.can_text():
        draft.say(f"review:{draft.pair.reviews[-1].id}:home", "review-moved", Priority.reminder)


def _book(draft: Draft, booking: Booking) -> bool:
    if booking.on_day is None:
        draft.occasion("no_open_day", detail=booking.why)
        return False
    book_on(draft, booking.on_day, booking.at, booking.kind)
    return True


def book_on(draft: Draft, on_day: date, at: time | None, kind: str) -> None:
    """Expect the pair on that day; the reminders of an earlier day no longer go out."""
    if draft.pair.expected_review is not None:
        cancel_review(draft)
        draft.cancel("review", "review moved")
    made = derived_id(draft.now, draft.pair.id, "review", on_day, len(draft.pair.reviews))
    draft.book(Review(made, on_day, at, kind, ReviewState.expected, draft.now))


def cancel_review(draft: Draft) -> None:
    """They are not expected any more, on another day or not at all."""
    standing = draft.pair.expected_review
    if standing is not None:
        draft.put_review(replace(standing, state=move(standing.state, ReviewState.cancelled)))


def record_review(draft: Draft, event: ReviewRecorded) -> None:
    """Keep what a person recorded: what was seen and weighed goes through the same triage."""
    review = next((r for r in draft.pair.reviews if r.id == event.review), None)
    if review is None:
        raise NotFound("This review is not one of this pair's.")
    if review.state is (ReviewState.attended if event.attended else ReviewState.missed):
        raise Conflict("This review is recorded already.")  # a form sent twice records one visit
    if not event.attended:
        miss_review(draft, review, event.by, event.note)
        return
    draft.put_review(replace(review, state=move(review.state, ReviewState.attended), note=event.note))
    draft.note("review", review.state.value, ReviewState.attended.value, by=event.by)
    draft.cancel("review", "she came")
    draft.set(assessments=(*draft.pair.assessments, *event.assessments))
    _keep_said(draft, event)
    news = judge(draft)
    draft.raise_news(news)
    schedule, vocabulary = draft.content.schedule, draft.content.rules.vocabulary
    losing = _losing(draft, news)
    booking = next_review(draft.pair, event.assessments, schedule, vocabulary, draft.now, losing)
    # Who is sent to hospital now is not told of a visit in two days; people are with her.
    if booking is not None and _book(draft, booking) and draft.pair.can_text() and not draft.in_danger:
        draft.say(f"review:{review.id}:next", "review-next", Priority.answer)


def _losing(draft: Draft, news: Sequence[News]) -> set[int]:
    """The babies of which a rule says to weigh them again soon."""
    rules = ((each.baby, draft.content.rules.rule(each.rule)) for each in news)
    return {baby for baby, rule in rules if baby is not None and rule and rule.ladder in WEIGH_AGAIN}


def _keep_said(draft: Draft, event: ReviewRecorded) -> None:
    for baby, said in sorted(event.said.items()):
        for key, (low, high) in sorted(said.items()):
            made = derived_id(draft.now, event.review, "said", key, baby)
            keep_answer(draft, Answer(made, key, baby, low, high, draft.now, by=event.by))


def miss_review(draft: Draft, review: Review, by: UUID | None, note: str = "") -> None:
    """They did not come: she gets a text with no blame in it, and a person calls today."""
    draft.put_review(replace(review, state=move(review.state, ReviewState.missed), note=note))
    draft.note("review", review.state.value, ReviewState.missed.value, by=by)
    draft.cancel("review", "review missed")
    draft.occasion("missed_review", detail=review.on_day.isoformat())
    if draft.pair.can_text() and not draft.in_danger:
        draft.say(f"review:{review.id}:missed", "review-missed", Priority.reminder)

"""A timer is due: check-ins end, reviews are missed, contacts go out or become calls, the follow-up ends."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta

from bot.core.checkin import ended, is_unanswered, is_undelivered, opened
from bot.core.escalation import lapses_at, released
from bot.core.follow import chase, episodes
from bot.core.follow.asking import ask_next, must_know_today
from bot.core.follow.draft import Draft
from bot.core.follow.events import CatchUp, Say, Woke
from bot.core.follow.judging import judge
from bot.core.follow.reviews import miss_review
from bot.core.follow.texting import next_morning, set_state
from bot.core.outbox import Priority
from bot.core.pair import CheckIn, Contact
from bot.core.plan import Planned, out_of_quiet, send_at
from bot.core.review import late_after
from bot.core.schedule import ContactKind
from bot.core.states import CheckInState, EnrolmentState, QuestionState, Texting, Urgency

# A number that has not answered the practice text keeps a contact waiting this long, then a person calls.
UNVERIFIED_WAITS = timedelta(hours=2)
# A phone that carries another mother's open question is tried again this much later.
BUSY_WAITS = timedelta(minutes=30)


def woke(draft: Draft, event: Woke) -> None:
    """Do everything whose time has come; `wake_at` afterwards lies in the future."""
    lapse(draft)
    if draft.pair.state is not EnrolmentState.closed:
        draft.raise_unsettled()
    episodes.look(draft)
    if draft.pair.state is not EnrolmentState.closed:
        chase.look(draft)
    _ON_TIME[draft.pair.state](draft, event)


def _following(draft: Draft, event: Woke) -> None:
    _end_check_in(draft)
    review = draft.pair.expected_review
    if review is not None and late_after(review, draft.pair.site) <= draft.now:
        miss_review(draft, review, by=None)
    for late in [each for each in draft.contacts_left() if each.valid_until <= draft.now]:
        _record(draft, late, "skipped", "its time had passed")
    _contacts(draft, event)
    _finish_if_over(draft)


def _contacts(draft: Draft, event: Woke) -> None:
    while (planned := draft.next_contact()) is not None:
        if planned.due_at > draft.now or put_off_until(draft, planned, event.phone_busy) is not None:
            break
        _contact(draft, planned, event.phone_busy)


def put_off_until(draft: Draft, planned: Planned, phone_busy: bool) -> datetime | None:
    """When a due contact waits: the phone is busy with a question, or may still answer its practice text.

    None as well when the wait would outlast the contact: then a person calls, and none is lost.
    """
    until = None
    if draft.pair.mother.texting is Texting.unverified:
        until = planned.due_at + UNVERIFIED_WAITS
    elif phone_busy and draft.pair.can_text() and planned.kind is ContactKind.check_in:
        until = draft.now + BUSY_WAITS
    return until if until is not None and draft.now < until < planned.valid_until else None


# ---------------------------------------------------------------- one contact


def _contact(draft: Draft, planned: Planned, phone_busy: bool) -> None:
    if draft.pair.follow_up_by != "text" or not draft.pair.can_text():
        _by_person(draft, planned, draft.pair.mother.texting.value)
    elif send_at(planned, draft.content.schedule, draft.now) is None:
        _record(draft, planned, "skipped", "quiet hours last until its time is over")
    elif draft.in_danger:
        _by_person(draft, planned, "a danger is open")
    elif planned.kind is not ContactKind.check_in:
        _text(draft, planned)
    elif phone_busy:
        _by_person(draft, planned, "the phone carries another mother's question")
    else:
        _start_check_in(draft, planned)


def _by_person(draft: Draft, planned: Planned, why: str) -> None:
    """A contact that can't be a text becomes a call or visit: nobody is lost for want of a phone."""
    _record(draft, planned, "call", why)
    draft.occasion("contact_by_call", detail=planned.key)
    chase.due_by_person(draft)


def _start_check_in(draft: Draft, planned: Planned) -> None:
    if draft.pair.open_check_in is not None:
        _expire(draft, draft.pair.open_check_in)
    _record(draft, planned, "texted", "")
    until = draft.now + planned.spec.open_for
    check_in = opened(draft.pair.id, planned.key, planned.occurrence, planned.questions, draft.now, until)
    draft.put_check_in(check_in)
    ask_next(draft, check_in, answering=False, told=False)


def _text(draft: Draft, planned: Planned) -> None:
    _record(draft, planned, "texted", "")
    priority = Priority.reminder if planned.kind is ContactKind.reminder else Priority.rest
    key = f"contact:{planned.key}:{planned.occurrence}"
    text = planned.spec.text or planned.key
    at = out_of_quiet(draft.now, draft.content.schedule, draft.pair.tz)
    draft.effects.append(Say(key, text, draft.values(), priority, at, planned.valid_until))


def _record(draft: Draft, planned: Planned, outcome: str, reason: str) -> None:
    edition = draft.content.schedule.edition
    done = Contact(planned.key, planned.occurrence, edition, planned.due_at, outcome, reason)
    draft.set(contacts=(*draft.pair.contacts, done))


# ---------------------------------------------------------------- silence


def _end_check_in(draft: Draft) -> None:
    check_in = draft.pair.open_check_in
    if check_in is not None and check_in.expires_at <= draft.now:
        _expire(draft, check_in)


def _expire(draft: Draft, check_in: CheckIn) -> None:
    """Its time is over: silence is judged, a missing answer goes to a person, undelivered is neither. Who
    could hardly be heard because we were deaf is not silent: she is listed to be caught up with."""
    if _was_deaf(draft, check_in):
        draft.put_check_in(ended(check_in, CheckInState.dropped))
        draft.effects.append(CatchUp(f"catch-up:{check_in.id}"))
        draft.note("check_in", check_in.state.value, CheckInState.dropped.value, "we were deaf")
        return
    over = ended(check_in, CheckInState.expired)
    draft.put_check_in(over)
    if is_unanswered(over):
        draft.raise_news(judge(draft, silence=True))
    elif is_undelivered(over):
        _undelivered_again(draft, over)
    else:
        missing = [q for q in over.questions if q.state is QuestionState.expired]
        if missing:
            detail = ", ".join(q.key for q in missing)
            left_unclear = any(q.asked_again_at is not None for q in missing)
            urgency = Urgency.same_day if left_unclear and must_know_today(draft) else None
            draft.occasion("answer_missing", detail=detail, urgency=urgency)


def _was_deaf(draft: Draft, check_in: CheckIn) -> bool:
    """Tell whether we were not at work for a third of the time that she had."""
    since, until = check_in.opened_at, check_in.expires_at
    lost = (min(ends, until) - max(begins, since) for begins, ends in draft.content.outages)
    return sum((each for each in lost if each > timedelta()), timedelta()) * 3 >= until - since


def _undelivered_again(draft: Draft, over: CheckIn) -> None:
    """One check-in that never arrived may be a flat battery; two in a row are for a person, today."""
    before = [c for c in draft.pair.check_ins if c.opened_at < over.opened_at]
    last = max(before, key=lambda c: c.opened_at, default=None)
    if last is not None and is_undelivered(last):
        draft.occasion("unreachable", detail="two check-ins in a row did not arrive")


# ---------------------------------------------------------------- the inbox


def lapse(draft: Draft) -> None:
    """A taken item is no hiding place: who has not spoken to her in time has it no longer."""
    item = draft.pair.open_escalation
    at = lapses_at(item) if item is not None else None
    if item is None or at is None or at > draft.now:
        return
    draft.put_escalation(released(item))
    draft.note("escalation", "taken", "waiting", "nobody spoke to her in time")
    if item.urgency is Urgency.go_now:
        draft.alert("lapsed")


# ---------------------------------------------------------------- the other states


def _held(draft: Draft, event: Woke) -> None:
    """Held is never a resting place: every morning a person is reminded to decide."""
    if draft.pair.look_at is None or draft.pair.look_at <= draft.now:
        draft.set(look_at=next_morning(draft))
        draft.occasion("decision_awaited")


def _away(draft: Draft, event: Woke) -> None:
    """Her own signs and expressing go on being asked; on the day set a person looks how things stand."""
    _end_check_in(draft)
    _contacts(draft, event)
    if draft.pair.look_at is None or draft.pair.look_at <= draft.now:
        draft.set(look_at=next_morning(draft))
        draft.occasion("back_from_away")


def _closed(draft: Draft, event: Woke) -> None:
    """Nothing to do: a closed pair has no timer."""


_ON_TIME: Mapping[EnrolmentState, Callable[[Draft, Woke], None]] = {
    EnrolmentState.following: _following,
    EnrolmentState.held: _held,
    EnrolmentState.away: _away,
    EnrolmentState.closed: _closed,
}


def _finish_if_over(draft: Draft) -> None:
    """The follow-up ends by itself only when nothing is open, nothing more is planned and she was heard."""
    pair = draft.pair
    waits = pair.open_check_in or pair.open_escalation or pair.open_chase or pair.expected_review
    if waits or draft.next_contact():
        return
    last = max(pair.check_ins, key=lambda c: c.opened_at, default=None)
    heard = last is not None and last.state is CheckInState.complete
    spoken = any(e.closed_at and (last is None or e.closed_at > last.opened_at) for e in pair.escalations)
    if heard or spoken:
        set_state(draft, EnrolmentState.closed, "the schedule ran to its end")
        draft.set(closed_reason="finished")
    else:
        draft.occasion("last_check_in_unheard")

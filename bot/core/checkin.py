"""One check-in: which question is open, what a reading settles, which question comes next.

Questions are asked one at a time and never twice in the same words; an unclear answer is asked once more in
simpler words and then goes to a person.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from uuid import UUID

from bot.core.ids import derived_id
from bot.core.pair import CheckIn, Pair, Question
from bot.core.states import CheckInState, MessageState, QuestionState, move

ASKED = frozenset({QuestionState.asked, QuestionState.asked_again})
SETTLED = frozenset({QuestionState.answered, QuestionState.to_person})
_TWO_DAYS = timedelta(days=2)  # no local day is so long
# A second number soon after the first is a correction of it ('sorry 7').
_CORRECTION = timedelta(minutes=30)
# So long a question has hardly been read: what takes something back is about the answer before it.
# Common practice, no source.
_HARDLY_READ = timedelta(minutes=2)
_NEVER_LEFT = frozenset(
    {MessageState.queued, MessageState.cancelled, MessageState.expired, MessageState.failed}
)
_NEVER_ARRIVED = _NEVER_LEFT | {MessageState.undelivered, MessageState.sending}


def opened(
    owner: UUID, contact: str, occurrence: int, keys: Sequence[str], now: datetime, until: datetime
) -> CheckIn:
    """A check-in with its questions waiting, in the order in which they will be asked."""
    check_in = derived_id(now, owner, "check_in", contact, occurrence)
    return CheckIn(
        id=check_in,
        contact_key=contact,
        occurrence=occurrence,
        opened_at=now,
        expires_at=until,
        state=CheckInState.open,
        questions=tuple(
            Question(derived_id(now, check_in, key), position, key, None, QuestionState.waiting)
            for position, key in enumerate(keys)
        ),
    )


def asked(check_in: CheckIn | None) -> Question | None:
    """The question whose answer is awaited, if any; there is at most one."""
    if check_in is None:
        return None
    return next((q for q in check_in.questions if q.state in ASKED), None)


def next_waiting(check_in: CheckIn) -> Question | None:
    return next((q for q in check_in.questions if q.state is QuestionState.waiting), None)


def question_at(pair: Pair, received_at: datetime) -> Question | None:
    """The question that a reply received then can answer: the one last sent before it, never a later one.

    With none open, a reply soon after an answer is taken as a correction of that answer.
    """
    current = asked(pair.open_check_in)
    if current is not None and _reached_her(current, received_at):
        return current
    return just_answered(pair, received_at)


def just_answered(pair: Pair, received_at: datetime) -> Question | None:
    """The question whose answer a reply received then may still correct, the last one answered."""
    lately = [
        answer
        for answer in pair.answers
        if received_at - answer.at <= _CORRECTION and answer.superseded_by is None and answer.by is None
    ]
    answered = [
        (answer.at, question)
        for answer in lately
        for question in _questions(pair)
        if question.id == answer.question
    ]
    return max(answered, key=lambda item: (item[0], item[1].position))[1] if answered else None


def amended(pair: Pair, question: Question | None, received_at: datetime) -> Question | None:
    """The question that 'sorry 7' is about: the one answered just before, if the open one has hardly reached
    her yet; else the open one."""
    before = just_answered(pair, received_at)
    if question is None or before is None or question.state not in ASKED:
        return question
    since = question.sent_at or question.asked_at
    return before if since is not None and received_at - since <= _HARDLY_READ else question


def _questions(pair: Pair) -> list[Question]:
    return [question for check_in in pair.check_ins for question in check_in.questions]


def _reached_her(question: Question, received_at: datetime) -> bool:
    """Tell whether she can have seen the question when the reply was received.

    Once it was asked again, the first asking did reach her. Gateways may cut times to seconds: so are ours.
    """
    since = question.asked_at
    if question.state is QuestionState.asked:
        since = None if question.delivery in _NEVER_LEFT else question.sent_at or since
    return since is not None and since.replace(microsecond=0) <= received_at


def with_question(check_in: CheckIn, question: Question) -> CheckIn:
    """The check-in with that question put in the place of the one with its id."""
    questions = tuple(question if q.id == question.id else q for q in check_in.questions)
    return replace(check_in, questions=questions)


def settled(question: Question, state: QuestionState) -> Question:
    return replace(question, state=move(question.state, state))


def asked_now(question: Question, now: datetime) -> Question:
    """The question as asked for the first time, or once more."""
    if question.state is QuestionState.waiting:
        return replace(question, state=QuestionState.asked, asked_at=now, sent_at=None, delivery=None)
    again = move(question.state, QuestionState.asked_again)
    return replace(question, state=again, asked_again_at=now, sent_at=None, delivery=None)


def ended(check_in: CheckIn, state: CheckInState) -> CheckIn:
    """End it: what was not settled goes the same way (expired or dropped)."""
    fate = QuestionState.expired if state is CheckInState.expired else QuestionState.dropped
    questions = tuple(q if q.state in SETTLED else settled(q, fate) for q in check_in.questions)
    return replace(check_in, state=move(check_in.state, state), questions=questions)


def is_unanswered(check_in: CheckIn) -> bool:
    """Tell whether it ended in silence: a text reached the phone, as far as known, and nothing came back."""
    sent = [q for q in check_in.questions if q.asked_at is not None]
    if check_in.state is not CheckInState.expired or not sent:
        return False
    if any(q.state in SETTLED for q in check_in.questions):
        return False
    return any(q.delivery not in _NEVER_ARRIVED for q in sent)


def is_undelivered(check_in: CheckIn) -> bool:
    """Tell whether it ended without any of its texts reaching the phone: not the same as silence."""
    sent = [q for q in check_in.questions if q.asked_at is not None]
    return check_in.state is CheckInState.expired and all(q.delivery in _NEVER_ARRIVED for q in sent)


def unanswered_in_a_row(pair: Pair) -> int:
    """Check-ins that ended in silence, counted back from the newest that ended; undelivered ones neither
    count nor break the row."""
    count = 0
    for check_in in sorted(pair.check_ins, key=lambda c: c.opened_at, reverse=True):
        if check_in.state in (CheckInState.open, CheckInState.dropped) or is_undelivered(check_in):
            continue
        if not is_unanswered(check_in):
            break
        count += 1
    return count


def asking_texts_on(pair: Pair, now: datetime) -> int:
    """How many texts with a question were made for her on the local day of `now`."""
    today = pair.local(now).date()
    times = [t for q in _questions(pair) for t in (q.asked_at, q.asked_again_at) if t is not None]
    return sum(abs(now - t) < _TWO_DAYS and pair.local(t).date() == today for t in times)

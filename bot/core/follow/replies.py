"""A reply was read: what she said is kept, danger is judged, endings and wishes are followed, and the
check-in goes on."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from uuid import UUID

from bot.core.checkin import SETTLED, asked, ended
from bot.core.follow import chase, episodes
from bot.core.follow.answers import find_question, keep_answer, question_named, settle
from bot.core.follow.asking import ask_next, not_understood
from bot.core.follow.draft import BEREAVED, Draft
from bot.core.follow.events import RangUs, ReplyFailed, ReplyRead
from bot.core.follow.judging import judge, raise_and_advise
from bot.core.follow.texting import hold, reopen, stop_texts, verify
from bot.core.ids import derived_id
from bot.core.outbox import Priority
from bot.core.pair import Answer
from bot.core.reader import RETRIABLE, Amount, Intent, Reason
from bot.core.states import CheckInState, EnrolmentState, Texting

# The ladder of rules whose finding waits until the question was asked once more.
ASK_FIRST = "open-answer"
# Questions that a named danger answers by itself.
OPEN_QUESTIONS = frozenset({"worry", "baby_danger", "mother_danger", "wound", "headache_or_sight"})
# What a person must see for another reason than the answer itself.
OCCASION_OF: Mapping[Reason, str] = {
    Reason.CALL_ME: "call_me",
    Reason.DANGER_UNSURE: "danger_unsure",
    Reason.OPT_OUT_UNSURE: "opt_out_unsure",
    Reason.OTHER_DAY: "other_day",
    Reason.OTHER_CONTENT: "reply_other",
}
# Of a text that holds a phone number these say no more than that.
_OF_NUMBER = frozenset({Reason.OTHER_CONTENT, Reason.UNCLEAR})
# Nothing to confirm to a number that gets no texts already.
_NO_TEXTS = frozenset({Texting.stopped, Texting.none})
TEXT_OF: Mapping[str, str] = {"call_me": "call-coming", "opt_out_unsure": "opt-out-ask"}


def reply_read(draft: Draft, event: ReplyRead) -> None:
    """Follow one reply of hers. Whatever else it says, a danger in it goes on."""
    if draft.pair.state is EnrolmentState.closed and not _reopened_by_danger(draft, event):
        return
    ending = _ENDINGS.get(event.reading.intent) if event.hers else None
    about_going = episodes.asked_of(draft.pair)
    if draft.pair.mother.texting is Texting.unverified and ending is None and event.hers:
        verify(draft, "she answered")
    if event.hers and event.sure and event.reading.intent is not Intent.WRONG_NUMBER:
        chase.heard(draft)
    _take_answers(draft, event)
    if ending is not None:
        ending(draft, event)  # first, so that what it withdraws is not the text that her danger asks for
    told = _judge(draft, event)
    if ending is not None or episodes.heard(draft, event, about_going):
        return
    if event.language and event.sure and not event.reading.danger_signs:
        change_language(draft, event.language, event.inbound)
        return
    told = _bring_to_person(draft, event) or told
    _go_on(draft, event, told)


def rang(draft: Draft, event: RangUs) -> None:
    """A missed call costs nothing: it means 'please call me'. She is told so, but not at every ring."""
    if draft.pair.state is EnrolmentState.closed:
        reopen(draft, "a call from the number of a closed pair")
    draft.occasion("missed_call" if event.hers else "other_number", inbound=event.inbound)
    if event.hers and draft.pair.can_text() and not draft.in_danger:
        draft.say(f"rang:{event.received_at:%Y-%m-%dT%H}", draft.without_baby("call-coming"), Priority.answer)


def reply_failed(draft: Draft, event: ReplyFailed) -> None:
    """What the program can't read, a person reads today."""
    if draft.pair.state is EnrolmentState.closed:
        reopen(draft, "a reply from the number of a closed pair could not be read")
    draft.occasion("reader_failed", inbound=event.inbound)


def _reopened_by_danger(draft: Draft, event: ReplyRead) -> bool:
    """Nobody follows this pair any more, but a danger from its number, or what may be one, is still heard."""
    danger = bool(event.reading.danger_signs)
    if not danger and Reason.DANGER_UNSURE not in event.reading.reasons:
        return False
    reopen(draft, "danger from the number of a closed pair")
    if danger:
        draft.occasion("closed_pair_danger", inbound=event.inbound)
    return True


def _take_answers(draft: Draft, event: ReplyRead) -> None:
    """Keep every answer and danger sign as a row, dated to the reply and not to the question."""
    told: dict[str, Amount | bool] = dict.fromkeys(event.reading.danger_signs, True)
    if event.sure:
        told |= {key: value for key, value in event.reading.answers.items() if _counts(draft, event, key)}
    for key, value in told.items():
        low, high = _bounds(value)
        question = question_named(draft.pair, key, event.question)
        keep_answer(
            draft,
            Answer(
                id=derived_id(draft.now, draft.pair.id, "answer", event.inbound, key),
                key=key,
                baby=None,
                low=low,
                high=high,
                at=event.received_at,
                question=question.id if question else None,
                inbound=event.inbound,
            ),
        )
    open_question = find_question(draft.pair, event.question)
    if event.reading.danger_signs and open_question and open_question.key in OPEN_QUESTIONS:
        settle(draft, open_question.id)


def _counts(draft: Draft, event: ReplyRead, key: str) -> bool:
    """A 'yes' to the open question says no more than the danger that is named with it."""
    is_covered = key in OPEN_QUESTIONS and bool(event.reading.danger_signs)
    return key in draft.content.questions and not is_covered


def _bounds(value: Amount | bool) -> tuple[float | None, float | None]:
    if isinstance(value, bool):
        return float(value), float(value)
    return value.low, value.high


def _judge(draft: Draft, event: ReplyRead) -> bool:
    """Triage what is known now, a partial check-in too. Gives whether she was told what to do."""
    question = find_question(draft.pair, event.question)
    first_asking = question is not None and question.asked_again_at is None
    told = frozenset(event.reading.danger_signs) | frozenset(event.reading.answers if event.sure else ())
    leave = ASK_FIRST if first_asking else ""
    news = judge(draft, told=told, inbound=event.inbound, leave=leave) if told else []
    bereaved = event.reading.intent is Intent.BEREAVED
    is_advised = raise_and_advise(draft, news, f"reply:{event.inbound}", of_baby=not bereaved)
    if event.reading.danger_signs and not news:
        # A sign that no rule knows is still a sign: a person reads it today.
        draft.occasion("reply_to_read", inbound=event.inbound)
    return is_advised


def _bring_to_person(draft: Draft, event: ReplyRead) -> bool:
    """Raise what the reading says a person must see. Gives whether she was told that somebody will look."""
    if not event.sure:
        key = "shared_phone_who" if event.hers else "other_number"
        draft.occasion(key, inbound=event.inbound)
        return False
    reasons = frozenset(event.reading.reasons) - {Reason.DANGER_SIGN}
    if event.reading.danger_signs or any(event.reading.answers.get(key) is True for key in OPEN_QUESTIONS):
        # The danger brought her words to a person.
        reasons &= OCCASION_OF.keys() - {Reason.OTHER_CONTENT, Reason.DANGER_UNSURE}
    question = find_question(draft.pair, event.question)
    if question is not None and question.state not in SETTLED:
        reasons -= RETRIABLE  # settled by asking once more, or given to a person, when the check-in goes on
    new_number: set[str] = set()
    if "phone_number" in event.reading.notes:
        reasons, new_number = (
            reasons - _OF_NUMBER,
            {"new_number"},
        )  # hers has changed, or she wants a call there
    keys = sorted({OCCASION_OF.get(reason, "reply_to_read") for reason in reasons} | new_number)
    if not event.reading.needs_person and draft.pair.mother.language in draft.content.unsigned:
        return _let_a_person_read(draft, event.inbound)
    for key in keys:
        draft.occasion(key, inbound=event.inbound)
    return _tell_who_reads(draft, event.inbound, keys)


def _let_a_person_read(draft: Draft, inbound: UUID) -> bool:
    """Nobody has approved the words of her language yet: what the program understood may be wrong, so a
    person reads it too. She gets the caution once a day."""
    draft.occasion("language_unsigned", inbound=inbound)
    if draft.pair.can_text() and not draft.in_danger:
        today = draft.pair.local(draft.now).date()
        draft.say(f"unsigned:{today}", draft.without_baby("person-reads"), Priority.answer)
    return False


def _tell_who_reads(draft: Draft, inbound: UUID, keys: list[str]) -> bool:
    if not keys or not draft.pair.can_text() or draft.in_danger:
        return False
    text = next((TEXT_OF[key] for key in keys if key in TEXT_OF), "person-reads")
    text = draft.without_baby(text)
    draft.say(f"reply:{inbound}:{text}", text, Priority.answer)
    return True


def _go_on(draft: Draft, event: ReplyRead, told: bool) -> None:
    """The next question, the same one in simpler words, or the end of the check-in."""
    check_in = draft.pair.open_check_in
    if check_in is None or not event.sure:
        return
    if draft.in_danger:
        # What to do comes before any question; people are on it now.
        draft.put_check_in(ended(check_in, CheckInState.dropped))
        return
    current = asked(check_in)
    if current is not None:
        if current.id != event.question or not _tried_to_answer(event):
            return  # thanks, or a word for a person: the question stays open
        check_in = not_understood(draft, check_in, current, event.inbound)
    ask_next(draft, check_in, answering=True, told=told)


def _tried_to_answer(event: ReplyRead) -> bool:
    reasons = frozenset(event.reading.reasons)
    return event.reading.intent is Intent.ANSWER or bool(reasons and reasons <= RETRIABLE)


def change_language(draft: Draft, language: str, inbound: UUID) -> None:
    """She asked for another language: from now on, and for the question that is open."""
    before = draft.pair.mother.language
    draft.set(mother=replace(draft.pair.mother, language=language))
    draft.note("language", before, language, "she asked for it")
    draft.occasion("language_changed", inbound=inbound, detail=language)
    if draft.pair.can_text():
        draft.say(f"reply:{inbound}:language-changed", "language-changed", Priority.answer)
    current = asked(draft.pair.open_check_in)
    if current is not None and draft.pair.open_check_in is not None:
        not_understood(draft, draft.pair.open_check_in, current, inbound)


# ---------------------------------------------------------------- endings


def _opt_out(draft: Draft, event: ReplyRead) -> None:
    """Texts stop, the follow-up does not: one confirmation, then silence, and people call."""
    if draft.pair.mother.texting in _NO_TEXTS:
        return
    stop_texts(draft, "she asked for no texts")
    draft.occasion("opted_out", inbound=event.inbound)
    text = draft.without_baby("opt-out-done")
    draft.say(f"reply:{event.inbound}:{text}", text, Priority.answer)


def _opt_in(draft: Draft, event: ReplyRead) -> None:
    """Texts begin again, unless the number is not hers or a person must decide first."""
    if draft.pair.mother.texting is Texting.none or draft.pair.state is EnrolmentState.held:
        draft.occasion("reply_to_read", inbound=event.inbound)
        return
    verify(draft, "she asked for texts")
    text = draft.without_baby("opt-in-done")
    draft.say(f"reply:{event.inbound}:{text}", text, Priority.answer)


def _wrong_number(draft: Draft, event: ReplyRead) -> None:
    """Sorry, said once; then nothing goes to this number until a person has found out."""
    known = draft.pair.state is EnrolmentState.held
    _hold_for_person(draft, event, "wrong_number")
    chase.enter(draft, "wrong_number")
    if not known:
        draft.say(f"reply:{event.inbound}:wrong-number-done", "wrong-number-done", Priority.answer)


def _bereaved(draft: Draft, event: ReplyRead) -> None:
    """Everything stops at once and nothing is said by the program: one person calls."""
    _hold_for_person(draft, event, BEREAVED)


def _hold_for_person(draft: Draft, event: ReplyRead, occasion: str) -> None:
    if draft.pair.state is not EnrolmentState.held:
        hold(draft, occasion)
    draft.occasion(occasion, inbound=event.inbound)


_ENDINGS: Mapping[Intent, Callable[[Draft, ReplyRead], None]] = {
    Intent.BEREAVED: _bereaved,
    Intent.WRONG_NUMBER: _wrong_number,
    Intent.OPT_OUT: _opt_out,
    Intent.OPT_IN: _opt_in,
}

"""Putting questions to her: the next one, the same one in simpler words, or none that the day allows."""

from __future__ import annotations

from uuid import UUID

from bot.core.checkin import asked, asked_now, asking_texts_on, ended, next_waiting, settled
from bot.core.follow.draft import Draft
from bot.core.follow.judging import at_risk
from bot.core.outbox import Priority
from bot.core.pair import CheckIn, Question
from bot.core.pair_facts import age_days
from bot.core.states import CheckInState, QuestionState

# With twins one number is asked, for the baby with the smaller one: it counts for both, so neither is missed.
COUNTED = frozenset({"feeds", "wet_nappies", "dirty_nappies"})


def ask(draft: Draft, check_in: CheckIn, question: Question, *, answering: bool) -> CheckIn:
    """Put one question to her, the first time or once more in simpler words."""
    words = "again" if question.state is QuestionState.asked else "ask"
    twins = "-twins" if len(draft.pair.living) > 1 and question.key in COUNTED else ""
    draft.ask(
        f"{words}:{question.id}",
        f"{words}-{question.key}{twins}",
        question.id,
        answering=answering,
        until=check_in.expires_at,
    )
    return draft.put_question(check_in, asked_now(question, draft.now))


def ask_next(draft: Draft, check_in: CheckIn, *, answering: bool, told: bool) -> None:
    """Ask what waits, within the day's limit; with nothing left the check-in is complete.

    `told`: she has just had a text about what she wrote, so that the end needs no other.
    """
    if asked(check_in) is not None:
        return
    question = next_waiting(check_in)
    if question is None:
        _complete(draft, check_in, told)
    elif may_ask(draft):
        ask(draft, check_in, question, answering=answering)
    else:
        draft.occasion("answer_missing", detail=question.key)
        rest = draft.put_question(check_in, settled(question, QuestionState.to_person))
        ask_next(draft, rest, answering=answering, told=told)


def may_ask(draft: Draft) -> bool:
    return asking_texts_on(draft.pair, draft.now) < draft.content.schedule.max_asking_a_day


def _complete(draft: Draft, check_in: CheckIn, told: bool) -> None:
    draft.put_check_in(ended(check_in, CheckInState.complete))
    if not told and draft.pair.can_text():
        text = "thanks-fine" if draft.pair.open_escalation is None else "thanks-person"
        draft.say(f"thanks:{check_in.id}", draft.without_baby(text), Priority.answer)


def not_understood(draft: Draft, check_in: CheckIn, question: Question, inbound: UUID) -> CheckIn:
    """No value in the reply: ask once more in simpler words; the second time a person takes it."""
    if question.state is QuestionState.asked and may_ask(draft):
        return ask(draft, check_in, question, answering=True)
    key = "reply_to_read" if must_know_today(draft) else "answer_missing"
    draft.occasion(key, inbound=inbound, detail=question.key)
    return draft.put_question(check_in, settled(question, QuestionState.to_person))


def must_know_today(draft: Draft) -> bool:
    """An answer that stays unclear is same_day on days 2 to 7 or for a pair at risk, else routine."""
    return any(2 <= age_days(draft.pair, b, draft.now) <= 7 or at_risk(draft, b) for b in draft.pair.living)

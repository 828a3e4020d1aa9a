"""Answers become rows: a new one supersedes the one it corrects, and settles its question."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from uuid import UUID

from bot.core.checkin import settled
from bot.core.follow.draft import Draft
from bot.core.pair import Answer, Pair, Question
from bot.core.states import CheckInState, QuestionState, may_move

# Within this time another value for the same thing corrects the first; later it is a newer answer.
CORRECTS_WITHIN = timedelta(hours=1)


def keep_answer(draft: Draft, answer: Answer) -> None:
    """Add an answer, supersede the one it corrects, settle the question it belongs to.

    'Less than 6' leaves open how bad it is: the question stays open until it was asked once more.
    """
    kept = tuple(
        replace(old, superseded_by=answer.id) if _corrects(answer, old) else old for old in draft.pair.answers
    )
    draft.set(answers=(*kept, answer))
    question = find_question(draft.pair, answer.question)
    if question is not None and not (
        question.state is QuestionState.asked and _may_hide_worse(draft, answer)
    ):
        settle(draft, question.id)


def _may_hide_worse(draft: Draft, answer: Answer) -> bool:
    fact = draft.content.rules.vocabulary.facts.get(answer.key)
    return fact is not None and any(
        (answer.low if axis.direction < 0 else answer.high) is None for axis in fact.axes if axis.ask_if_open
    )


def _corrects(new: Answer, old: Answer) -> bool:
    if old.superseded_by is not None or (old.key, old.baby) != (new.key, new.baby):
        return False
    same_question = new.question is not None and new.question == old.question
    return same_question or abs(new.at - old.at) < CORRECTS_WITHIN


def settle(draft: Draft, question_id: UUID) -> None:
    for check_in in reversed(draft.pair.check_ins):
        for question in check_in.questions:
            if question.id == question_id:
                if may_move(question.state, QuestionState.answered):
                    draft.put_question(check_in, settled(question, QuestionState.answered))
                return


def question_named(pair: Pair, key: str, asked: UUID | None) -> Question | None:
    """The question that an answer named `key` settles: the one asked, else one of the open check-in."""
    for check_in in reversed(pair.check_ins):
        for question in check_in.questions:
            if question.key == key and (check_in.state is CheckInState.open or question.id == asked):
                return question
    return None


def find_question(pair: Pair, question_id: UUID | None) -> Question | None:
    if question_id is None:
        return None
    newest_first = reversed(pair.check_ins)  # it is most often one of the open check-in
    return next((q for c in newest_first for q in c.questions if q.id == question_id), None)

"""Invented parts of a pair that wait or are open: a check-in, a question, an escalation."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

from bot.core.pair import CheckIn, Escalation, Finding, Question
from bot.core.states import CheckInState, EscalationState, QuestionState, Urgency
from tests.support.pairs import DISCHARGED, an_id


def a_question(name: str = "question", **changes: Any) -> Question:
    """A question about feeds that was asked; `changes` are fields of `Question`."""
    question = Question(
        id=an_id("question", name),
        position=1,
        key="feeds",
        baby=None,
        state=QuestionState.asked,
        asked_at=DISCHARGED,
    )
    return replace(question, **changes)


def a_check_in(name: str = "check-in", **changes: Any) -> CheckIn:
    """An open check-in without questions; `changes` are fields of `CheckIn`."""
    check_in = CheckIn(
        id=an_id("check-in", name),
        contact_key=name,
        occurrence=1,
        opened_at=DISCHARGED,
        expires_at=DISCHARGED + timedelta(hours=12),
        state=CheckInState.open,
        questions=(),
    )
    return replace(check_in, **changes)


def an_escalation(name: str = "escalation", *, detail: str = "", **changes: Any) -> Escalation:
    """A waiting escalation with one finding; `changes` are fields of `Escalation`."""
    finding = Finding("feeds-few", None, Urgency.same_day, DISCHARGED, DISCHARGED, detail=detail)
    escalation = Escalation(
        id=an_id("escalation", name),
        urgency=Urgency.same_day,
        raised_at=DISCHARGED,
        due_at=DISCHARGED + timedelta(hours=4),
        state=EscalationState.waiting,
        findings=(finding,),
    )
    return replace(escalation, **changes)

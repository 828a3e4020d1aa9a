"""What a signed-in person does to a pair, each act checked against the states and noted with who did it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any
from uuid import UUID

from bot.core import escalation as inbox
from bot.core.checkin import asked
from bot.core.errors import Conflict, Invalid, Problem
from bot.core.follow import chase, episodes, moving
from bot.core.follow import events as act
from bot.core.follow.answers import keep_answer, question_named
from bot.core.follow.asking import ask_next
from bot.core.follow.draft import ANSWER_EXPIRES, Draft
from bot.core.follow.enrolled import PRACTICE_EXPIRES
from bot.core.follow.events import Say, StaffActed
from bot.core.follow.judging import judge
from bot.core.follow.reviews import book_after_home, book_on, cancel_review
from bot.core.follow.texting import (
    drop_check_in,
    hold,
    morning_of,
    reopen,
    set_state,
    stop_texts,
    verify,
)
from bot.core.ids import derived_id
from bot.core.outbox import Priority
from bot.core.pair import Answer
from bot.core.states import BabyState, EnrolmentState, MotherState, Texting, Urgency, move


def staff_acted(draft: Draft, event: StaffActed) -> None:
    """Do what the person asked. Raises Conflict or Invalid with plain words where it can't be done."""
    if draft.pair.state is EnrolmentState.closed and not isinstance(event.action, _AFTER_THE_END):
        raise Conflict("This follow-up has ended. Follow the pair again first.")
    _acts[type(event.action)](draft, event.action, event.by)


# ---------------------------------------------------------------- the inbox


def _take(draft: Draft, action: act.Take, by: UUID) -> None:
    draft.put_escalation(inbox.taken(draft.must_escalation(), by, draft.now))
    draft.note("escalation", "waiting", "taken", by=by)
    draft.heeded("taken")


def _release(draft: Draft, action: act.Release, by: UUID) -> None:
    draft.put_escalation(inbox.released(draft.must_escalation()))
    draft.note("escalation", "taken", "waiting", by=by)


def _hand_over(draft: Draft, action: act.HandOver, by: UUID) -> None:
    """A colleague is asked; until they accept it stays with who has it."""
    item = draft.must_escalation()
    if item.taken_by != by:
        raise Conflict("Only who has taken this can hand it over.")
    draft.put_escalation(replace(item, offered_to=action.to))
    draft.note("escalation", "taken", "offered", f"to {action.to}", by)


def _accept_hand_over(draft: Draft, action: act.AcceptHandOver, by: UUID) -> None:
    item = draft.must_escalation()
    if item.offered_to != by:
        raise Conflict("This was not offered to you, or not any more.")
    draft.put_escalation(inbox.taken(inbox.released(item), by, draft.now))
    draft.note("escalation", "offered", "taken", by=by)
    draft.heeded("taken")


def _put_off(draft: Draft, action: act.PutOff, by: UUID) -> None:
    why = _needs(action.why, "why", "Say why this waits.")
    draft.put_escalation(inbox.put_off(draft.must_escalation(), action.until, draft.now))
    draft.note("escalation", after="put off", why=why, by=by)


def _spoke(draft: Draft, action: act.Spoke, by: UUID) -> None:
    draft.must_escalation()
    chase.spoken(draft, by)
    draft.note("escalation", after="spoken", by=by)


def _going(draft: Draft, action: act.Going, by: UUID) -> None:
    episodes.going(draft, action.state, action.why, by)


def _withdraw(draft: Draft, action: act.WithdrawFinding, by: UUID) -> None:
    _needs(action.why, "why", "Say why this finding is wrong.")
    item = draft.must_escalation()
    findings = tuple(
        replace(f, withdrawn_by=by) if (f.rule, f.baby) == (action.rule, action.baby) else f
        for f in item.findings
    )
    if findings == item.findings:
        raise Conflict("This finding is not part of the item any more.")
    draft.put_escalation(replace(item, findings=findings))
    draft.note("finding", action.rule, "withdrawn", action.why, by)


def _set_urgency(draft: Draft, action: act.SetUrgency, by: UUID) -> None:
    _needs(action.why, "why", "Say why the urgency changes.")
    item = draft.must_escalation()
    draft.put_escalation(inbox.with_urgency(item, action.urgency, draft.content.due))
    draft.note("escalation", item.urgency.name, action.urgency.name, action.why, by)
    if action.urgency is Urgency.go_now:
        draft.begin_episode()
    else:
        episodes.end(draft, "stood_down", by)


def _close(draft: Draft, action: act.Close, by: UUID) -> None:
    if draft.pair.state is EnrolmentState.held:
        raise Conflict("Decide first what happens to this pair: follow again, or end the follow-up.")
    item, note = draft.must_escalation(), action.note.strip()
    if item.spoken_at is None and not note:
        raise Invalid([Problem("note", "Nobody has spoken to her. Say why this is closed all the same.")])
    episodes.end(draft, action.outcome, by)
    draft.heeded("closed")
    draft.put_escalation(inbox.closed(item, action.found, draft.now, note or None))
    draft.note("escalation", item.state.value, "closed", action.found, by)


# ---------------------------------------------------------------- what she said and what she is told


def _enter_answers(draft: Draft, action: act.EnterAnswers, by: UUID) -> None:
    """What she said on the phone goes through the same triage as a text; it counts as spoken to her."""
    told = dict(action.answers) | dict.fromkeys(action.signs, (1.0, 1.0))
    if not told:
        raise Invalid([Problem("answers", "Enter at least one thing that she said.")])
    for key, (low, high) in sorted(told.items()):
        question = question_named(draft.pair, key, None) if action.baby is None else None
        made = derived_id(draft.now, draft.pair.id, "entered", by, key, action.baby)
        keep_answer(
            draft,
            Answer(made, key, action.baby, low, high, draft.now, question.id if question else None, by=by),
        )
    draft.note("answers", after=", ".join(sorted(told)), by=by)
    news = judge(draft, told=frozenset(told))
    if news and draft.pair.state is EnrolmentState.closed:
        reopen(draft, "something was found after the end", by)
    draft.raise_news(news)
    chase.spoken(draft, by)
    _after_the_call(draft)


def _after_the_call(draft: Draft) -> None:
    """What she said on the phone is not asked by text any more; what is still missing is."""
    check_in = draft.pair.open_check_in
    if check_in is None or (asked(check_in) is not None and not draft.in_danger):
        return
    draft.cancel("questions", "answered on the phone")
    if draft.in_danger:
        drop_check_in(draft)
    else:
        ask_next(draft, check_in, answering=False, told=True)


def _write(draft: Draft, action: act.Write, by: UUID) -> None:
    _needs(action.text, "text", "Write something to send.")
    if not draft.pair.can_text():
        raise Conflict("This number gets no texts now. Call instead.")
    draft.effects.append(
        Say(
            f"write:{action.key}",
            "own-words",
            {},
            Priority.answer,
            draft.now,
            draft.now + ANSWER_EXPIRES,
            action.text.strip(),
        )
    )
    draft.note("text", after="written", by=by)


def _confirm_phone(draft: Draft, action: act.ConfirmPhone, by: UUID) -> None:
    if draft.pair.mother.texting is Texting.stopped:
        raise Conflict("This number gets no texts, as she wished. She can start them by texting START.")
    verify(draft, "staff confirmed the number", by)


def _send_practice(draft: Draft, action: act.SendPractice, by: UUID) -> None:
    if draft.pair.mother.texting is not Texting.unverified:
        raise Conflict("This number is not waiting for an answer. Look at the page again.")
    _practice(draft, action.key)
    draft.note("text", after="practice", by=by)


def _change_phone(draft: Draft, action: act.ChangePhone, by: UUID) -> None:
    """Nothing that was meant for the old number goes out any more; the new one must answer first."""
    mother = draft.pair.mother
    if mother.state is MotherState.died:
        raise Conflict("The mother died; texts speak to her. Follow the baby by call or visit.")
    texting = move(mother.texting, Texting.unverified)
    draft.cancel("all", "number changed")
    drop_check_in(draft)
    draft.set(mother=replace(mother, phone=action.phone, phone_shared=action.shared, texting=texting))
    draft.note("texting", mother.texting.value, texting.value, "number changed", by)
    _practice(draft, f"changed:{draft.now.isoformat()}")


def _practice(draft: Draft, key: str) -> None:
    until = draft.now + PRACTICE_EXPIRES
    draft.effects.append(
        Say(f"practice:{key}", "practice", draft.values(), Priority.answer, draft.now, until)
    )


def _stop_texts(draft: Draft, action: act.StopTexts, by: UUID) -> None:
    stop_texts(draft, _needs(action.why, "why", "Say why texts stop."), by=by)


# ---------------------------------------------------------------- review and endings


def _move_review(draft: Draft, action: act.MoveReview, by: UUID) -> None:
    today = draft.pair.local(draft.now).date()
    if action.on_day < today:
        raise Invalid([Problem("on_day", "This day is over. Choose today or later.")])
    if not draft.pair.site.is_open(action.on_day):
        raise Invalid([Problem("on_day", f"{draft.pair.site.name} is closed that day.")])
    standing = draft.pair.expected_review
    book_on(draft, action.on_day, action.at, standing.kind if standing else "follow_up")
    draft.note("review", after=action.on_day.isoformat(), by=by)
    if draft.pair.can_text():
        draft.say(f"review:{draft.pair.reviews[-1].id}:moved", "review-moved", Priority.reminder)


def _hold(draft: Draft, action: act.Hold, by: UUID) -> None:
    hold(draft, _needs(action.why, "why", "Say why everything stops."), by)


def _away(draft: Draft, action: act.Away, by: UUID) -> None:
    why = _needs(action.why, "why", "Say where they are.")
    if action.until <= draft.pair.local(draft.now).date():
        raise Invalid([Problem("until", "Choose a day after today on which somebody looks again.")])
    drop_check_in(draft)
    draft.cancel("all", "away")
    cancel_review(draft)
    set_state(draft, EnrolmentState.away, why, morning_of(draft, action.until), by)
    draft.set(home_at=None)


def _resume(draft: Draft, action: act.Resume, by: UUID) -> None:
    if not draft.pair.living:
        raise Conflict("No baby of this pair lives; nothing would be asked. End the follow-up instead.")
    came_home = draft.pair.state is EnrolmentState.away or draft.pair.closed_reason == "admitted"
    set_state(draft, EnrolmentState.following, "followed again", None, by)
    draft.set(closed_reason=None)
    if came_home:
        drop_check_in(draft)  # it asked after a mother without her baby
        draft.set(home_at=draft.now)
        book_after_home(draft)
    if not action.texting:
        stop_texts(draft, "wrong number", Texting.none, by)


def _record_death(draft: Draft, action: act.RecordDeath, by: UUID) -> None:
    babies = tuple(
        replace(b, state=move(b.state, BabyState.died)) if b.ordinal == action.baby else b
        for b in draft.pair.babies
    )
    if babies == draft.pair.babies:
        raise Conflict("This death is recorded already.")
    draft.set(babies=babies)
    draft.note("baby", "living", "died", by=by)
    draft.adverse("baby_died", action.baby)
    if not draft.pair.living:
        _finish(draft, act.Finish("baby_died"), by)
    elif draft.pair.state is not EnrolmentState.held:
        hold(draft, "a death was recorded", by)  # one twin lost: a person decides before any further text


def _record_mother_death(draft: Draft, action: act.RecordMotherDeath, by: UUID) -> None:
    """Nothing is written to her number any more, whoever has the phone; the baby is followed by people."""
    mother = draft.pair.mother
    if mother.state is MotherState.died:
        raise Conflict("This death is recorded already.")
    stop_texts(draft, "the mother died", Texting.none, by)
    died = move(mother.state, MotherState.died)
    draft.set(mother=replace(draft.pair.mother, state=died), follow_up_by="call")
    draft.note("mother", "living", "died", by=by)
    draft.adverse("mother_died")
    draft.occasion("mother_died")


def _set_language(draft: Draft, action: act.SetLanguage, by: UUID) -> None:
    before = draft.pair.mother
    after = replace(before, language=action.language, latin=action.latin)
    draft.set(mother=after)
    draft.note("language", before.reads, after.reads, by=by)


def _finish(draft: Draft, action: act.Finish, by: UUID) -> None:
    """A person ends the follow-up: everything open is closed with that reason."""
    if action.reason not in act.CLOSED_REASONS:
        raise Invalid([Problem("reason", "Choose why the follow-up ends.")])
    drop_check_in(draft)
    draft.cancel("all", "closed")
    if action.reason in act.ADVERSE:
        draft.adverse(action.reason)
    cancel_review(draft)
    item = draft.pair.open_escalation
    if draft.pair.open_episode is not None:
        if action.reason not in _OUTCOME_OF:
            raise Conflict("A danger is open. Say first how it ended.")
        episodes.end(draft, _OUTCOME_OF[action.reason], by)
    if item is not None:
        draft.heeded("closed")
        draft.put_escalation(inbox.closed(item, action.reason, draft.now))
    set_state(draft, EnrolmentState.closed, action.reason, None, by)
    draft.set(closed_reason=action.reason)


def _needs(text: str, where: str, ask: str) -> str:
    if not text.strip():
        raise Invalid([Problem(where, ask)])
    return text.strip()


# How a danger ended, where the end of the follow-up tells.
_OUTCOME_OF: Mapping[str, str] = {"admitted": "admitted", "baby_died": "died", "mother_died": "died"}

# What may still be done to a pair whose follow-up has ended: its open item, and following it again.
_AFTER_THE_END = (
    act.Take | act.Release | act.HandOver | act.AcceptHandOver | act.PutOff | act.Going | act.Spoke
    | act.WithdrawFinding | act.SetUrgency | act.Close
    | act.SheRang | act.CheckedWho | act.EnterAnswers | act.Resume
)  # fmt: skip

_acts: Mapping[type, Callable[[Draft, Any, UUID], None]] = {
    act.Take: _take,
    act.Release: _release,
    act.HandOver: _hand_over,
    act.AcceptHandOver: _accept_hand_over,
    act.PutOff: _put_off,
    act.Going: _going,
    act.Spoke: _spoke,
    act.EnterAnswers: _enter_answers,
    act.WithdrawFinding: _withdraw,
    act.SetUrgency: _set_urgency,
    act.Close: _close,
    act.MoveReview: _move_review,
    act.Write: _write,
    act.ConfirmPhone: _confirm_phone,
    act.SendPractice: _send_practice,
    act.ChangePhone: _change_phone,
    act.StopTexts: _stop_texts,
    act.Hold: _hold,
    act.Away: _away,
    act.Resume: _resume,
    act.RecordDeath: _record_death,
    act.RecordMotherDeath: _record_mother_death,
    act.OfferMove: moving.offer,
    act.WithdrawMove: moving.withdraw,
    act.AcceptMove: moving.accept,
    act.SetLanguage: _set_language,
    act.Finish: _finish,
    **chase.ACTS,
}

"""What follows from the transition is stored once, in order, with nothing personal in the audit."""

import json
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from typing import Any

from sqlalchemy import select, update

from bot.core.follow.events import Ask, Book, Cancel, Effect, Judged, Note, Raise, Say
from bot.core.outbox import Priority
from bot.core.pair import Pair
from bot.core.states import MessageState, Texting, Urgency
from bot.core.triage import Finding, NearMiss, Verdict
from bot.store import tables as t
from bot.store.effects import plain, write_effects
from bot.store.engine import Store
from bot.store.pairs import load_pairs
from bot.store.saving import save_pairs
from tests.support.any_pair import refer
from tests.support.pairs import DISCHARGED, a_mother, a_pair, a_review, an_id
from tests.support.parts import a_check_in, a_question

LATER = DISCHARGED + timedelta(hours=1)
QUESTION = a_question()


def say(once_key: str, text_key: str = "welcome", priority: Priority = Priority.rest, **changes: Any) -> Say:
    text = Say(once_key, text_key, {"mother": "Amina"}, priority, DISCHARGED, LATER)
    return replace(text, **changes)


def ask(once_key: str) -> Ask:
    return Ask(once_key, "ask-feeds", {}, Priority.rest, DISCHARGED, LATER, QUESTION.id)


def a_stored_pair(store: Store, **changes: Any) -> Pair:
    pair = a_pair(check_ins=(a_check_in(questions=(QUESTION,)),), **changes)
    with store.write() as conn:
        refer(conn)
        save_pairs(conn, [(None, pair)], DISCHARGED)
    return pair


def wrote(store: Store, pair: Pair, *effects: Effect, hours: int = 0) -> None:
    with store.write() as conn:
        write_effects(conn, [(pair, effects)], DISCHARGED + timedelta(hours=hours))


def texts(store: Store) -> Sequence[Any]:
    with store.read() as conn:
        return conn.execute(select(t.message).order_by(t.message.c.once_key)).all()


def states(store: Store) -> dict[str, MessageState]:
    return {row.once_key: row.state for row in texts(store)}


def test_a_text_is_queued_sealed_in_her_language(store: Store) -> None:
    pair = a_stored_pair(store)
    wrote(store, pair, say("contact:welcome:1", priority=Priority.answer))
    (row,) = texts(store)
    assert (row.state, row.priority, row.language, row.text) == (MessageState.queued, 1, "en", None)
    assert row.phone_key == store.sealer.phone_key("+447700900123")
    assert store.sealer.open(row.to, row.id, "message.to") == "+447700900123"
    assert json.loads(store.sealer.open(row.text_values, row.id, "message.text_values")) == {
        "mother": "Amina"
    }


def test_a_counsellors_own_words_are_stored_sealed(store: Store) -> None:
    pair = a_stored_pair(store)
    wrote(store, pair, say("write:1", "own", text="I will call you at four."))
    (row,) = texts(store)
    assert store.sealer.open(row.text, row.id, "message.text") == "I will call you at four."


def test_the_same_occasion_makes_one_text_only(store: Store) -> None:
    pair = a_stored_pair(store)
    wrote(store, pair, say("contact:welcome:1"), say("contact:welcome:1"))
    wrote(store, pair, say("contact:welcome:1"), hours=2)
    assert [row.created_at for row in texts(store)] == [DISCHARGED]


def test_a_question_knows_the_text_that_carries_it(store: Store) -> None:
    pair = a_stored_pair(store)
    wrote(store, pair, ask("ask:1"))
    with store.write() as conn:
        conn.execute(update(t.message).values(state="delivered", sent_at=LATER))
        (question,) = load_pairs(conn, [pair.id], lock=True)[0].check_ins[0].questions
    assert (question.sent_at, question.delivery) == (LATER, MessageState.delivered)


def test_a_question_that_was_asked_again_is_carried_by_the_newer_text(store: Store) -> None:
    pair = a_stored_pair(store)
    wrote(store, pair, ask("ask:1"))
    wrote(store, pair, ask("again:1"), hours=3)
    with store.read() as conn:
        carrying = conn.scalar(select(t.question.c.message))
    assert carrying == next(row.id for row in texts(store) if row.once_key == "again:1")


def test_texts_of_one_event_go_out_in_order_but_none_waits_for_a_less_urgent_one(store: Store) -> None:
    pair = a_stored_pair(store)
    wrote(store, pair, say("a"), say("b"), say("c", priority=Priority.go_now))
    first, second, urgent = texts(store)
    assert (first.after_id, second.after_id, urgent.after_id) == (None, first.id, None)


def test_cancelling_all_leaves_what_is_said_afterwards(store: Store) -> None:
    pair = a_stored_pair(store)
    wrote(store, pair, say("old"))
    wrote(store, pair, say("before"), Cancel("cancel:1", "all"), say("after"), hours=1)
    assert states(store) == {"old": MessageState.cancelled, "after": MessageState.queued}


def test_cancelling_questions_or_reviews_leaves_the_other_texts(store: Store) -> None:
    pair = a_stored_pair(store)
    wrote(store, pair, say("advice", "advice-routine"), ask("ask"), say("evening", "review-evening"))
    wrote(store, pair, Cancel("cancel:1", "questions"), hours=1)
    kept = states(store)
    assert kept["ask"] is MessageState.cancelled
    assert kept["evening"] is kept["advice"] is MessageState.queued
    wrote(store, pair, Cancel("cancel:2", "review"), hours=1)
    assert states(store)["evening"] is MessageState.cancelled
    assert states(store)["advice"] is MessageState.queued


def test_a_text_on_its_way_is_not_cancelled(store: Store) -> None:
    pair = a_stored_pair(store)
    wrote(store, pair, say("sent"))
    with store.write() as conn:
        conn.execute(update(t.message).values(state="accepted"))
    wrote(store, pair, Cancel("cancel:1", "all"), hours=1)
    assert states(store) == {"sent": MessageState.accepted}


def test_cancelling_touches_no_other_pair(store: Store) -> None:
    pair = a_stored_pair(store)
    other = replace(
        a_pair(id=an_id("other pair"), external_id="other"),
        mother=a_mother(id=an_id("other mother"), phone="+447700900124"),
        babies=(replace(pair.babies[0], id=an_id("other baby")),),
        assessments=(),
    )
    with store.write() as conn:
        save_pairs(conn, [(None, other)], DISCHARGED)
        write_effects(conn, [(pair, [say("mine")]), (other, [say("hers")])], DISCHARGED)
        write_effects(conn, [(pair, [Cancel("cancel:1", "all")]), (other, [])], LATER)
    assert states(store) == {"mine": MessageState.cancelled, "hers": MessageState.queued}


def test_what_cannot_be_said_for_want_of_a_number_stands_in_the_audit(store: Store) -> None:
    pair = a_stored_pair(store, mother=a_mother(phone=None, texting=Texting.none))
    wrote(store, pair, say("contact:welcome:1"))
    assert texts(store) == []
    with store.read() as conn:
        assert conn.execute(select(t.event_log.c.what, t.event_log.c.why)).one() == ("text", "no_number")


def test_each_change_is_a_line_of_the_audit(store: Store) -> None:
    pair = a_stored_pair(store)
    review = a_review(DISCHARGED.date())
    escalation, person = an_id("escalation"), an_id("staff", 1)
    wrote(
        store,
        pair,
        Note("n", "texting", "unverified", "on", "practice", person),
        Raise("r", escalation, Urgency.go_now, LATER, ("not-feeding",)),
        Book("b", review),
    )
    e = t.event_log.c
    with store.read() as conn:
        lines = conn.execute(select(e.actor, e.what, e.from_state, e.to_state, e.why, e.subject)).all()
    assert lines == [
        (str(person), "texting", "unverified", "on", "practice", pair.id),
        ("program", "raised", "", "go_now", "not-feeding", pair.id),
        ("program", "booked", "", review.on_day.isoformat(), "first", pair.id),
    ]


def test_a_value_of_the_core_becomes_plain_data() -> None:
    value = {
        "urgency": Urgency.go_now,
        "state": MessageState.queued,
        "signs": {"b", "a"},
        "n": (1, 2.5),
    }
    assert plain(value) == {"urgency": "go_now", "state": "queued", "signs": ["a", "b"], "n": [1, 2.5]}
    assert plain(True) is True
    assert plain(a_question(key="pain"))["key"] == "pain"


def test_a_triage_run_is_kept_whole(store: Store) -> None:
    pair = a_stored_pair(store)
    fired = Finding("feeds-few", Urgency.same_day, "too few", "a guideline", "baby", "advice-same-day", "ask")
    verdict = Verdict(
        Urgency.same_day, (fired,), (NearMiss("wet-few", Urgency.routine, "nearly", "wet_nappies"),)
    )
    facts = {"age_days": 3, "answers": {"feeds": 5}}
    wrote(store, pair, Judged("judged:1", 1, facts, verdict))
    with store.read() as conn:
        run = conn.execute(select(t.triage_run)).one()
    assert (run.baby, run.at, run.urgency, run.rules_edition) == (1, DISCHARGED, Urgency.same_day, 0)
    assert run.facts == facts
    assert [(each["rule"], each["urgency"]) for each in run.fired] == [("feeds-few", "same_day")]
    assert [each["axis"] for each in run.just_inside] == ["wet_nappies"]

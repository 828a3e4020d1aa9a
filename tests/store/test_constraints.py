"""The promises that the database itself keeps: each test tries to break one."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import Connection, delete, insert, select, update
from sqlalchemy.exc import DBAPIError, IntegrityError

from bot.core.pair import Pair
from bot.core.states import InboundState, MessageState, ReviewState, Texting
from bot.store import rows
from bot.store import tables as t
from bot.store.engine import Store
from bot.store.saving import save_pairs
from tests.support.any_pair import refer
from tests.support.pairs import DISCHARGED, a_mother, a_pair, a_review, an_id
from tests.support.parts import a_check_in, a_question, an_escalation

CLOSED = {"state": "closed", "wake_at": None, "closed_reason": "finished"}


def whole() -> Pair:
    return a_pair(
        check_ins=(a_check_in("one", questions=(a_question("one"),)),),
        escalations=(an_escalation("one"),),
        reviews=(a_review(DISCHARGED.date()),),
    )


def refused(store: Store, change: Callable[[Connection], Any]) -> str:
    """Give the words in which the database refuses `change`; the pair stands before it."""
    with store.write() as conn:
        refer(conn)
        save_pairs(conn, [(None, whole())], DISCHARGED)
    with pytest.raises(IntegrityError) as caught, store.write() as conn:
        change(conn)
    return str(caught.value.orig)


def changed(table: Any, **values: Any) -> Callable[[Connection], Any]:
    return lambda conn: conn.execute(update(table).values(**values))


def doubled(table: Any, **values: Any) -> Callable[[Connection], Any]:
    """Insert the table's row once more, under another id."""

    def change(conn: Connection) -> None:
        row = conn.execute(select(table)).mappings().first()
        assert row is not None
        conn.execute(insert(table), dict(row) | {"id": an_id("another")} | values)

    return change


@pytest.mark.parametrize(
    ("change", "constraint"),
    [
        pytest.param(changed(t.enrolment, wake_at=None), "ck_enrolment_wakes_until_closed", id="lost pair"),
        pytest.param(
            changed(t.enrolment, state="closed", wake_at=None),
            "ck_enrolment_closed_has_reason",
            id="mute close",
        ),
        pytest.param(
            changed(t.enrolment, state="closed", closed_reason="finished"),
            "ck_enrolment_wakes_until_closed",
            id="closed with a timer",
        ),
        pytest.param(changed(t.enrolment, preferred_hour=24), "ck_enrolment_preferred_hour", id="hour 24"),
        pytest.param(
            changed(t.mother, phone=None, phone_key=None), "ck_mother_texted_has_phone", id="no phone"
        ),
        pytest.param(changed(t.mother, phone_key=None), "ck_mother_phone_has_key", id="unfindable phone"),
        pytest.param(
            changed(t.escalation, state="closed", disposition="well"),
            "ck_escalation_closed_has_time",
            id="no time",
        ),
        pytest.param(
            changed(t.escalation, state="closed", closed_at=DISCHARGED),
            "ck_escalation_closed_has_disposition",
            id="closed without a decision",
        ),
        pytest.param(
            changed(t.escalation, state="taken"), "ck_escalation_taken_by_somebody", id="taken by nobody"
        ),
        pytest.param(changed(t.escalation, site=None), "ck_escalation_pair_has_site", id="seen by nobody"),
        pytest.param(changed(t.question, baby=9), "fk_question_enrolment_baby", id="no such baby"),
    ],
)
def test_a_row_that_breaks_a_promise_is_refused(store: Store, change: Any, constraint: str) -> None:
    words = refused(store, change)
    assert constraint in words or "FOREIGN KEY constraint failed" in words


@pytest.mark.parametrize(
    ("change", "index", "columns"),
    [
        pytest.param(
            doubled(t.enrolment, **CLOSED),
            "uq_enrolment_site_external_id",
            "external_id",
            id="twice",
        ),
        pytest.param(
            doubled(t.enrolment, external_id="other"),
            "uq_enrolment_open_mother",
            "mother",
            id="two enrolments",
        ),
        pytest.param(doubled(t.escalation), "uq_escalation_open", "enrolment", id="two open escalations"),
        pytest.param(doubled(t.check_in), "uq_check_in_open", "enrolment", id="two open check-ins"),
        pytest.param(doubled(t.question), "uq_question_asked", "phone_key", id="two questions on a phone"),
        pytest.param(doubled(t.review), "uq_review_expected", "enrolment", id="two expected reviews"),
    ],
)
def test_what_may_stand_once_only_is_refused_twice(
    store: Store, change: Any, index: str, columns: str
) -> None:
    words = refused(store, change)
    assert index in words or ("UNIQUE constraint failed" in words and columns in words)


def a_row(store: Store, table: Any, **row: Any) -> dict[str, Any]:
    return rows.sealed(store.sealer, table, row)


def a_message(store: Store, name: str, **changes: Any) -> dict[str, Any]:
    row = {
        "id": an_id(name), "enrolment": an_id("pair"), "phone_key": b"k", "to": "+447700900123",
        "text_key": "welcome", "text_values": "{}", "language": "en", "priority": 3, "created_at": DISCHARGED,
        "send_after": DISCHARGED, "expires_at": DISCHARGED + timedelta(1), "once_key": "contact:welcome:1",
        "state": MessageState.queued, "attempts": 0,
    }  # fmt: skip
    return a_row(store, t.message, **(row | changes))


def test_a_text_that_is_made_once_is_not_stored_twice(store: Store) -> None:
    both = [a_message(store, "a"), a_message(store, "b")]
    assert "once_key" in refused(store, lambda conn: conn.execute(insert(t.message), both))


def test_a_text_is_being_sent_only_under_a_claim(store: Store) -> None:
    loose = a_message(store, "a", state=MessageState.sending)
    words = refused(store, lambda conn: conn.execute(insert(t.message), loose))
    assert "ck_message_sending_is_claimed" in words


def test_a_reply_that_comes_twice_from_a_gateway_is_stored_once(store: Store) -> None:
    row = {
        "gateway": "json", "external_key": "m1", "raw": "{}", "kind": "reply", "received_at": DISCHARGED,
        "stored_at": DISCHARGED, "state": InboundState.stored,
    }  # fmt: skip
    both = [a_row(store, t.inbound, id=an_id(name), **row) for name in "ab"]
    assert "external_key" in refused(store, lambda conn: conn.execute(insert(t.inbound), both))


def test_a_state_that_nobody_named_is_refused(store: Store) -> None:
    def by_hand(conn: Connection) -> None:
        conn.exec_driver_sql("UPDATE enrolment SET state = 'forgotten'")

    assert "ck_enrolment_state_known" in refused(store, by_hand)


@pytest.mark.parametrize("change", [update(t.event_log).values(why="x"), delete(t.event_log)])
def test_a_line_of_the_audit_is_never_changed_or_deleted(store: Store, change: Any) -> None:
    row = {
        "at": DISCHARGED, "actor": "program", "subject": an_id("pair"), "what": "enrolment", "from_state": "",
        "to_state": "following", "why": "", "data": {},
    }  # fmt: skip
    with store.write() as conn:
        conn.execute(insert(t.event_log), row)
    with pytest.raises(DBAPIError, match="written once"), store.write() as conn:
        conn.execute(change)
    with store.read() as conn:
        assert conn.scalar(select(t.event_log.c.why)) == ""


def test_a_closed_pair_makes_room_for_the_mothers_next_enrolment(store: Store) -> None:
    """The rule is about open enrolments only, so it does not refuse a second birth."""
    pair = whole()
    with store.write() as conn:
        refer(conn)
        save_pairs(conn, [(None, pair)], DISCHARGED)
        conn.execute(update(t.enrolment).values(state="closed", wake_at=None, closed_reason="finished"))
        doubled(t.enrolment, external_id="next", state="following", wake_at=DISCHARGED, closed_reason=None)(
            conn
        )
    with store.read() as conn:
        assert len(conn.execute(select(t.enrolment.c.id)).all()) == 2


def test_a_mother_who_is_not_texted_needs_no_phone(store: Store) -> None:
    pair = replace(whole(), mother=a_mother(phone=None, texting=Texting.none))
    with store.write() as conn:
        refer(conn)
        save_pairs(conn, [(None, pair)], DISCHARGED)
        assert conn.scalar(select(t.mother.c.texting)) is Texting.none
        assert conn.scalar(select(t.review.c.state)) is ReviewState.expected

"""The audit names whoever has no owner and whatever is late or stuck, and is silent when all is well."""

from datetime import datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import insert, update

from bot.core.states import EnrolmentState, InboundState, MessageState
from bot.store import rows
from bot.store import tables as t
from bot.store.audit import Fault, audit
from bot.store.engine import Store
from bot.store.saving import save_pairs
from tests.support.any_pair import REPLIES, STAFF, refer
from tests.support.pairs import DISCHARGED, a_pair, an_id
from tests.support.parts import an_escalation

MINUTE = timedelta(minutes=1)
NOW = DISCHARGED + timedelta(minutes=30)


@pytest.fixture
def well(store: Store) -> Store:
    """A pair looked at again in an hour, with an escalation due in four hours, a text and a read reply."""
    pair = a_pair(wake_at=NOW + timedelta(hours=1), escalations=(an_escalation(),))
    message = {
        "id": an_id("message"), "enrolment": pair.id, "phone_key": b"k", "to": "+447700900123",
        "text_key": "welcome", "text_values": "{}", "language": "en", "priority": 3, "created_at": DISCHARGED,
        "send_after": DISCHARGED, "expires_at": NOW, "once_key": "contact:welcome:1",
        "state": MessageState.queued, "attempts": 0,
    }  # fmt: skip
    with store.write() as conn:
        refer(conn)
        save_pairs(conn, [(None, pair)], DISCHARGED)
        conn.execute(insert(t.message), rows.sealed(store.sealer, t.message, message))
    return store


def faults(store: Store, now: datetime = NOW) -> list[Fault]:
    with store.read() as conn:
        return audit(conn, now, NOW)


def change(store: Store, table: Any, **values: Any) -> None:
    with store.write() as conn:
        conn.execute(update(table).values(**values))


def test_all_is_well_gives_nothing(well: Store) -> None:
    assert faults(well) == []


@pytest.mark.parametrize("late", [10, 11])
def test_a_pair_is_late_more_than_ten_minutes_after_its_time(well: Store, late: int) -> None:
    change(well, t.enrolment, wake_at=NOW - late * MINUTE)
    found = [(fault.table, fault.id, fault.since) for fault in faults(well)]
    assert found == ([] if late == 10 else [("enrolment", an_id("pair"), NOW - 11 * MINUTE)])


def test_a_mother_nobody_spoke_to_in_time_is_named_until_somebody_did(well: Store) -> None:
    change(well, t.escalation, due_at=NOW - MINUTE)
    assert [fault.what for fault in faults(well)] == ["nobody has spoken to this mother in time"]
    change(well, t.escalation, spoken_at=NOW)
    assert faults(well) == []


def test_a_callback_agreed_for_later_is_not_late_before_it(well: Store) -> None:
    change(well, t.escalation, due_at=NOW - MINUTE, not_before=NOW + MINUTE)
    assert faults(well) == []


def test_a_reply_unread_for_more_than_a_minute_is_named(well: Store) -> None:
    change(well, t.inbound, state=InboundState.stored, stored_at=NOW - MINUTE)
    assert faults(well) == []
    change(well, t.inbound, stored_at=NOW - 2 * MINUTE)
    assert [fault.id for fault in faults(well)] == sorted(REPLIES)


def test_a_text_past_its_lease_is_named(well: Store) -> None:
    change(well, t.message, state=MessageState.sending, claim=STAFF[0], lease_until=NOW - MINUTE)
    assert [fault.what for fault in faults(well)] == ["this text's sender has died"]


def test_a_text_that_waits_beyond_its_time_is_named(well: Store) -> None:
    assert [fault.table for fault in faults(well, NOW + 11 * MINUTE)] == ["message"]


@pytest.mark.parametrize("state", [EnrolmentState.away, EnrolmentState.held])
def test_away_or_held_needs_a_date_to_look_again(well: Store, state: EnrolmentState) -> None:
    change(well, t.enrolment, state=state)
    assert [fault.what for fault in faults(well)] == ["away or held, with no date to look again"]
    change(well, t.enrolment, look_at=NOW + timedelta(days=1))
    assert faults(well) == []


def test_a_hook_that_could_not_be_read_is_told_for_a_week(well: Store) -> None:
    change(well, t.inbound, state=InboundState.set_aside, phone_key=None, stored_at=NOW)
    assert {fault.what for fault in faults(well)} == {"this hook could not be read"}
    later = {fault.what for fault in faults(well, NOW + timedelta(days=8))}
    assert "this hook could not be read" not in later

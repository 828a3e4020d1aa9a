"""An item about a number that belongs to no pair: everybody sees it, one takes it and closes it."""

from __future__ import annotations

from collections.abc import Callable
from uuid import UUID

import pytest
from sqlalchemy import insert, select

from bot.content.factory import load_factory
from bot.core.escalation import News
from bot.core.ids import derived_id
from bot.core.reader import read
from bot.core.states import EscalationState, InboundState, Urgency
from bot.store.readings import keep_readings
from bot.store.strangers import raise_stranger
from bot.store.tables import escalation, event_log, inbound
from tests.support.ward import Visitor, Ward

Visit = Callable[[str], Visitor]
PHONE = "+447700900999"


@pytest.fixture
def item(ward: Ward) -> UUID:
    """An unknown number wrote of a danger."""
    me, seal = derived_id(ward.now, "stranger"), ward.store.sealer.seal
    key = ward.store.sealer.phone_key(PHONE)
    with ward.store.write() as conn:
        conn.execute(
            insert(inbound).values(
                id=me,
                gateway="test",
                external_key="1",
                phone_key=key,
                sender=seal(PHONE, me, "inbound.sender"),
                text=seal("my sister's baby will not wake", me, "inbound.text"),
                raw=seal("{}", me, "inbound.raw"),
                kind="text",
                received_at=ward.now,
                stored_at=ward.now,
                state=InboundState.read,
            )
        )
        news = News("unknown_number_danger", None, Urgency.go_now, me)
        raise_stranger(conn, key, news, ward.content.due, ward.now)
        found: UUID = conn.scalars(select(escalation.c.id)).one()
    return found


def test_it_stands_in_every_inbox_with_the_words_and_the_number(item: UUID, visit: Visit) -> None:
    for login in ("njeri", "salma"):
        visitor = visit(login)
        assert f"/strangers/{item}" in visitor.page("/inbox")
        page = visitor.page(f"/strangers/{item}")
        assert "my sister&#39;s baby will not wake" in page
        assert f"tel:{PHONE}" in page


def test_it_tells_what_was_understood_and_in_which_words(ward: Ward, item: UUID, visit: Visit) -> None:
    with ward.store.write() as conn:
        reply = conn.scalars(select(inbound.c.id)).one()
        understood = read("my sister's baby will not wake", (), None, load_factory().lexicons["en"])
        keep_readings(conn, {reply: (understood, 0)}, ward.now)
    page = visit("njeri").page(f"/strangers/{item}")
    assert "Read as:" in page
    assert "<mark" in page


def test_one_takes_it_and_closes_it_with_what_was_found(ward: Ward, item: UUID, visit: Visit) -> None:
    njeri, wairimu, at = visit("njeri"), visit("wairimu"), f"/strangers/{item}"
    assert "Yours now: Unknown number" in njeri.sends(f"/inbox/{item}/take", "/inbox")[1]
    assert "Njeri took this at" in wairimu.sends(f"/inbox/{item}/take", at)[1]
    assert "Somebody else has taken this" in wairimu.sends(f"{at}/close", at, found="no_danger")[1]
    assert njeri.sends(f"{at}/close", at, note="half")[0] == 422
    njeri.sends(f"{at}/close", at, found="on_the_way", note="Zuri's baby", spoke="1")
    with ward.store.read() as conn:
        row = conn.execute(select(escalation)).one()
        audit = conn.execute(select(event_log.c.to_state, event_log.c.why)).all()
    assert (row.state, row.disposition) == (EscalationState.closed, "on_the_way")
    assert row.spoken_at is not None
    assert ward.store.sealer.open(row.note, row.id, "escalation.note") == "Zuri's baby"
    assert ("closed spoken", "on_the_way") in [tuple(line) for line in audit]
    njeri.page(at, status=404)


def test_it_is_put_back(ward: Ward, item: UUID, visit: Visit) -> None:
    njeri, at = visit("njeri"), f"/strangers/{item}"
    njeri.sends(f"{at}/take", at)
    njeri.sends(f"{at}/release", at)
    with ward.store.read() as conn:
        assert conn.execute(select(escalation.c.state, escalation.c.taken_by)).one() == (
            EscalationState.waiting,
            None,
        )


def test_an_item_of_a_pair_is_no_stranger(ward: Ward, visit: Visit) -> None:
    standing = ward.writes(ward.enrol("Amina"), "please call me").open_escalation
    assert standing is not None
    visit("njeri").page(f"/strangers/{standing.id}", status=404)

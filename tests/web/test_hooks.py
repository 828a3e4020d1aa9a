"""Hooks of gateways: what is stored, what is answered, what is refused, on both databases."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import select
from werkzeug.test import TestResponse

from bot.clock import Clock
from bot.core.states import InboundState
from bot.gateway.profile import make_profile
from bot.gateway.signing import key_of, sign
from bot.store.engine import Store
from bot.store.inbound import mark_read, unread
from bot.store.intake import Intake
from bot.store.tables import inbound, receipt
from bot.web.hooks import create_hooks

MACHINE = datetime(2026, 3, 2, 9, tzinfo=UTC)
NOW = MACHINE + timedelta(days=1)  # a demo's clock, moved
SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
MOTHER = "+447700900123"


@pytest.fixture
def intake(store: Store) -> Iterator[Intake]:
    intake = Intake(store)
    yield intake
    intake.close()


@pytest.fixture
def client(intake: Intake) -> FlaskClient:
    profile = make_profile(
        "district", url="http://127.0.0.1:9", token="t", sender="+447700900001", secrets=[SECRET]
    )
    app = Flask(__name__)
    app.register_blueprint(
        create_hooks(intake, {"district": profile}, Clock(lambda: timedelta(days=1), lambda: MACHINE))
    )
    return app.test_client()


def post(
    client: FlaskClient, door: str, body: bytes | dict[str, Any], *, at: datetime = MACHINE, **headers: str
) -> TestResponse:
    raw = body if isinstance(body, bytes) else json.dumps(body).encode()
    signed = {
        "webhook-id": "msg_1",
        "webhook-timestamp": str(int(at.timestamp())),
        "webhook-signature": sign(key_of(SECRET), "msg_1", at, raw),
    }
    return client.post(f"/hooks/district/{door}", data=raw, headers=signed | headers)


def a_reply(**changes: Any) -> dict[str, Any]:
    reply = {"id": "r-1", "from": MOTHER, "to": "+447700900001", "text": "٨ مرات"}
    return reply | {"received_at": "2026-03-03T08:59:58+00:00"} | changes


def rows(store: Store, table: Any = inbound) -> list[Any]:
    with store.read() as conn:
        return list(conn.execute(select(table).order_by(table.c.id)).all())


def test_a_reply_is_stored_sealed_and_answered_with_an_empty_body(client, store):
    answer = post(client, "replies", a_reply())
    assert (answer.status_code, answer.data) == (200, b"")
    (row,) = rows(store)
    assert (row.gateway, row.external_key, row.kind) == ("district", "r-1", "reply")
    assert row.state is InboundState.stored
    assert row.received_at == NOW - timedelta(seconds=2)
    assert row.stored_at == NOW
    assert row.phone_key == store.sealer.phone_key(MOTHER)
    assert store.sealer.open(row.text, row.id, "inbound.text") == "٨ مرات"
    assert b"7700900123" not in row.raw + row.sender


def test_a_reply_sent_again_is_stored_once_and_acknowledged_again(client, store):
    for _ in range(3):
        assert post(client, "replies", a_reply()).status_code == 200
    assert len(rows(store)) == 1


def test_the_same_words_under_another_id_are_another_reply(client, store):
    post(client, "replies", a_reply())
    post(client, "replies", a_reply(id="r-2"))
    assert len(rows(store)) == 2


@pytest.mark.parametrize("sender", ["447700900123", "00447700900123", "+44 7700 900123"])
def test_a_number_is_known_however_it_is_written(client, store, sender):
    post(client, "replies", a_reply(**{"from": sender}))
    assert rows(store)[0].phone_key == store.sealer.phone_key(MOTHER)


def test_a_sender_that_is_no_number_is_kept_as_it_came(client, store):
    post(client, "replies", a_reply(**{"from": "INFO"}))
    (row,) = rows(store)
    assert row.phone_key == store.sealer.phone_key("INFO")
    assert store.sealer.open(row.sender, row.id, "inbound.sender") == "INFO"


def test_a_time_in_the_future_or_none_counts_as_now(client, store):
    post(client, "replies", a_reply(received_at="2027-01-01T00:00:00Z"))
    post(client, "replies", a_reply(id="r-2", received_at=None))
    assert [row.received_at for row in rows(store)] == [NOW, NOW]


@pytest.mark.parametrize("door", ["replies", "receipts"])
@pytest.mark.parametrize("body", [b"", b"{", b"\xff\x00", b"[1]", b'{"text": 8}'])
def test_an_unreadable_body_is_kept_for_a_person_and_acknowledged(client, store, door, body):
    assert post(client, door, body).status_code == 200
    (row,) = rows(store, inbound if door == "replies" else receipt)
    assert row.state is InboundState.set_aside
    column = "inbound.raw" if door == "replies" else "receipt.raw"
    assert store.sealer.open(row.raw, row.id, column).encode("latin-1") == body


@pytest.mark.parametrize("door", ["replies", "receipts"])
@pytest.mark.parametrize(
    "changes",
    [
        {"at": MACHINE - timedelta(minutes=6)},
        {"webhook-signature": "v1,AAAA"},
        {"webhook-signature": ""},
        {"webhook-id": "msg_2"},
    ],
)
def test_a_hook_not_signed_by_the_gateway_now_stores_nothing(client, store, door, changes):
    assert post(client, door, a_reply(), **changes).status_code == 401
    assert rows(store) == rows(store, receipt) == []


def test_an_unknown_gateway_has_no_hooks(client):
    assert client.post("/hooks/nobody/replies", data=b"{}").status_code == 404


def test_only_post_is_taken(client):
    assert client.get("/hooks/district/replies").status_code == 405


def test_a_body_larger_than_any_reply_is_refused(client, store):
    assert post(client, "replies", a_reply(text="8" * 300_000)).status_code == 413
    assert rows(store) == []


def test_a_report_is_stored_once_for_each_state(client, store):
    for state in ("accepted", "delivered", "delivered"):
        assert post(client, "receipts", {"id": "g-1", "state": state}).status_code == 200
    stored = rows(store, receipt)
    assert sorted((row.ref, row.reported) for row in stored) == [("g-1", "accepted"), ("g-1", "delivered")]
    assert {row.state for row in stored} == {InboundState.stored}


def test_a_store_that_is_away_is_told_to_the_gateway_so_that_it_tries_again(client, store, intake):
    with store.write() as conn:
        inbound.drop(conn, checkfirst=False) if conn.dialect.name == "sqlite" else conn.exec_driver_sql(
            "DROP TABLE inbound CASCADE"
        )
    answer = post(client, "replies", a_reply())
    assert (answer.status_code, answer.headers["Retry-After"]) == (503, "5")
    assert post(client, "receipts", {"id": "g-1", "state": "delivered"}).status_code == 200


def test_unread_replies_come_by_phone_in_the_order_received(client, store):
    other = "+447700900456"
    post(client, "replies", a_reply(id="a", text="second", received_at="2026-03-03T08:02:00Z"))
    post(client, "replies", a_reply(id="b", text="first", received_at="2026-03-03T08:01:00Z"))
    post(client, "replies", a_reply(id="c", **{"from": other}, received_at="2026-03-03T08:00:00Z"))
    with store.write() as conn:
        waiting = unread(conn, NOW, 10)
        assert [[reply.text for reply in replies] for replies in waiting.values()] == [
            ["٨ مرات"],
            ["first", "second"],
        ]
        assert [replies[0].sender for replies in waiting.values()] == [other, MOTHER]
        mark_read(conn, {reply.id: None for replies in waiting.values() for reply in replies})
        assert unread(conn, NOW, 10) == {}


def test_two_readers_never_hold_replies_of_the_same_phone(client, store):
    if store.engine.dialect.name == "sqlite":
        pytest.skip("SQLite has one writer at a time")
    post(client, "replies", a_reply(id="a", received_at="2026-03-03T08:01:00Z"))
    with store.write() as first:
        assert len(unread(first, NOW, 10)) == 1
        post(client, "replies", a_reply(id="b", received_at="2026-03-03T08:02:00Z"))
        post(client, "replies", a_reply(id="c", **{"from": "+447700900456"}))
        with store.write() as second:
            (replies,) = unread(second, NOW, 10).values()
            assert [reply.sender for reply in replies] == ["+447700900456"]

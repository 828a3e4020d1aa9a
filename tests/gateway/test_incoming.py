"""Bodies of the `json` profile's hooks are read, or recognised as unreadable, without ever raising."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.core.states import MessageState
from bot.gateway.incoming import Reply, Report, e164, read_replies, read_reports
from bot.gateway.places import Envelope
from bot.gateway.profile import make_profile

PROFILE = make_profile(
    "district",
    url="https://sms.example/v1",
    token="t",
    sender="+447700900001",
    secrets=["whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"],
)
REPLY = {
    "id": "r-1",
    "from": "+447700900123",
    "to": "+447700900001",
    "text": "٨ مرات",
    "received_at": "2026-03-01T09:00:00+03:00",
}

anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)


def reply(**changes: object) -> bytes:
    return json.dumps(REPLY | changes).encode()


def read_reply(body: bytes) -> Reply | None:
    (read,) = read_replies(PROFILE, Envelope(body))
    return read


def read_report(body: bytes) -> Report | None:
    (read,) = read_reports(PROFILE, Envelope(body))
    return read


def test_a_reply_is_read_whole():
    assert read_reply(reply()) == Reply("r-1", "+447700900123", "٨ مرات", datetime(2026, 3, 1, 6, tzinfo=UTC))


def test_an_empty_text_is_a_reply_too():
    assert read_reply(reply(text="")) == Reply(
        "r-1", "+447700900123", "", datetime(2026, 3, 1, 6, tzinfo=UTC)
    )


@pytest.mark.parametrize("given_id", [None, "", True, ["r"]])
def test_a_reply_without_a_usable_id_is_kept_without_one(given_id):
    read = read_reply(reply(id=given_id))
    assert read is not None
    assert read.id is None


def test_an_id_sent_as_a_number_counts_as_its_text():
    assert read_report(b'{"id": 12345678901234567890, "state": "delivered"}') == Report(
        "12345678901234567890", MessageState.delivered
    )


@pytest.mark.parametrize("time", [None, "yesterday", "2026-03-01T09:00:00", 1772355600])
def test_a_time_that_is_missing_or_has_no_zone_is_left_out(time):
    read = read_reply(reply(received_at=time))
    assert read is not None
    assert read.received_at is None


def test_a_text_sent_as_a_number_counts_as_its_text():
    read = read_reply(reply(text=8))
    assert read is not None
    assert read.text == "8"


def test_half_a_surrogate_pair_is_replaced_so_that_it_can_be_stored():
    read = read_reply(b'{"id": "r", "from": "+447700900123", "text": "8 \\ud83d"}')
    assert read is not None
    assert read.text == "8 \ufffd"


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"8",
        b"[]",
        b"{",
        b"\xff\xfe",
        b"[" * 100_000,
        reply(**{"from": ""}),
        reply(text=None),
    ],
)
def test_what_is_no_reply_is_unreadable(body):
    assert read_reply(body) is None


@pytest.mark.parametrize("state", ["accepted", "delivered", "undelivered", "expired"])
def test_the_four_states_of_a_report_are_read(state):
    assert read_report(json.dumps({"id": "g-1", "state": state}).encode()) == Report(
        "g-1", MessageState[state]
    )


@pytest.mark.parametrize(
    "body", [b'{"id": "g-1", "state": "cancelled"}', b'{"state": "delivered"}', b"[]", b"{"]
)
def test_what_is_no_report_is_unreadable(body):
    assert read_report(body) is None


@given(st.one_of(st.binary(), anything.map(json.dumps).map(str.encode)))
def test_no_body_makes_reading_raise(body):
    for read in (read_reply(body), read_report(body)):
        if read is not None:
            repr(read).encode("utf-8")


@pytest.mark.parametrize(
    ("sender", "number"),
    [
        ("+447700900123", "+447700900123"),
        ("447700900123", "+447700900123"),
        ("00447700900123", "+447700900123"),
        ("+44 7700 900123", "+447700900123"),
        ("٤٤٧٧٠٠٩٠٠١٢٣", "+447700900123"),
        ("INFO", None),
        ("12345", None),
        ("+999123456789", None),
    ],
)
def test_a_sender_is_a_number_or_nobody(sender, number):
    # +44 7700 900000 to 900999 are Ofcom's numbers for drama.
    assert e164(sender) == number

"""Signatures of hooks (Standard Webhooks specification 1.0.0, 'Signature scheme' and 'Verifying')."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
import standardwebhooks
from hypothesis import given
from hypothesis import strategies as st

from bot.clock import machine_now
from bot.gateway.signing import BadSignature, key_of, sign, verify

# The reference vector of the specification's own libraries.
SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
MESSAGE = "msg_p5jXN8AQM9LWM0D4loKWxJek"
AT = datetime.fromtimestamp(1614265330, UTC)
BODY = b'{"test": 2432232314}'
SIGNATURE = "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="

KEY = key_of(SECRET)
OTHER = bytes(range(32))


def headers(signature: str = SIGNATURE, *, message_id: str = MESSAGE, timestamp: str = "1614265330"):
    return {"webhook-id": message_id, "webhook-timestamp": timestamp, "webhook-signature": signature}


def test_the_published_vector_is_signed_and_verified_to_the_letter():
    assert sign(KEY, MESSAGE, AT, BODY) == SIGNATURE
    assert verify([KEY], headers(), BODY, AT) == MESSAGE


@given(st.binary(min_size=24, max_size=64), st.text(st.characters(codec="utf-8"), max_size=200))
def test_the_reference_library_accepts_what_we_sign_and_we_what_it_signs(key, text):
    now = machine_now().replace(microsecond=0)
    theirs = standardwebhooks.Webhook(key)
    stamp = str(int(now.timestamp()))
    ours = headers(sign(key, "m1", now, text.encode()), message_id="m1", timestamp=stamp)
    theirs.verify(text, ours, json_parse=False)
    reference = headers(theirs.sign("m1", now, text), message_id="m1", timestamp=stamp)
    assert verify([key], reference, text.encode(), now) == "m1"


def test_a_hook_signed_with_either_key_passes_while_the_secret_is_changed():
    assert verify([OTHER, KEY], headers(), BODY, AT)
    both = sign(OTHER, MESSAGE, AT, BODY) + " " + SIGNATURE
    assert verify([KEY], headers(both), BODY, AT)
    assert verify([OTHER], headers(both), BODY, AT)


@pytest.mark.parametrize("seconds", [-300, 0, 300])
def test_five_minutes_either_way_are_tolerated(seconds):
    assert verify([KEY], headers(), BODY, AT + timedelta(seconds=seconds))


@pytest.mark.parametrize(
    ("changed", "body", "now"),
    [
        (headers(), BODY + b" ", AT),
        (headers(), BODY, AT + timedelta(seconds=301)),
        (headers(), BODY, AT - timedelta(seconds=301)),
        (headers(message_id="msg_other"), BODY, AT),
        (headers(timestamp="1614265331"), BODY, AT),
        (headers(timestamp="soon"), BODY, AT),
        (headers(timestamp="٣"), BODY, AT),
        (headers(timestamp="9" * 400), BODY, AT),
        (headers(timestamp="-1614265330"), BODY, AT),
        (headers(""), BODY, AT),
        (headers(SIGNATURE.replace("v1", "v2")), BODY, AT),
        (headers(SIGNATURE[:-1]), BODY, AT),
        (headers("v1,é"), BODY, AT),
        ({}, BODY, AT),
    ],
)
def test_anything_changed_old_or_missing_is_refused(changed, body, now):
    with pytest.raises(BadSignature):
        verify([KEY], changed, body, now)


def test_no_key_verifies_nothing():
    with pytest.raises(BadSignature):
        verify([], headers(), BODY, AT)


@pytest.mark.parametrize(
    "secret", ["", "whsec_", "whsec_c2hvcnQ=", SECRET.removeprefix("whsec_"), "whsec_***"]
)
def test_a_secret_too_short_or_not_base64_is_refused(secret):
    with pytest.raises(ValueError, match="whsec_"):
        key_of(secret)

"""Who may call a hook: signature, digest, key, password, addresses; one fault is enough to be refused."""

from __future__ import annotations

import hmac
import tomllib
from base64 import b64encode
from datetime import UTC, datetime
from typing import Any

import pytest

from bot.core.errors import Invalid
from bot.gateway.places import Envelope
from bot.gateway.profile import Profile, make_profile
from bot.gateway.signing import BadSignature, key_of, sign
from bot.gateway.trust import check
from bot.gateway.wire import Wire

NOW = datetime(2026, 3, 1, 9, tzinfo=UTC)
KEY, OLD = "a-long-random-key-1", "a-long-random-key-0"
SIGNED = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
WIRE = 'about = "t"\n[send.query]\nt = "{text}"\n[replies]\nfrom = "query:f"\ntext = "query:t"\n[trust]\n'


def trusting(trust: str, **changes: Any) -> Profile:
    given: dict[str, Any] = {
        "url": "https://sms.example",
        "sender": "+447700900001",
        "secrets": [KEY, OLD],
        "settings": {"hook_user": "gateway"},
        "public_url": "https://dunnock.example",
    }
    return make_profile("here", wire=Wire.model_validate(tomllib.loads(WIRE + trust)), **(given | changes))


def basic(user: str, password: str) -> dict[str, str]:
    return {"authorization": "Basic " + b64encode(f"{user}:{password}".encode()).decode()}


def digest(key: str, body: bytes, algorithm: str = "sha256") -> str:
    return hmac.digest(key.encode(), body, algorithm).hex()


BODY = b'{"t": 8}'
GOOD = [
    ('by = "key"', Envelope(query=f"key={KEY}&t=8".encode())),
    ('by = "key"', Envelope(query=f"key={OLD}&t=8".encode())),  # the one before, while it is changed
    ('by = "basic"', Envelope(headers=basic("gateway", KEY))),
    ('by = "digest"\nheader = "X-Sign"', Envelope(BODY, {"x-sign": digest(KEY, BODY)})),
    ('by = "digest"\nheader = "X-Sign"', Envelope(BODY, {"x-sign": digest(KEY, BODY).upper()})),
    (
        'by = "digest"\nheader = "X-Sign"\nbefore = "sha1="\nalgorithm = "sha1"',
        Envelope(BODY, {"x-sign": "sha1=" + digest(KEY, BODY, "sha1")}),
    ),
    (
        'by = "digest"\nheader = "X-Sign"\ncoding = "base64"',
        Envelope(BODY, {"x-sign": b64encode(hmac.digest(KEY.encode(), BODY, "sha256")).decode()}),
    ),
    (
        'by = "digest"\nheader = "X-Sign"\nof = "url_form"',
        Envelope(
            b"b=2&a=1",
            {"x-sign": digest(KEY, b"https://dunnock.example/hooks/here/repliesa1b2")},
            path="/replies",
        ),
    ),
]
BAD = [
    ('by = "key"', Envelope(query=b"t=8")),
    ('by = "key"', Envelope(query=b"key=wrong&t=8")),
    ('by = "basic"', Envelope(headers=basic("gateway", "wrong"))),
    ('by = "basic"', Envelope(headers=basic("somebody", KEY))),
    ('by = "basic"', Envelope(headers={"authorization": "Basic %%%"})),
    ('by = "basic"', Envelope()),
    ('by = "digest"\nheader = "X-Sign"', Envelope(BODY)),
    ('by = "digest"\nheader = "X-Sign"', Envelope(BODY + b" ", {"x-sign": digest(KEY, BODY)})),
]


@pytest.mark.parametrize(("trust", "hook"), GOOD)
def test_a_hook_that_proves_its_sender_is_let_in(trust, hook):
    assert check(trusting(trust), hook, NOW) == ""


@pytest.mark.parametrize(("trust", "hook"), BAD)
def test_a_hook_that_does_not_is_refused(trust, hook):
    with pytest.raises(BadSignature):
        check(trusting(trust), hook, NOW)


@pytest.mark.parametrize(
    ("address", "is_let_in"), [("192.0.2.7", True), ("198.51.100.1", False), ("", False)]
)
def test_a_list_of_addresses_holds_beside_every_other_proof(address, is_let_in):
    """Addresses of RFC 5737, kept free for documentation."""
    made = trusting('by = "key"', addresses=["192.0.2.0/24", "2001:db8::/32"])
    hook = Envelope(query=f"key={KEY}".encode(), address=address)
    if is_let_in:
        assert check(made, hook, NOW) == ""
        return
    with pytest.raises(BadSignature):
        check(made, hook, NOW)


def test_a_signed_hook_gives_the_id_it_was_signed_with():
    """Standard Webhooks 1.0."""
    made = trusting('by = "standard"', secrets=[SIGNED])
    headers = {
        "webhook-id": "msg_1",
        "webhook-timestamp": str(int(NOW.timestamp())),
        "webhook-signature": sign(key_of(SIGNED), "msg_1", NOW, BODY),
    }
    assert check(made, Envelope(BODY, headers), NOW) == "msg_1"


def test_without_secret_or_addresses_nobody_could_be_trusted():
    with pytest.raises(Invalid, match="networks"):
        trusting('by = "addresses"')
    with pytest.raises(Invalid, match="secret"):
        trusting('by = "key"', secrets=[])
    with pytest.raises(Invalid, match="random characters"):
        trusting('by = "key"', secrets=["short"])

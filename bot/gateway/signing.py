"""Signatures of hooks as in Standard Webhooks 1.0: headers and the raw body come in, a verdict goes out.

Signed is `id.timestamp.body` with HMAC-SHA256. The header may carry several signatures, split by spaces, and
we may hold several keys, so that a secret can be changed without a gap. Time here is the machine's.
"""

from __future__ import annotations

import hmac
from base64 import b64decode, b64encode
from binascii import Error as Base64Error
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

HEADERS = ("webhook-id", "webhook-timestamp", "webhook-signature")
TOLERANCE = timedelta(minutes=5)


class BadSignature(Exception):
    """The hook was not sent by whom we trust, or not now. The message is for the log, not for the sender."""


def key_of(secret: str) -> bytes:
    """Give the key of a secret written `whsec_` and base64; ValueError if it is not one of 24 to 64 bytes."""
    try:
        key = b64decode(secret.removeprefix("whsec_"), validate=True)
    except Base64Error:
        key = b""
    if not (secret.startswith("whsec_") and 24 <= len(key) <= 64):
        raise ValueError("Write the secret as whsec_ and the base64 of 24 to 64 random bytes.")
    return key


def sign(key: bytes, message_id: str, at: datetime, body: bytes) -> str:
    """Give the value of the header webhook-signature for one key."""
    return "v1," + b64encode(_digest(key, message_id, str(int(at.timestamp())), body)).decode()


def verify(keys: Sequence[bytes], headers: Mapping[str, str], body: bytes, now: datetime) -> str:
    """Check a hook on its raw bytes and give its webhook-id; raise BadSignature if it can't be trusted."""
    message_id = headers.get("webhook-id", "")
    timestamp = headers.get("webhook-timestamp", "")
    if not (message_id and timestamp.isascii() and timestamp.isdigit()):
        raise BadSignature("webhook-id or webhook-timestamp is missing or not understood")
    if abs(int(timestamp[:12]) - now.timestamp()) > TOLERANCE.total_seconds():
        raise BadSignature("webhook-timestamp is more than five minutes from now")
    given = [s[3:].encode() for s in headers.get("webhook-signature", "").split() if s.startswith("v1,")]
    wanted = [b64encode(_digest(key, message_id, timestamp, body)) for key in keys]
    if not any(hmac.compare_digest(one, other) for one in wanted for other in given):
        raise BadSignature("no signature of ours is in webhook-signature")
    return message_id


def _digest(key: bytes, message_id: str, timestamp: str, body: bytes) -> bytes:
    return hmac.digest(key, f"{message_id}.{timestamp}.".encode() + body, "sha256")

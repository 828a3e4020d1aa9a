"""Ids that the program makes itself: time-ordered, and the same for the same cause.

An id has the layout of a UUID version 7 (RFC 9562, section 5.7): 48 bits of Unix milliseconds, then bits
that here come from a hash of what the thing is for. One event therefore gives the same ids on every database
and in every replay, which is what lets the pure transition be compared with what was stored.
"""

from __future__ import annotations

from datetime import datetime
from hashlib import sha256
from uuid import UUID

_VERSION = 0x7 << 76
_VARIANT = 0b10 << 62


def first_id(at: datetime) -> UUID:
    """Give the least id that can have been made at `at`: ids begin with their time."""
    return UUID(int=int(at.timestamp() * 1000) << 80)


def derived_id(at: datetime, *parts: object) -> UUID:
    """Make the id of the thing that `parts` names (its owner's id and its own key), created at `at`."""
    millis = int(at.timestamp() * 1000)
    digest = int.from_bytes(sha256("\x1f".join(map(str, parts)).encode()).digest()[:10])
    high, low = (digest >> 62) & 0xFFF, digest & ((1 << 62) - 1)
    return UUID(int=(millis << 80) | _VERSION | (high << 64) | _VARIANT | low)

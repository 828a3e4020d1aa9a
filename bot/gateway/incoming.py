"""What hooks carry: a raw request comes in, replies or reports go out, as the profile says where to look."""

from __future__ import annotations

import codecs
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import Any

from bot.core.outbox import Failure
from bot.core.phone import Standing, read_phone
from bot.core.states import MessageState
from bot.gateway.places import Envelope, Place, items
from bot.gateway.profile import Profile
from bot.gateway.wire import Part, Receipts, Replies

_MOST_PARTS = 255


@dataclass(frozen=True, slots=True)
class PartOf:
    """Which part of a long reply this is; `number` from 1."""

    ref: str
    number: int
    total: int


@dataclass(frozen=True, slots=True)
class Reply:
    """`id` is None when the gateway gave none; `received_at` is None when it is missing or can't be read.
    A missed call has no text."""

    id: str | None
    sender: str
    text: str
    received_at: datetime | None
    missed_call: bool = False
    part: PartOf | None = None


@dataclass(frozen=True, slots=True)
class Report:
    """What became of the text that the gateway, or we, call `ref`."""

    ref: str
    state: MessageState
    failure: Failure = Failure.none


def read_replies(profile: Profile, hook: Envelope) -> Sequence[Reply | None]:
    """Read what a hook for replies brought: one a batch item, None for what can't be read; never nothing."""
    wire = profile.wire.replies
    if wire is None:
        return [None]
    return [_reply(wire, hook, item) for item in items(hook, wire.each)] or [None]


def read_reports(profile: Profile, hook: Envelope) -> Sequence[Report | None]:
    """Read what a hook for reports brought: one a batch item, None for what can't be read; never nothing."""
    wire = profile.wire.receipts
    if wire is None:
        return [None]
    return [_report(wire, hook, item) for item in items(hook, wire.each)] or [None]


def _reply(wire: Replies, hook: Envelope, item: Any) -> Reply | None:
    sender = (wire.sender.find(hook, item) or "").strip()
    missed = wire.missed_call is not None and wire.missed_call.holds(hook, item)
    text = _text(wire, hook, item)
    if not sender or (text is None and not missed):
        return None
    received = wire.time.find(hook, item) if wire.time else None
    part = _part(wire.part, hook, item) if wire.part else None
    return Reply(_id(wire.id, hook, item), sender, text or "", received, missed, part)


def _text(wire: Replies, hook: Envelope, item: Any) -> str | None:
    if wire.text is None:
        return None
    charset = wire.charset
    if isinstance(charset, Place):
        named = charset.find(hook, item) or "utf-8"
        try:
            codecs.lookup(named)
        except LookupError:
            named = "detect"
        charset = named
    return wire.text.find(hook, item, charset)


def _id(places: Sequence[Place], hook: Envelope, item: Any) -> str | None:
    """Join what names the reply; None unless all of it is there."""
    found = [place.find(hook, item) for place in places]
    return " ".join(each for each in found if each) if found and all(found) else None


def _part(wire: Part, hook: Envelope, item: Any) -> PartOf | None:
    if wire.udh is not None:
        return part_of_header(wire.udh.find(hook, item) or "")
    if not (wire.ref and wire.number and wire.total):
        return None
    ref, number, total = (place.find(hook, item) or "" for place in (wire.ref, wire.number, wire.total))
    if not (number.isdecimal() and total.isdecimal()):
        return None
    return _checked(ref, int(number), int(total))


def part_of_header(header: str) -> PartOf | None:
    """Find the part in a user data header, in hexadecimal (3GPP TS 23.040, 9.2.3.24.1 and 9.2.3.24.8)."""
    try:
        octets = bytes.fromhex(header)
    except ValueError:
        return None
    at = 1
    while at + 1 < len(octets):
        kind, size = octets[at], octets[at + 1]
        data = octets[at + 2 : at + 2 + size]
        if (kind, size) in ((0x00, 3), (0x08, 4)) and len(data) == size:
            return _checked(data[:-2].hex(), data[-1], data[-2])
        at += 2 + size
    return None


def _checked(ref: str, number: int, total: int) -> PartOf | None:
    is_part = 1 <= number <= total <= _MOST_PARTS and total > 1
    return PartOf(ref, number, total) if is_part else None


def _report(wire: Receipts, hook: Envelope, item: Any) -> Report | None:
    ref, word = wire.ref.find(hook, item), wire.state.find(hook, item)
    if not ref or word is None:
        return None
    state = wire.state_of(word)
    if state is None:
        return None
    said = (wire.reason_at.find(hook, item) or "") if wire.reason_at else ""
    return Report(ref, state, _failure(wire, state, said))


def _failure(wire: Receipts, state: MessageState, said: str) -> Failure:
    if state is not MessageState.undelivered:
        return Failure.none
    return next((r.failure for r in wire.reason if re.search(r.match, said)), Failure.none)


@lru_cache(maxsize=4096)
def e164(sender: str, region: str | None = None) -> str | None:
    """Give a sender's number as E.164, also when it came without + or with 00, or as it is written inside
    `region`; None if it is no number (a name, a short code): such a sender is nobody's mother."""
    if region is not None and not sender.startswith(("+", "00")):
        phone = read_phone(sender, region)
        if phone.standing is not Standing.impossible:
            return phone.e164
    digits = sender if sender.startswith("+") else "+" + sender.removeprefix("00")
    phone = read_phone(digits, None)
    return None if phone.standing is Standing.impossible else phone.e164

"""What the `json` profile's hooks carry: raw bytes come in, a reply or report goes out, None if unreadable.

reply    {"id","from","to","text","received_at"}
report   {"id","state"}: the id of our text's 2xx answer; accepted, delivered, undelivered or expired
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import Any

from bot.core.phone import Standing, read_phone
from bot.core.states import MessageState

_REPORTED = {
    state.value: state
    for state in (
        MessageState.accepted,
        MessageState.delivered,
        MessageState.undelivered,
        MessageState.expired,
    )
}


@dataclass(frozen=True, slots=True)
class Reply:
    """`id` is None when the gateway gave none; `received_at` is None when it is missing or has no zone."""

    id: str | None
    sender: str
    text: str
    received_at: datetime | None


@dataclass(frozen=True, slots=True)
class Report:
    ref: str
    state: MessageState


def read_reply(body: bytes) -> Reply | None:
    """Read the body of a reply."""
    fields = _fields(body)
    sender, text = fields.get("from"), fields.get("text")
    if not (isinstance(sender, str) and sender.strip() and isinstance(text, str)):
        return None
    return Reply(_id(fields), _whole(sender.strip()), _whole(text), _instant(fields.get("received_at")))


def read_report(body: bytes) -> Report | None:
    """Read the body of a delivery report."""
    fields = _fields(body)
    ref, state = _id(fields), _REPORTED.get(str(fields.get("state")))
    return Report(ref, state) if ref and state else None


@lru_cache(maxsize=4096)
def e164(sender: str) -> str | None:
    """Give a sender's number as E.164, also when it came without + or with 00; None if it is no number
    (a name, a short code): such a sender is nobody's mother."""
    digits = sender if sender.startswith("+") else "+" + sender.removeprefix("00")
    phone = read_phone(digits, None)
    return None if phone.standing is Standing.impossible else phone.e164


def _fields(body: bytes) -> dict[str, Any]:
    try:
        fields = json.loads(body)
    except (ValueError, RecursionError):
        return {}
    return fields if isinstance(fields, dict) else {}


def _id(fields: dict[str, Any]) -> str | None:
    """Give the id as text: some gateways send a number where they should send a string."""
    value = fields.get("id")
    known = isinstance(value, str | int) and not isinstance(value, bool) and value != ""
    return _whole(str(value)) if known else None


def _instant(value: object) -> datetime | None:
    try:
        instant = datetime.fromisoformat(value) if isinstance(value, str) else None
    except ValueError:
        return None
    return instant if instant and instant.tzinfo else None


def _whole(text: str) -> str:
    """Replace half a surrogate pair, which JSON may carry and no encoding can hold."""
    if text.isascii():
        return text
    return text.encode("utf-16", "surrogatepass").decode("utf-16", "replace")

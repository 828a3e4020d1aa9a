"""One text as a gateway wants it, and what its answer means. Pure: a profile and plain data in and out."""

from __future__ import annotations

import json
from base64 import b64encode
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from email.utils import parsedate_to_datetime
from typing import Any
from urllib.parse import quote, quote_plus, urlencode
from xml.sax.saxutils import quoteattr

from bot.core.outbox import Accepted, Denied, OptedOut, OutboundText, Outcome, Permanent, Temporary, Unknown
from bot.core.segments import count
from bot.gateway import templates
from bot.gateway.places import Envelope
from bot.gateway.profile import Profile
from bot.gateway.wire import Parts

# What a status means where no rule of the profile fits (RFC 9110, section 15; RFC 8470; RFC 6585).
_TEMPORARY = frozenset({408, 425, 429})
_DENIED = frozenset({401, 403, 404, 405, 407})


@dataclass(frozen=True, slots=True)
class Request:
    """What is to be posted. It may hold passwords and her words: never to be logged."""

    method: str
    url: str
    headers: Mapping[str, str]
    body: bytes


def request_for(profile: Profile, text: OutboundText, now: datetime) -> Request:
    """Make the request that carries one text."""
    send, numbers = profile.wire.send, _numbers(text, now)
    values = _values(profile, text) | {name: str(number) for name, number in numbers.items()}
    if send.receipt_url is not None:
        values["receipt_url"] = _address(send.receipt_url, values)
    extra = send.gsm7 if count(text.text).encoding == "GSM-7" else send.ucs2
    url = _address(send.url, values)
    query = _filled(send.query | extra.query, values)
    if query:
        url += ("&" if "?" in url else "?") + _pairs(query, send.charset, quote)
    headers = _filled(_credentials(profile) | send.headers | extra.headers, values)
    kind, body = _body(profile, extra, values, numbers)
    return Request(send.method, url, ({"content-type": kind} if kind else {}) | headers, body)


def _values(profile: Profile, text: OutboundText) -> dict[str, str]:
    return dict(profile.settings) | {
        "to": _number(text.to, profile.wire.numbers.out),
        "from": _number(profile.sender, profile.wire.numbers.out),
        "text": text.text,
        "text_hex": text.text.encode("utf-16-be").hex().upper(),
        "id": text.id,
        "expires_at": text.expires_at.isoformat(),
        "url": profile.url,
        "hooks": profile.hooks,
        "key": profile.key,
    }


def _numbers(text: OutboundText, now: datetime) -> dict[str, int]:
    """How long the text is worth carrying, never less than what the network can count."""
    seconds = max(60, int((text.expires_at - now).total_seconds()))
    return {"validity_minutes": seconds // 60, "validity_seconds": seconds}


def _number(e164: str, form: str) -> str:
    digits = e164.removeprefix("+")
    if digits == e164:
        return e164  # a short code has no country
    return {"plus": e164, "00": "00" + digits, "bare": digits}[form]


def _credentials(profile: Profile) -> dict[str, str]:
    given = profile.settings
    match profile.wire.send.auth:
        case "bearer":
            return {"authorization": f"Bearer {given['token']}"}
        case "basic":
            pair = f"{given['user']}:{given['password']}".encode()
            return {"authorization": "Basic " + b64encode(pair).decode()}
    return {}


def _filled(parts: Mapping[str, str], values: Mapping[str, str]) -> dict[str, str]:
    return {templates.fill(name, values): templates.fill(value, values) for name, value in parts.items()}


def _body(
    profile: Profile, extra: Parts, values: Mapping[str, str], numbers: Mapping[str, int]
) -> tuple[str, bytes]:
    """Give content type and bytes of the body; both empty where there is none."""
    send = profile.wire.send
    if send.form or extra.form:
        form = _pairs(_filled(send.form | extra.form, values), send.charset, quote_plus)
        return f"application/x-www-form-urlencoded; charset={send.charset}", form.encode("ascii")
    if send.json_body is not None:
        body = templates.fill_all(_merged(send.json_body, extra.json_body), values, numbers)
        return "application/json", json.dumps(body, ensure_ascii=False).encode()
    if send.body is not None:
        assert send.content_type is not None  # the profile was checked
        coded = _in_xml if "xml" in send.content_type else str
        return send.content_type, templates.fill(send.body, values, coded).encode(send.charset, "replace")
    return "", b""


def _merged(body: Any, extra: Any) -> Any:
    if isinstance(body, dict) and isinstance(extra, dict):
        return {name: _merged(body.get(name), extra.get(name, body.get(name))) for name in body | extra}
    return body if extra is None else extra


def _pairs(fields: Mapping[str, str], charset: str, coded: Callable[..., str]) -> str:
    """Percent-encode: + as %2B always, and a space as %20 in a query, where some read + as itself."""
    return urlencode(fields, encoding=charset, errors="replace", quote_via=coded)


def _address(template: str, values: Mapping[str, str]) -> str:
    """Fill an address: what is an address itself stays as it is, any other value is percent-encoded."""
    coded = {
        name: value if name in ("url", "hooks") else quote(value, safe="") for name, value in values.items()
    }
    return templates.fill(template, coded)


def _in_xml(value: str) -> str:
    """Escape for text and for attributes alike."""
    return quoteattr(value, {'"': "&quot;", "'": "&apos;"})[1:-1]


def outcome_of(profile: Profile, answer: Envelope, own_id: str, now: datetime) -> Outcome:
    """Tell what an answer means for the text `own_id`. `now` is machine time: a Retry-After may be a date."""
    reason = f"answered {answer.status}"
    match _meaning(profile, answer):
        case "accepted":
            return Accepted(_ref(profile, answer) or own_id)
        case "temporary":
            return Temporary(reason, retry_after(answer.headers.get("retry-after", ""), now))
        case "denied":
            return Denied(reason)
        case "opted_out":
            return OptedOut()
        case "unknown":
            return no_answer(profile, own_id, reason)
        case other:
            return Permanent(reason, number=other == "number")


def no_answer(profile: Profile, own_id: str, reason: str) -> Outcome:
    """Tell what follows when nobody knows whether the text was taken."""
    return Accepted(own_id) if profile.wire.after_no_answer == "wait" else Unknown(reason)


def too_long(profile: Profile, text: OutboundText) -> Outcome | None:
    """Refuse what the gateway would cut off silently; None where it fits."""
    most = profile.wire.send.most_segments
    if most is None or count(text.text).segments <= most:
        return None
    return Permanent(f"longer than the {most} parts that this gateway carries")


def _meaning(profile: Profile, answer: Envelope) -> str:
    for rule in profile.wire.answer:
        if rule.fits(answer):
            return rule.means
    status = answer.status
    if 200 <= status < 300:
        return "accepted"
    if status in _TEMPORARY or status >= 500:
        return "temporary"
    return "denied" if status in _DENIED or status < 400 else "permanent"


def _ref(profile: Profile, answer: Envelope) -> str | None:
    ref = profile.wire.ref
    return None if ref == "own" else ref.find(answer)


def retry_after(value: str, now: datetime) -> timedelta | None:
    """Read a Retry-After of seconds or a date (RFC 9110, section 10.2.3); None if it is neither."""
    try:
        if value.isascii() and value.isdigit():
            return timedelta(seconds=int(value[:9]))
        return max(timedelta(), parsedate_to_datetime(value) - now)
    except (ValueError, TypeError, OverflowError):
        return None

"""An HTTP message as somebody pastes it from a page or a log: text comes in, an `Envelope` goes out.

Taken are a whole message (first line, headers, empty line, body), an address with its query, or a bare body.
"""

from __future__ import annotations

import re
from urllib.parse import urlsplit

from bot.gateway.places import Envelope

_ASKED = re.compile(r"(GET|POST|PUT) (\S+)(?: HTTP/[\d.]+)?")
_ANSWERED = re.compile(r"(?:HTTP/[\d.]+ )?([1-5]\d\d)\b ?(.*)")
_HEADER = re.compile(r"([A-Za-z0-9-]+): ?(.*)")


def pasted_hook(text: str) -> Envelope:
    """Read a request that a gateway makes to us."""
    first, _, rest = text.strip().partition("\n")
    asked = _ASKED.fullmatch(first.strip())
    if asked:
        address = urlsplit(asked[2])
        headers, body = _split(rest)
        return Envelope(body, headers, address.query.encode(), method=asked[1], path=address.path)
    if re.fullmatch(r"(https?://|/)\S+", first.strip()):
        return Envelope(query=urlsplit(first.strip()).query.encode(), method="GET")
    headers, body = _split(text.strip())
    return Envelope(body, headers, method="POST")


def pasted_answer(text: str) -> Envelope:
    """Read what a gateway answered to us; 200 where no status stands at the beginning."""
    first, _, rest = text.strip().partition("\n")
    answered = _ANSWERED.fullmatch(first.strip())
    if not answered:
        headers, body = _split(text.strip())
        return Envelope(body, headers, status=200)
    headers, body = _split(rest)
    is_line = first.startswith("HTTP/")
    return Envelope(body if is_line or body else answered[2].encode(), headers, status=int(answered[1]))


def _split(text: str) -> tuple[dict[str, str], bytes]:
    """Headers as long as lines look like headers; what follows is the body."""
    headers: dict[str, str] = {}
    lines = text.replace("\r\n", "\n").split("\n")
    while lines and (header := _HEADER.fullmatch(lines[0])):
        headers[header[1].lower()] = header[2].strip()
        lines.pop(0)
    return headers, "\n".join(lines).strip("\n").encode()

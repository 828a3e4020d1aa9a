"""How much a text costs to send: a text comes in, its encoding, units and segments come out.

Sources: 3GPP TS 23.038, 6.2.1 and 6.2.1.1 (the GSM 7-bit default alphabet and its extension table);
3GPP TS 23.040, 9.2.3.24.1 (parts of a long message, with an 8-bit reference). A gateway that uses 16-bit
references may need one part more. National language tables are never counted on: few phones know them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal
from unicodedata import normalize

Encoding = Literal["GSM-7", "UCS-2"]

_BASIC = frozenset(
    "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ"
    " !\"#¤%&'()*+,-./0123456789:;<=>?"
    "¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§"
    "¿abcdefghijklmnopqrstuvwxyzäöñüà"
)
_ESCAPED = frozenset("\f^{}\\[~]|€")
_GSM = _BASIC | _ESCAPED

# Units that fit into a message of one part, and into each part of a longer one.
_ROOM: dict[Encoding, tuple[int, int]] = {"GSM-7": (160, 153), "UCS-2": (70, 67)}

# What word processors put in; each has a plain twin that reads the same.
_PLAIN = str.maketrans({
    "\u2018": "'", "\u2019": "'", "\u02bc": "'", "\u201a": "'", "\u201b": "'", "\u2032": "'",
    "\u201c": '"', "\u201d": '"', "\u201e": '"', "\u201f": '"', "\u2033": '"',
    "\u2010": "-", "\u2011": "-", "\u2012": "-", "\u2013": "-", "\u2014": "-", "\u2015": "-", "\u2212": "-",
    "\u00a0": " ", "\u2009": " ", "\u202f": " ", "\u2026": "...", "\t": " ",
})  # fmt: skip


@dataclass(frozen=True, slots=True)
class Segments:
    """`units` are septets (GSM-7) or 16-bit units (UCS-2); `segments` is the number of messages paid for."""

    encoding: Encoding
    units: int
    segments: int


def count(text: str) -> Segments:
    """Count a text exactly as given. An empty text is one segment of no units."""
    encoding: Encoding = "GSM-7" if _GSM.issuperset(text) else "UCS-2"
    sizes = list(_sizes(text, encoding))
    units = sum(sizes)
    whole, part = _ROOM[encoding]
    return Segments(encoding, units, 1 if units <= whole else _parts(sizes, part))


def sendable(text: str) -> str:
    """Give the text as it is sent: composed (NFC), and with typographic quotes, dashes and spaces made plain
    where that alone brings it into GSM-7 and makes it no longer. Letters are never changed."""
    composed = normalize("NFC", text)
    plain = composed.translate(_PLAIN)
    helps = _GSM.issuperset(plain) and count(plain).segments <= count(composed).segments
    return plain if helps else composed


def _sizes(text: str, encoding: Encoding) -> Iterator[int]:
    """Give the units of each character; one of two (an escape pair, a surrogate pair) is never split."""
    if encoding == "GSM-7":
        return (2 if char in _ESCAPED else 1 for char in text)
    return (2 if ord(char) > 0xFFFF else 1 for char in text)


def _parts(sizes: list[int], room: int) -> int:
    parts, used = 1, 0
    for size in sizes:
        if used + size > room:
            parts, used = parts + 1, 0
        used += size
    return parts

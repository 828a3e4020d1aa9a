"""A number written in digits, as one token."""

import unicodedata

import regex

from bot.core.reader.phrases import NUMBER
from bot.core.reader.tokens.token import Token

_FRACTIONS = {"½": 0.5, "¼": 0.25, "¾": 0.75}


def number(piece: str, start: int, end: int, spaced: bool) -> Token:
    """The token of these digits, with fractions, and both parts of '6,5' or '7/10'."""
    if not all(c.isdecimal() or c in _FRACTIONS or c in "., /" for c in piece):
        # A digit of a script newer than this Python: nobody can tell its value.
        return Token("sign", piece, start, end, spaced=spaced)
    if piece[-1] in _FRACTIONS and piece[:-1].strip().isdecimal():
        return Token("number", piece, start, end, (NUMBER,), _part(piece), spaced=spaced)
    if " " in piece:  # 2 1/2
        whole, part = piece.split(" ", 1)
        over, under = part.split("/")[:2]
        return Token(
            "number", piece, start, end, (NUMBER,), float(whole) + int(over) / int(under), spaced=spaced
        )
    digits = regex.split(r"[.,/]", piece)
    if len(digits) == 1:
        return Token("number", piece, start, end, (NUMBER,), _part(piece), spaced=spaced)
    parts = tuple(_part(d) for d in digits)
    sep = next(c for c in piece if c in ".,/")
    value: float | None = None
    if len(parts) == 2:
        if sep in ".," and all(d.isdecimal() for d in digits):
            value = float(f"{digits[0][:15]}.{digits[1][:6]}")
        elif parts == (1.0, 2.0):
            value = 0.5
    return Token("number", piece, start, end, (NUMBER,), value, parts, sep, spaced=spaced)


def _part(digits: str) -> float:
    """One number of several, such as the '8¾' of '8¾,9'."""
    if digits[-1:] in _FRACTIONS:
        return float(digits[:-1][:15] or 0) + _FRACTIONS[digits[-1]]
    return float(digits[:15] or 0)


def sign(piece: str, start: int, end: int, spaced: bool) -> Token:
    """A sign, or the number that a sign such as a circled digit stands for."""
    value = unicodedata.numeric(piece, None) if len(piece) == 1 and not piece.isascii() else None
    if value is None:
        return Token("sign", piece, start, end, spaced=spaced)
    return Token("number", piece, start, end, (NUMBER,), float(value), spaced=spaced)


def ethiopic(piece: str) -> float:
    """Ethiopic numbers add up: ፲፪ is 10 and 2. Before a hundred they count hundreds."""
    total = 0.0
    for sign in piece:
        value = unicodedata.numeric(sign)
        total = (total or 1) * value if value == 100 else total + value
    return total

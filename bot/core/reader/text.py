"""Any text a phone can send in, plain comparable letters out, with a map back to the original.

Folding makes what one person writes in twenty ways equal: composed and decomposed letters, capitals, digits
of every script, Arabic letter variants and vowel marks, accents on Latin letters, look-alike Cyrillic
letters, invisible direction marks, Ethiopic letters of one sound, dots that Hindi and Bengali may leave out.
NFC is the base and never a blind NFKC, which would turn '8²' into '82'.
"""

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

import regex

_ETHIOPIC_STOP = "\u1361\u1361"  # two word dividers, for want of the sign itself
_CLUSTER = regex.compile(rf"{_ETHIOPIC_STOP}|[\s\S][\p{{M}}\u1160-\u11ff]*")

# Keycap and emoji style, zero-width signs, direction marks, soft hyphen, tatweel: never part of a word.
_INVISIBLE = (
    {0xFE0E, 0xFE0F, 0x20E3, 0x061C, 0xFEFF, 0x00AD, 0x0640}
    | set(range(0x200B, 0x2010))
    | set(range(0x202A, 0x202F))
    | set(range(0x2060, 0x206A))
)
_ARABIC_MARKS = (
    set(range(0x0610, 0x061B)) | set(range(0x064B, 0x0660)) | {0x0670} | set(range(0x06D6, 0x06EE))
)

_LETTERS = {
    **dict.fromkeys("أإآٱ", "ا"), "ى": "ي", "ی": "ي", "ې": "ي", "ئ": "ي", "ؤ": "و", "ة": "ه", "ہ": "ه",
    "ھ": "ه", "ە": "ه", "ۃ": "ه", "ۂ": "ه", "ڪ": "ك", "ں": "ن",
    "ۀ": "ه", "ک": "ك", "گ": "ك", "ڭ": "ك", "ڤ": "ف", "پ": "ب", "چ": "ج",
    "ɗ": "d", "ɓ": "b", "ƙ": "k", "ƴ": "y", "ø": "o", "đ": "d", "ł": "l", "ı": "i",
    "‘": "'", "’": "'", "ʼ": "'", "`": "'", "´": "'", "“": '"', "”": '"', "«": '"', "»": '"',
    "–": "-", "—": "-", "−": "-", "‐": "-", "‑": "-", "‒": "-", "～": "~", "∼": "~",
    "،": ",", "、": ",", "٬": ",", "٫": ".", "؛": ";", "؟": "?", "۔": ".", "।": ".", "…": ".", "։": ".",
    "።": ".",
    "×": "x", "✕": "x", "✖": "x", "⁄": "/", "🔟": "10", "\u00a0": " ", "\u202f": " ",
}  # fmt: skip
# Hindi and Bengali: the nasal sign with or without its half moon, letters with or without a dot; signs that
# Bengali shares with Assamese.
_INDIC = {
    "\u0901": "\u0902", "\u093c": "", "\u0929": "\u0928", "\u0931": "\u0930", "\u0934": "\u0933",
    "\u0981": "", "\u09ce": "\u09a4\u09cd", "\u09f0": "\u09b0", "\u09f1": "\u09ac",
}  # fmt: skip


def _row(first: str, like: str) -> dict[str, str]:
    """The seven vowels of one Ethiopic letter as those of another."""
    return {chr(ord(first) + n): chr(ord(like) + n) for n in range(7)}


# Ethiopic letters that Amharic speaks, and people write, alike; the fourth vowel of h and a like the first.
_ETHIOPIC = {
    **_row("ሐ", "ሀ"), **_row("ኀ", "ሀ"), **_row("ሠ", "ሰ"), **_row("ዐ", "አ"), **_row("ፀ", "ጸ"),
    **dict.fromkeys("ሃሓኃ", "ሀ"), **dict.fromkeys("ኣዓ", "አ"), "ዉ": "ው", "ሧ": "ሷ",
    "፡": " ", "።": ".", "፣": ",", "፤": ";", "፥": ",", "፦": ":", "፧": "?", "፨": ".",
}  # fmt: skip
_LETTERS |= _INDIC | _ETHIOPIC
# Letters that look the same in Cyrillic and Latin: some phones and filters swap them.
_LOOKALIKES = dict(zip("асеорхуіјѕԁтнмкв", "aceopxyijsdthmkb", strict=True))
_ARABIC_FORMS = (*range(0xFB50, 0xFDFE), *range(0xFE70, 0xFEFD))  # letters in the shape of one place


@dataclass(frozen=True, slots=True)
class Folded:
    """Folded text; character i of `text` came from original[starts[i]:ends[i]]."""

    text: str
    starts: Sequence[int]
    ends: Sequence[int]


def fold(original: str) -> Folded:
    """Fold a reply. ASCII keeps its length, so its map is the identity."""
    if original.isascii():
        return Folded(original.lower(), range(len(original)), range(1, len(original) + 1))
    pieces: list[str] = []
    starts: list[int] = []
    ends: list[int] = []
    for start, end, cluster in _clusters(original):
        piece = _FOLDED.get(cluster)
        if piece is None:
            piece = _fold_cluster(cluster)
            if len(_FOLDED) < 20_000:
                _FOLDED[cluster] = piece
        pieces.append(piece)
        starts.extend([start] * len(piece))
        ends.extend([end] * len(piece))
    return Folded("".join(pieces), starts, ends)


def fold_words(text: str) -> str:
    """The folded text alone, spaces squeezed, apostrophes dropped: the form in which word lists are kept."""
    return " ".join(fold(text).text.replace("'", "").split())


def _clusters(original: str) -> list[tuple[int, int, str]]:
    return [(m.start(), m.end(), m.group()) for m in _CLUSTER.finditer(original)]


def _fold_cluster(cluster: str) -> str:
    if cluster == _ETHIOPIC_STOP:
        return "."
    return "".join(_fold_character(c) for c in unicodedata.normalize("NFC", cluster).casefold())


def _fold_character(c: str) -> str:
    code = ord(c)
    if code in _INVISIBLE or code in _ARABIC_MARKS:
        return ""
    if c in _LETTERS:
        return _LETTERS[c]
    if c in _LOOKALIKES:
        return _LOOKALIKES[c]
    digit = unicodedata.decimal(c, None)
    if digit is not None:
        return str(int(digit))
    if code in _ARABIC_FORMS:
        plain = unicodedata.normalize("NFKC", c)
        return "".join(map(_fold_character, plain)) if plain != c else c
    if 0xFF01 <= code <= 0xFF5E:  # full-width ASCII
        return chr(code - 0xFEE0).lower()
    return _fold_symbol(c, code)


def _fold_symbol(c: str, code: int) -> str:
    if "LATIN" in unicodedata.name(c, ""):
        return "".join(x for x in unicodedata.normalize("NFD", c) if not unicodedata.combining(x))
    if unicodedata.category(c) == "Mn" and code < 0x0370:  # a stray accent
        return ""
    return c


_FOLDED: dict[str, str] = {}

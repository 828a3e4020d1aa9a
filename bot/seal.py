"""Sealing of personal values, and the keyed hashes by which sealed values can still be found.

A sealed value is one byte with the length of its key's id, that id, a nonce of 12 random bytes, then
AES-GCM's ciphertext with its tag (NIST SP 800-38D). Row id and column are authenticated with it: a value
copied to another row or column does not open. Nonces are random, so one key should seal at most 2^32 values
(same document, section 8.3); a new first key takes over then, and the old one goes on opening.
"""

from __future__ import annotations

import base64
import binascii
import hmac
import os
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field
from uuid import UUID

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

from bot.core.errors import DunnockError, Invalid, Problem

_NONCE = 12
_TOKEN = 16  # 128 bits: two numbers sharing one by chance is not to be expected below 2^64 numbers
_LINK = 8  # 64 bits: a link is tried over the network only, and costs a text its room
_START = 3
_KEY_LENGTHS = (16, 24, 32)
_MIN_PHONE_KEY = 32
# Letters that people write either way in Arabic names; accents are already gone when this is applied.
_SAME_LETTER = str.maketrans({"ة": "ه", "ى": "ي", "ـ": None, "ٱ": "ا"})


class SealBroken(DunnockError):
    """A sealed value does not open: its key is missing, or it was altered or moved to another place."""


@dataclass(frozen=True, slots=True)
class Sealer:
    """Seals with the first of its keys and opens with any. `repr` shows the ids of the keys only."""

    sealing: str
    ciphers: Mapping[str, AESGCM] = field(repr=False)
    hash_key: bytes = field(repr=False)

    @classmethod
    def from_text(cls, seal_keys: str, phone_key: str) -> Sealer:
        """Read `id:base64,id:base64` and the base64 key of the hashes; raise Invalid with every fault."""
        problems: list[Problem] = []
        ciphers: dict[str, AESGCM] = {}
        for number, entry in enumerate(seal_keys.split(","), start=1):
            name, _, text = entry.strip().partition(":")
            key = _from_base64(text)
            if not name or len(name.encode()) > 255 or name in ciphers:
                problems.append(Problem("seal_keys", f"key {number} needs an id of its own before a colon"))
            elif len(key) not in _KEY_LENGTHS:
                problems.append(Problem("seal_keys", f"key {number} must be 16, 24 or 32 bytes in base64"))
            else:
                ciphers[name] = AESGCM(key)
        hash_key = _from_base64(phone_key)
        if len(hash_key) < _MIN_PHONE_KEY:
            problems.append(Problem("phone_key", f"must be at least {_MIN_PHONE_KEY} bytes in base64"))
        if problems:
            raise Invalid(problems)
        return cls(next(iter(ciphers)), ciphers, hash_key)

    def seal(self, text: str, row_id: UUID, column: str) -> bytes:
        """Seal `text` for one place: the row `row_id` and `column` ('table.column')."""
        name, nonce = self.sealing.encode(), os.urandom(_NONCE)
        sealed = self.ciphers[self.sealing].encrypt(nonce, text.encode(), _place(row_id, column))
        return bytes((len(name),)) + name + nonce + sealed

    def open(self, sealed: bytes, row_id: UUID, column: str) -> str:
        """Open what `seal` gave for the same place; raise SealBroken where it does not fit."""
        start = 1 + sealed[0] if sealed else 0
        cipher = self.ciphers.get(sealed[1:start].decode("utf-8", "replace"))
        if cipher is None:
            raise SealBroken(f"The key of {column} of {row_id} is not among DUNNOCK_SEAL_KEYS.")
        nonce, body = sealed[start : start + _NONCE], sealed[start + _NONCE :]
        try:
            return cipher.decrypt(nonce, body, _place(row_id, column)).decode()
        except (InvalidTag, ValueError) as error:
            raise SealBroken(f"{column} of {row_id} was altered, or belongs to another row.") from error

    def phone_key(self, e164: str) -> bytes:
        """Give the keyed hash under which a number is found (HMAC-SHA256, RFC 2104, cut to 16 bytes)."""
        return self._hash("phone", e164)

    def fingerprint(self, text: str) -> str:
        """Give a keyed hash that tells whether two texts are the same, and nothing else."""
        return self._hash("same", text).hex()

    def link_token(self, what: str, row_id: UUID) -> str:
        """Give a link's key to one row: who does not hold the keys of this service can't make one."""
        signed = row_id.bytes + self._hash(what, row_id.hex)[:_LINK]
        return base64.urlsafe_b64encode(signed).decode().rstrip("=")

    def linked(self, what: str, token: str) -> UUID | None:
        """Give the row that a link's key opens; None for anything that `link_token` did not give."""
        try:
            signed = base64.urlsafe_b64decode(token + "=" * (-len(token) % 4))
            row_id = UUID(bytes=signed[:16])
        except (ValueError, binascii.Error):
            return None
        return row_id if hmac.compare_digest(self.link_token(what, row_id), token) else None

    def name_tokens(self, name: str) -> frozenset[bytes]:
        """Give the keyed hashes under which `name` is found: each folded word and its first 3 letters."""
        words = fold_name(name)
        return frozenset(self._hash("name", part) for word in words for part in (word, word[:_START]))

    def search_tokens(self, words: str) -> frozenset[bytes]:
        """Give one token for each word of a search, that of its first 3 letters. A name that holds them all
        is a candidate; what was typed beyond is compared after opening."""
        return frozenset(self._hash("name", word[:_START]) for word in fold_name(words))

    def _hash(self, what: str, text: str) -> bytes:
        return hmac.digest(self.hash_key, f"{what}\x1f{text}".encode(), "sha256")[:_TOKEN]


def fold_name(name: str) -> tuple[str, ...]:
    """Give the words of a name as they are compared: no case, accents, vowel marks or punctuation."""
    marked = unicodedata.normalize("NFKD", name.casefold())
    bare = "".join(sign for sign in marked if not unicodedata.combining(sign)).translate(_SAME_LETTER)
    return tuple("".join(sign if sign.isalnum() else " " for sign in bare).split())


def _place(row_id: UUID, column: str) -> bytes:
    return row_id.bytes + column.encode()


def _from_base64(text: str) -> bytes:
    try:
        return base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError):
        return b""

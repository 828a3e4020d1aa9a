"""Whose words are approved: a named person signs a language; until then a person reads every reply in it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import date

from sqlalchemy import Connection

from bot.content.signing import language_digest
from bot.core.errors import Invalid, Problem
from bot.store.values import language_signatures, sign_language


@dataclass(frozen=True, slots=True)
class Signature:
    """Who signed, as what, under which number of which register, when, and what exactly (a hash)."""

    by: str
    role: str
    registration: str
    on: str
    sha256: str


def sign(conn: Connection, code: str, by: str, role: str, registration: str, on: date) -> Signature:
    """Keep a signature over a language as it stands now. Raises Invalid with every missing part."""
    signature = signed(by, role, registration, on, language_digest(code))
    sign_language(conn, code, asdict(signature))
    return signature


def signed(by: str, role: str, registration: str, on: date, sha256: str) -> Signature:
    """Make a signature. Raises Invalid with every missing part."""
    given = {"name": by, "role": role, "registration": registration}
    problems = [
        Problem(field, "Say who signs: name, role, registration.")
        for field, v in given.items()
        if not v.strip()
    ]
    if problems:
        raise Invalid(problems)
    return Signature(by.strip(), role.strip(), registration.strip(), on.isoformat(), sha256)


def signature_of(conn: Connection, code: str) -> tuple[Signature | None, bool]:
    """Give the last signature of a language, and whether nothing has changed since."""
    found = language_signatures(conn).get(code)
    if found is None:
        return None, False
    signature = Signature(**found)
    return signature, signature.sha256 == language_digest(code)


def unsigned(conn: Connection, codes: Iterable[str]) -> frozenset[str]:
    """Give the languages whose words nobody has signed as they stand now."""
    return frozenset(code for code in codes if not signature_of(conn, code)[1])

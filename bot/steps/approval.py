"""Whether a clinical lead has signed what mothers are asked, told and escalated for, as it stands now."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from datetime import date, datetime

from sqlalchemy import Connection

from bot.content.factory import Factory
from bot.content.languages import native
from bot.content.pack import pack, pack_digest
from bot.core.follow import Content
from bot.steps.content import OVERLAY, RULES, SCHEDULE
from bot.steps.languages import Signature, signed
from bot.store import editions
from bot.store.values import content_signature, sign_content

_SIGNED = (RULES, SCHEDULE, OVERLAY)


def content_digest(conn: Connection, now: datetime) -> str:
    """Give the hash of what is in force: the files of the program, and the editions published here."""
    return pack_digest(
        f"{kind}:{name}:{edition.sha256}"
        for kind in _SIGNED
        for name, edition in editions.in_force(conn, kind, now).items()
    )


def approve(conn: Connection, by: str, role: str, registration: str, on: date, now: datetime) -> Signature:
    """Keep a signature over the content in force. Raises Invalid with every missing part."""
    signature = signed(by, role, registration, on, content_digest(conn, now))
    sign_content(conn, asdict(signature))
    return signature


def approval(conn: Connection, now: datetime) -> tuple[Signature | None, bool]:
    """Give the last signature, and whether nothing has changed since."""
    found = content_signature(conn)
    if found is None:
        return None, False
    signature = Signature(**found)
    return signature, signature.sha256 == content_digest(conn, now)


def is_approved(conn: Connection, now: datetime) -> bool:
    return approval(conn, now)[1]


def pack_lines(
    conn: Connection, factory: Factory, content: Content, languages: tuple[str, ...], now: datetime
) -> Iterator[str]:
    """Give the page that is signed, with its hash and who signed it."""
    signature, is_current = approval(conn, now)
    digest = content_digest(conn, now)
    yield from ["# What this service asks, says and escalates", "", f"Hash of the content: {digest}"]
    if signature is None:
        yield "Nobody has signed it: numbers of real mothers are refused."
    elif is_current:
        yield f"Signed by {signature.by}, {signature.role}, {signature.registration}, on {signature.on}."
    else:
        yield f"Changed since {signature.by} signed on {signature.on}: numbers of real mothers are refused."
    yield from ["", "Follow your local protocol and licensed practice. This is no emergency service.", ""]
    chosen = [tag for tag in factory.texts.tags if not languages or native(tag) in languages]
    yield from pack(
        content.rules, content.local_rules, content.occasions, content.schedule, factory.texts, chosen
    )

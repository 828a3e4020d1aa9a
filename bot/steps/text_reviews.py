"""How far each text can be trusted: what its file says, and who signed it here as it stands now."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection

from bot.content.texts import Status, Texts
from bot.core.errors import Conflict, Invalid, NotFound, Problem
from bot.store.engine import Store
from bot.store.text_signatures import TextSignature, keep_text_signatures, text_signatures
from bot.store.viewer import Role, Viewer
from bot.store.words import note_text


@dataclass(frozen=True, slots=True)
class Review:
    """`by` says who signed, as what, and when; empty unless the status is `reviewed`."""

    status: Status
    by: str = ""

    @property
    def is_signed(self) -> bool:
        return self.status is Status.reviewed


Reviews = Callable[[str, str], Review]  # key and tag -> review


def text_reviews(conn: Connection, texts: Texts) -> Reviews:
    """Give what tells the review of any text; asked of the database once."""
    signed = text_signatures(conn)

    def review(key: str, tag: str) -> Review:
        status, by = texts.review(key, tag)
        if status is not Status.unreviewed or not signed:
            return Review(status, by)
        found = signed.get((tag, key, texts.digest(key, tag)))
        return Review(Status.reviewed, _words(found)) if found else Review(status)

    return review


def sign_text(
    store: Store,
    viewer: Viewer,
    texts: Texts,
    tag: str,
    key: str,
    *,
    seen: str,
    name: str,
    role: str,
    registration: str,
    speaks: bool,
    now: datetime,
) -> None:
    """Keep that a clinician who speaks the language approves a text as it was shown (`seen`, its hash).

    Raises NotAllowed below a lead, NotFound, Invalid with every missing part, Conflict where the text is
    another by now, or can't be signed as it stands
    """
    viewer.needs(Role.lead)
    if tag not in texts.tags or key not in texts.keys_of(tag):
        raise NotFound("There is no such text.")
    problems = [
        Problem(field, words)
        for field, given, words in (
            ("role", role, "Say what you are: nurse, midwife, doctor."),
            ("registration", registration, "Give your number in the register of your profession."),
        )
        if not given.strip()
    ]
    if not speaks:
        problems.append(Problem("speaks", "Only who speaks the language and has read the text may sign it."))
    if not speaks:
        problems.append(Problem("speaks", "Only who speaks the language and has read the text may sign it."))
    if problems:
        raise Invalid(problems)
    if texts.digest(key, tag) != seen:
        raise Conflict("The text has changed since you read it. Please read it again.")
    if texts.status(key, tag) in (Status.missing, Status.stale):
        raise Conflict("This text is not translated, or not from the English as it stands now.")
    by = viewer.person_id
    signature = TextSignature(tag, key, seen, by, name.strip(), role.strip(), registration.strip(), now)
    with store.write() as conn:
        keep_text_signatures(conn, [signature])
        note_text(conn, viewer, key, tag, now)


def sign_texts(
    conn: Connection, texts: Texts, tag: str, name: str, role: str, registration: str, now: datetime
) -> int:
    """Sign every text of a language that can be; give how many."""
    whole = _signable(texts, tag)
    keep_text_signatures(
        conn,
        [
            TextSignature(tag, key, texts.digest(key, tag), None, name, role, registration, now)
            for key in whole
        ],
    )
    return len(whole)


def _signable(texts: Texts, tag: str) -> list[str]:
    open_to_sign = (Status.unreviewed, Status.reviewed)
    return [key for key in texts.keys_of(tag) if texts.status(key, tag) in open_to_sign]


def _words(signature: TextSignature) -> str:
    return f"{signature.name}, {signature.role}, {signature.registration}, {signature.at:%Y-%m-%d}"

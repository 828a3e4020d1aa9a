"""Words out of real replies that staff propose for the reader, and what was decided about each.

A proposal is seen by those whose sites hold the pair that wrote the reply. Its words are sealed like the
reply; an approved phrase stands in an edition, in clear, and so must name nobody.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlalchemy import ColumnElement, Connection, insert, select, update

from bot.core.errors import Conflict, NotFound
from bot.core.ids import derived_id
from bot.store import tables as t
from bot.store.engine import sealer_of
from bot.store.rows import opened, part, sealed
from bot.store.viewer import Role, Viewer

_RECENT = 30


@dataclass(frozen=True, slots=True)
class Proposal:
    """`means` as in bot/content/local_words.py. `approved` is None until somebody decided."""

    id: UUID
    inbound: UUID
    enrolment: UUID
    language: str
    phrase: str
    means: str
    by: UUID
    at: datetime
    approved: bool | None
    decided_by: UUID | None
    decided_at: datetime | None
    why: str | None


def add_proposal(
    conn: Connection, viewer: Viewer, inbound: UUID, language: str, phrase: str, means: str, now: datetime
) -> UUID:
    """Keep a proposal and give its id; the same words with the same meaning from one reply are kept once.
    Whether the viewer may see the reply is for the caller to know."""
    by = viewer.person_id
    made = derived_id(now, inbound, "word", language, phrase, means)
    for each in _open_for(conn, inbound):
        if (each.language, each.phrase, each.means) == (language, phrase, means):
            return each.id
    row = {
        "id": made,
        "inbound": inbound,
        "language": language,
        "phrase": phrase,
        "means": means,
        "by": by,
        "at": now,
        "approved": None,
        "decided_by": None,
        "decided_at": None,
        "why": None,
    }
    conn.execute(insert(t.word_proposal).values(sealed(sealer_of(conn), t.word_proposal, row)))
    note_word(conn, viewer, made, "proposed", means, language, now)
    return made


def open_proposals(conn: Connection, viewer: Viewer) -> list[Proposal]:
    """Give what nobody has decided about yet, oldest first. For leads."""
    viewer.needs(Role.lead)
    found = _proposals(conn, t.word_proposal.c.approved.is_(None), _seen_by(viewer))
    return sorted(found, key=lambda each: (each.at, each.id))


def decided_proposals(conn: Connection, viewer: Viewer) -> list[Proposal]:
    """Give the last decisions, newest first. For leads."""
    viewer.needs(Role.lead)
    found = _proposals(conn, t.word_proposal.c.approved.is_not(None), _seen_by(viewer))
    newest = sorted(found, key=lambda each: (each.decided_at or each.at, each.id), reverse=True)
    return newest[:_RECENT]


def proposal_of(conn: Connection, viewer: Viewer, proposal: UUID) -> Proposal:
    """Give one proposal, locked, for somebody who decides. Raises NotFound, and Conflict where another has
    decided already."""
    viewer.needs(Role.lead)
    conn.execute(select(t.word_proposal.c.id).where(t.word_proposal.c.id == proposal).with_for_update())
    found = _proposals(conn, t.word_proposal.c.id == proposal, _seen_by(viewer))
    if not found:
        raise NotFound("There is no such proposal at your sites.")
    if found[0].approved is not None:
        raise Conflict("Somebody has decided about these words already.")
    return found[0]


def decide(
    conn: Connection,
    viewer: Viewer,
    proposal: Proposal,
    *,
    approved: bool,
    why: str,
    edition: int,
    now: datetime,
) -> None:
    """Keep what was decided, with its line in the audit. `edition` holds the words that were approved."""
    row = {"id": proposal.id, "approved": approved, "decided_by": viewer.person_id, "decided_at": now}
    row["why"] = why or None
    values = sealed(sealer_of(conn), t.word_proposal, row)
    conn.execute(update(t.word_proposal).where(t.word_proposal.c.id == proposal.id).values(values))
    after = "approved" if approved else "refused"
    note_word(conn, viewer, proposal.id, after, proposal.means, proposal.language, now, edition)


def note_word(
    conn: Connection,
    viewer: Viewer,
    subject: UUID,
    after: str,
    means: str,
    language: str,
    now: datetime,
    edition: int = 0,
) -> None:
    """Write into the audit what became of a word: its meaning and language, never the word."""
    line = {
        "at": now,
        "actor": str(viewer.person_id),
        "subject": subject,
        "what": "word",
        "from_state": "",
        "to_state": after,
        "why": means,
        "data": {"language": language} | ({"edition": edition} if edition else {}),
    }
    conn.execute(insert(t.event_log).values(line))


def note_text(conn: Connection, viewer: Viewer, key: str, tag: str, now: datetime) -> None:
    """Write into the audit that somebody signed a text."""
    line = {
        "at": now,
        "actor": str(viewer.person_id),
        "subject": viewer.person_id,
        "what": "text",
        "from_state": "",
        "to_state": "signed",
        "why": f"{tag}:{key}",
        "data": {},
    }
    conn.execute(insert(t.event_log).values(line))


def staff_names(conn: Connection, viewer: Viewer, ids: Iterable[UUID]) -> dict[UUID, str]:
    """Give the names of those who proposed or approved words, whatever their sites: they answer for them."""
    viewer.needs(Role.lead)
    rows = conn.execute(select(t.staff.c.id, t.staff.c.name).where(t.staff.c.id.in_(list(ids))))
    return {row.id: sealer_of(conn).open(row.name, row.id, "staff.name") for row in rows}


def _seen_by(viewer: Viewer) -> ColumnElement[bool]:
    return t.enrolment.c.site.in_(viewer.sites)


def _open_for(conn: Connection, inbound: UUID) -> list[Proposal]:
    return _proposals(conn, t.word_proposal.c.inbound == inbound, t.word_proposal.c.approved.is_(None))


def _proposals(conn: Connection, *which: ColumnElement[bool]) -> list[Proposal]:
    query = (
        select(t.word_proposal, t.inbound.c.enrolment)
        .join(t.inbound, t.inbound.c.id == t.word_proposal.c.inbound)
        .join(t.enrolment, t.enrolment.c.id == t.inbound.c.enrolment)
        .where(*which)
    )
    rows = (opened(sealer_of(conn), t.word_proposal, row._asdict()) for row in conn.execute(query))
    return [part(Proposal, row) for row in rows]

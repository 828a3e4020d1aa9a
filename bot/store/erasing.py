"""What is left of a pair when its record is no longer kept: no name, number, text or note, in no table.

States, dates, answers and triage stay under ids, for the counts of reports; a pair that was erased is never
loaded again. What strangers wrote goes after the same time. On PostgreSQL old versions of a row go with the
next vacuum, on SQLite at once (`secure_delete`; out of its log with `Store.empty_log`). Backups that you
keep hold what they held.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import (
    ColumnElement,
    Connection,
    Select,
    Table,
    bindparam,
    delete,
    insert,
    or_,
    select,
    update,
)

from bot.core.ids import first_id
from bot.core.states import EnrolmentState, EscalationState, InboundState, MessageState
from bot.store import tables as t
from bot.store.rows import sealed_columns

NOTHING = b""  # in a sealed column that can't be NULL
_WAITS = (MessageState.queued, MessageState.sending)
# Columns beside the sealed ones that tell who it is.
_ALSO: Mapping[Table, Mapping[str, Any]] = {
    t.baby: {"born_at": None},
    t.inbound: {"phone_key": None, "external_key": None},
    t.message: {"phone_key": NOTHING},
    t.question: {"phone_key": None},
    t.legal_hold: {"why": "", "released_why": ""},
}


def to_erase(conn: Connection, before: datetime, limit: int) -> list[UUID]:
    """Lock and give pairs whose follow-up ended before that, the longest ended first: with nothing open,
    nothing on its way, and no legal hold."""
    e = t.enrolment.c
    query = (
        select(e.id)
        .where(e.state == t.fixed(EnrolmentState.closed), e.erased_at.is_(None), e.closed_at < before)
        .where(*(~reason for reason in _reasons().values()))
        .order_by(e.closed_at)
        .limit(limit)
        .with_for_update(skip_locked=True)
    )
    return list(conn.scalars(query))


def what_keeps(conn: Connection, enrolment: UUID) -> str | None:
    """Say in a sentence why this pair can't be erased now; None where it can. Locks it."""
    e = t.enrolment.c
    found = conn.execute(
        select(e.state, e.erased_at).where(e.id == enrolment).with_for_update()
    ).one_or_none()
    if found is None or found.erased_at is not None:
        return f"There is no enrolment {enrolment}, or it was erased."
    if found.state is not EnrolmentState.closed:
        return "They are still followed. End the follow-up first."
    for words, reason in _reasons().items():
        if conn.scalar(select(e.id).where(e.id == enrolment, reason)) is not None:
            return words
    return None


def _reasons() -> Mapping[str, ColumnElement[bool]]:
    e, held, item, sent = t.enrolment.c, t.legal_hold.c, t.escalation.c, t.message.c
    is_open = item.state != t.fixed(EscalationState.closed)
    waits = sent.state.in_([t.fixed(each) for each in _WAITS])
    return {
        "A legal hold stands. Lift it first: dunnock hold ENROLMENT --release.": select(held.enrolment)
        .where(held.enrolment == e.id, held.released_at.is_(None))
        .exists(),
        "Something of theirs is open in the inbox. Close it first.": select(item.id)
        .where(item.enrolment == e.id, is_open)
        .exists(),
        "A text to her is on its way. Try again when it has gone.": select(sent.id)
        .where(sent.enrolment == e.id, waits)
        .exists(),
    }


def erase(conn: Connection, enrolments: Sequence[UUID], why: str, now: datetime) -> None:
    """Take every word of these pairs out of the database; that it was done stands in the audit."""
    if not enrolments:
        return
    _erase_alerts(conn, t.escalation.c.enrolment.in_(enrolments))
    replies = select(t.inbound.c.id).where(t.inbound.c.enrolment.in_(enrolments))
    _drop_proposals(conn, conn.scalars(replies).all())
    for table, where in _of_pairs(enrolments).items():
        _blank(conn, table, where)
    e = t.enrolment.c
    conn.execute(
        update(t.enrolment)
        .where(e.id == bindparam("of"))
        .values(external_id=bindparam("by_id"), erased_at=now),
        [{"of": each, "by_id": f"erased-{each}"} for each in enrolments],
    )
    conn.execute(delete(t.name_token).where(t.name_token.c.enrolment.in_(enrolments)))
    _erase_mothers(conn, enrolments)
    conn.execute(
        insert(t.event_log),
        [
            {"at": now, "actor": "retention", "subject": each, "what": "record", "from_state": "kept"}
            | {"to_state": "erased", "why": why, "data": {}}
            for each in enrolments
        ],
    )


def _of_pairs(enrolments: Sequence[UUID]) -> Mapping[Table, ColumnElement[bool]]:
    """Where the rows of these pairs stand, of every table that holds words about them."""

    def parents(table: Table) -> Select[tuple[UUID]]:
        return select(table.c.id).where(table.c.enrolment.in_(enrolments))

    owned = (t.baby, t.assessment, t.attempt, t.review, t.adverse_event, t.escalation, t.question)
    return {
        **{table: table.c.enrolment.in_(enrolments) for table in owned},
        t.receipt: t.receipt.c.message.in_(parents(t.message)),
        t.finding: t.finding.c.escalation.in_(parents(t.escalation)),
        t.reading: t.reading.c.inbound.in_(parents(t.inbound)),
        t.inbound: t.inbound.c.enrolment.in_(enrolments),
        t.message: t.message.c.enrolment.in_(enrolments),
        t.legal_hold: t.legal_hold.c.enrolment.in_(enrolments),
        t.enrolment: t.enrolment.c.id.in_(enrolments),
    }


def _erase_alerts(conn: Connection, items: ColumnElement[bool]) -> None:
    """What those on call were told about these items of the inbox, and who they were."""
    about = t.alert.c.escalation.in_(select(t.escalation.c.id).where(items))
    _erase_texts(conn, list(conn.scalars(select(t.alert.c.message).where(about))))
    _blank(conn, t.alert, about)


def _erase_texts(conn: Connection, texts: Sequence[UUID]) -> None:
    """Texts of no enrolment, by id. What one was made for once stays known by its own id."""
    _blank(conn, t.receipt, t.receipt.c.message.in_(texts))
    conn.execute(update(t.message).where(t.message.c.id.in_(texts)).values(_empty(t.message)))
    _renamed(conn, t.message, texts)


def _drop_proposals(conn: Connection, replies: Sequence[UUID]) -> None:
    """Words that a lead approved are words of the language; of the others nothing is kept."""
    p = t.word_proposal.c
    others = or_(p.approved.is_(None), p.approved.is_(False))
    conn.execute(delete(t.word_proposal).where(p.inbound.in_(replies), others))


def _blank(conn: Connection, table: Table, where: ColumnElement[bool]) -> None:
    conn.execute(update(table).where(where).values(_empty(table) | dict(_ALSO.get(table, {}))))


def _empty(table: Table) -> dict[str, bytes | None]:
    return {name: None if table.c[name].nullable else NOTHING for name in sealed_columns(table)}


def _erase_mothers(conn: Connection, enrolments: Sequence[UUID]) -> None:
    """A mother goes when no enrolment of hers is kept any more."""
    e = t.enrolment.c
    hers = select(e.mother).where(e.id.in_(enrolments))
    kept = select(e.mother).where(e.mother.in_(hers), e.erased_at.is_(None))
    gone = list(
        conn.scalars(select(t.mother.c.id).where(t.mother.c.id.in_(hers), t.mother.c.id.not_in(kept)))
    )
    conn.execute(delete(t.other_phone).where(t.other_phone.c.mother.in_(gone)))
    hers_alone = {"name": NOTHING, "age": None, "parity": None}
    conn.execute(update(t.mother).where(t.mother.c.id.in_(gone)).values(hers_alone))
    # That she had a number, and whether texts went to it, is still counted.
    had = t.mother.c.id.in_(gone), t.mother.c.phone.is_not(None)
    conn.execute(update(t.mother).where(*had).values(phone=NOTHING, phone_key=NOTHING))


# ---------------------------------------------------------------- strangers


def erase_strangers(conn: Connection, before: datetime, limit: int) -> int:
    """Erase what numbers that belong to nobody wrote before that, and what was written to them; gives how
    many replies. What is open in the inbox stays."""
    reply, item = t.inbound.c, t.escalation.c
    is_open = select(item.id).where(
        item.enrolment.is_(None),
        item.phone_key == reply.phone_key,
        item.state != t.fixed(EscalationState.closed),
    )
    query = (
        select(reply.id, reply.phone_key)
        .where(reply.enrolment.is_(None), reply.sender.is_not(None), reply.id < first_id(before))
        .where(reply.state != t.fixed(InboundState.stored), ~is_open.exists())
        .order_by(reply.id)
        .limit(limit)
        .with_for_update(skip_locked=True, of=t.inbound)
    )
    found = conn.execute(query).all()
    replies, keys = [row.id for row in found], {row.phone_key for row in found if row.phone_key}
    if replies:
        _blank(conn, t.reading, t.reading.c.inbound.in_(replies))
        _drop_proposals(conn, replies)
        _blank(conn, t.inbound, reply.id.in_(replies))
        _erase_answered(conn, keys, before)
    return len(replies)


def _erase_answered(conn: Connection, keys: set[bytes], before: datetime) -> None:
    """The closed items about these numbers, and the texts to them, of before that time."""
    item, sent = t.escalation.c, t.message.c
    old = item.enrolment.is_(None), item.phone_key.in_(keys), item.closed_at < before
    items = list(conn.scalars(select(item.id).where(*old)))
    _erase_alerts(conn, item.id.in_(items))
    _blank(conn, t.finding, t.finding.c.escalation.in_(items))
    _blank(conn, t.escalation, item.id.in_(items))
    _renamed(conn, t.escalation, items)
    old_texts = sent.enrolment.is_(None), sent.phone_key.in_(keys), sent.id < first_id(before)
    _erase_texts(conn, list(conn.scalars(select(sent.id).where(*old_texts, sent.state.not_in(_WAITS)))))


def _renamed(conn: Connection, table: Table, ids: Sequence[UUID]) -> None:
    """Put the row's own id where its number was found by: what must be there, and tells nothing."""
    if ids:
        changed = update(table).where(table.c.id == bindparam("of")).values(phone_key=bindparam("key"))
        conn.execute(changed, [{"of": each, "key": each.bytes} for each in ids])

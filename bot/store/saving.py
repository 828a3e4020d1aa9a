"""What differs between two states of pairs, written in batches: one statement for each set of columns.

Rows are compared as they stand in clear, so only what changed is sealed and written anew.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from uuid import UUID

from sqlalchemy import Connection, Table, bindparam, delete, insert, update

from bot.core.ids import derived_id
from bot.core.pair import CHASED, Pair
from bot.core.states import (
    CheckInState,
    EpisodeState,
    EscalationState,
    QuestionState,
    ReviewState,
    State,
)
from bot.seal import Sealer
from bot.store import rows
from bot.store import tables as t
from bot.store.engine import sealer_of
from bot.store.rows import Key, Row

Change = tuple[Pair | None, Pair]  # before (None: a new enrolment) and after

# Only one row of a pair may be in these states. Who leaves them is written before who enters.
_ONLY_ONE: Mapping[Table, Collection[State]] = {
    t.check_in: (CheckInState.open,),
    t.question: (QuestionState.asked, QuestionState.asked_again),
    t.escalation: (EscalationState.waiting, EscalationState.taken),
    t.episode: tuple(each for each in EpisodeState if each is not EpisodeState.closed),
    t.chase: tuple(CHASED),
    t.review: (ReviewState.expected,),
}


def save_pairs(conn: Connection, changes: Sequence[Change], now: datetime) -> None:
    """Write what differs between each `before` and `after`. A row is never forgotten: ValueError if `after`
    lacks one that `before` has. Load `before` with `lock=True` in the same transaction."""
    sealer = sealer_of(conn)
    batches = _Batches(sealer)
    for before, after in changes:
        batches.compare(before, after)
    for entering in (False, True):
        for (table, columns, enters), batch in batches.updates.items():
            if enters is entering:
                _update(conn, table, columns, batch)
    for table in rows.ORDER:
        if table in batches.inserts:
            conn.execute(insert(table), batches.inserts[table])
    _save_names(conn, sealer, changes)
    _keep_other_phones(conn, sealer, changes, now)


class _Batches:
    """Rows to insert by table, and to update by table, changed columns, and whether they enter a state that
    only one may be in."""

    def __init__(self, sealer: Sealer) -> None:
        self.sealer = sealer
        self.inserts: dict[Table, list[Row]] = defaultdict(list)
        self.updates: dict[tuple[Table, tuple[str, ...], bool], list[Row]] = defaultdict(list)

    def compare(self, before: Pair | None, after: Pair) -> None:
        old: dict[tuple[Table, Key], Row] = {}
        if before is not None:
            old = {(k.table, k.key): k.row for k in rows.rows_of(before, self.sealer.phone_key)}
        for keyed in rows.rows_of(after, self.sealer.phone_key):
            known = old.pop((keyed.table, keyed.key), None)
            if known is None:
                self.inserts[keyed.table].append(rows.sealed(self.sealer, keyed.table, keyed.row))
            elif known != keyed.row:
                self._change(keyed.table, known, keyed.row)
        if old:
            lost = ", ".join(f"{table.name} {key}" for table, key in old)
            raise ValueError(f"enrolment {after.id} lost rows: {lost}")

    def _change(self, table: Table, known: Row, row: Row) -> None:
        columns = tuple(name for name in row if row[name] != known[name])
        enters = row.get("state") in _ONLY_ONE.get(table, ())
        changed = {name: row[name] for name in (*rows.primary_key(table), *columns)}
        self.updates[table, columns, enters].append(rows.sealed(self.sealer, table, changed))


def _update(conn: Connection, table: Table, columns: Sequence[str], batch: Sequence[Row]) -> None:
    key = rows.primary_key(table)
    change = (
        update(table)
        .where(*(table.c[name] == bindparam(f"key_{name}") for name in key))
        .values({name: bindparam(f"new_{name}") for name in columns})
    )
    conn.execute(
        change,
        [{f"key_{n}": row[n] for n in key} | {f"new_{n}": row[n] for n in columns} for row in batch],
    )


def _save_names(conn: Connection, sealer: Sealer, changes: Sequence[Change]) -> None:
    """Keep the search tokens of the names of mother and babies."""
    renamed = [
        (before, after) for before, after in changes if before is None or _names(before) != _names(after)
    ]
    stale = [after.id for before, after in renamed if before is not None]
    if stale:
        conn.execute(delete(t.name_token).where(t.name_token.c.enrolment.in_(stale)))
    tokens = [
        {"enrolment": after.id, "token": token}
        for _, after in renamed
        for token in sorted(sealer.name_tokens(_names(after)))
    ]
    if tokens:
        conn.execute(insert(t.name_token), tokens)


def _names(pair: Pair) -> str:
    return " ".join((pair.mother.name, *(baby.name for baby in pair.babies)))


def _keep_other_phones(conn: Connection, sealer: Sealer, changes: Sequence[Change], now: datetime) -> None:
    kept = []
    for before, after in changes:
        second = after.extra.get("second_contact_phone")
        if before is None and second:
            kept.append(_other_phone(sealer, after.mother.id, second, "second_contact", now))
        if before is not None and before.mother.phone and before.mother.phone != after.mother.phone:
            kept.append(_other_phone(sealer, before.mother.id, before.mother.phone, "earlier", now))
    if kept:
        conn.execute(insert(t.other_phone), kept)


def _other_phone(sealer: Sealer, mother: UUID, phone: str, kind: str, now: datetime) -> Row:
    row = {
        "id": derived_id(now, mother, "phone", phone),
        "mother": mother,
        "phone": phone,
        "phone_key": sealer.phone_key(phone),
        "kind": kind,
        "since": now,
    }
    return rows.sealed(sealer, t.other_phone, row)

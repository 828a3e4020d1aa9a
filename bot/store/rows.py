"""A pair as rows of tables, and rows as the parts of a pair. Values of sealed columns stand in clear here.

A row is a dict of column -> value. Most columns carry the name of the dataclass's field; the exceptions stand
below. Rows of one list of a pair carry `seq`, their place in it, so that a pair comes back exactly as it was.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass
from datetime import time
from functools import cache
from typing import Any, TypeVar
from uuid import UUID

from sqlalchemy import Table

from bot.core.pair import Consent, Contact, Hours, Numbers, OnCall, Pair, Place, Site
from bot.seal import Sealer
from bot.store import tables as t
from bot.store.types import Sealed

Row = dict[str, Any]
Key = tuple[Any, ...]
T = TypeVar("T")

# Referred-to rows before those that refer to them.
ORDER: tuple[Table, ...] = (
    t.mother,
    t.enrolment,
    t.baby,
    t.assessment,
    t.contact,
    t.check_in,
    t.question,
    t.answer,
    t.escalation,
    t.finding,
    t.episode,
    t.chase,
    t.attempt,
    t.review,
)
_LOADED_ONLY = frozenset({"sent_at", "delivery"})  # of a question or episode: they belong to its text


@dataclass(frozen=True, slots=True)
class Keyed:
    """One row with its table and primary key."""

    table: Table
    row: Row

    @property
    def key(self) -> Key:
        return tuple(self.row[name] for name in primary_key(self.table))


@cache
def primary_key(table: Table) -> tuple[str, ...]:
    return tuple(column.name for column in table.primary_key)


@cache
def sealed_columns(table: Table) -> tuple[str, ...]:
    return tuple(column.name for column in table.columns if isinstance(column.type, Sealed))


def rows_of(pair: Pair, phone_key: Callable[[str], bytes]) -> Iterator[Keyed]:
    """Give every row of a pair, except what belongs to its site, and the tokens of its names."""
    phone = None if pair.mother.phone is None else phone_key(pair.mother.phone)
    mine = {"enrolment": pair.id}
    yield Keyed(t.mother, _plain(pair.mother) | {"phone_key": phone})
    yield Keyed(t.enrolment, _enrolment(pair))
    for baby in pair.babies:
        yield Keyed(t.baby, _plain(baby) | mine)
    yield from _listed(t.assessment, map(_plain, pair.assessments), mine)
    yield from _listed(t.contact, map(_contact, pair.contacts), mine)
    yield from _listed(t.check_in, (_plain(each, "questions") for each in pair.check_ins), mine)
    for check_in in pair.check_ins:
        asked = (_plain(each, *_LOADED_ONLY) for each in check_in.questions)
        yield from _listed(t.question, asked, mine | {"check_in": check_in.id, "phone_key": phone})
    yield from _listed(t.answer, map(_plain, pair.answers), mine)
    at_site = mine | {"site": pair.site.id}
    raised = (_plain(each, "findings") for each in pair.escalations)
    yield from _listed(t.escalation, raised, at_site | {"phone_key": None})
    for escalation in pair.escalations:
        yield from _listed(t.finding, map(_plain, escalation.findings), {"escalation": escalation.id})
    yield from _listed(t.episode, (_plain(each, *_LOADED_ONLY) for each in pair.episodes), mine)
    yield from _listed(t.chase, map(_plain, pair.chases), mine)
    yield from _listed(t.attempt, map(_plain, pair.attempts), mine)
    yield from _listed(t.review, map(_plain, pair.reviews), at_site)


def _listed(table: Table, rows: Iterable[Row], owner: Row) -> Iterator[Keyed]:
    for seq, row in enumerate(rows):
        yield Keyed(table, row | owner | {"seq": seq})


def _plain(value: Any, *without: str) -> Row:
    return {name: getattr(value, name) for name in field_names(type(value)) if name not in without}


def field_names(kind: type[Any]) -> tuple[str, ...]:
    return tuple(kind.__dataclass_fields__)


def _contact(contact: Contact) -> Row:
    row = _plain(contact)
    row["contact_key"] = row.pop("key")
    return row


def _enrolment(pair: Pair) -> Row:
    consent = asdict(pair.consent)
    row = {name: getattr(pair, name) for name in field_names(Pair) if name in t.enrolment.c}
    return row | {
        "mother": pair.mother.id,
        "site": pair.site.id,
        "consent_taken_by": consent.pop("taken_by"),
        "consent": consent,
        "extra": to_json(pair.extra),
    }


def consent_of(row: Mapping[str, Any]) -> Consent:
    return Consent(**row["consent"], taken_by=row["consent_taken_by"])


def site_row(site: Site) -> Row:
    """Give the row of a site; its closed days have their own table."""
    return _plain(site, "closed_days") | {
        "numbers": to_json(asdict(site.numbers)),
        "cover": [
            {"days": sorted(each.days), "since": each.since.isoformat(), "until": each.until.isoformat()}
            for each in site.cover
        ],
        "on_call": to_json([asdict(each) for each in site.on_call]),
        "places": to_json([asdict(each) for each in site.places]),
    }


def site_of(row: Mapping[str, Any], closed_days: Iterable[Any]) -> Site:
    cover = [
        Hours(frozenset(each["days"]), time.fromisoformat(each["since"]), time.fromisoformat(each["until"]))
        for each in row["cover"]
    ]
    on_call = [OnCall(**each) for each in json.loads(row["on_call"] or "[]")]
    places = [Place(**each | {"near": tuple(each["near"])}) for each in json.loads(row["places"] or "[]")]
    return part(
        Site,
        row,
        numbers=Numbers(**json.loads(row["numbers"])),
        closed_days=frozenset(closed_days),
        cover=tuple(cover),
        on_call=tuple(on_call),
        places=tuple(places),
    )


def part(kind: type[T], row: Mapping[str, Any], **given: Any) -> T:
    """Build one dataclass of a pair from an opened row; `given` are fields that it does not hold."""
    return kind(**{name: given[name] if name in given else row[name] for name in field_names(kind)})


def sealed(sealer: Sealer, table: Table, row: Row) -> Row:
    """Give the row as it is stored: its sealed columns sealed."""
    changed: Row = {}
    for name in sealed_columns(table):
        if row.get(name) is not None:
            changed[name] = sealer.seal(row[name], *_place(table, row, name))
    return row | changed


def opened(sealer: Sealer, table: Table, row: Mapping[str, Any]) -> Row:
    """Give a stored row with its sealed columns in clear. The row must hold its whole primary key."""
    changed = dict(row)
    for name in sealed_columns(table):
        if changed.get(name) is not None:
            changed[name] = sealer.open(changed[name], *_place(table, changed, name))
    return changed


def _place(table: Table, row: Mapping[str, Any], column: str) -> tuple[UUID, str]:
    """The row id and column that a value is sealed for; more parts of the key go with the column."""
    first, *rest = primary_key(table)
    return row[first], ".".join((table.name, column, *(str(row[name]) for name in rest)))


def to_json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, sort_keys=True, default=dict)


def from_json(text: str) -> Any:
    return json.loads(text)

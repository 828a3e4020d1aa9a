"""Mothers are enrolled: discharge details come in, from the form, the API or a file; each pair is stored with
what follows from it, or refused with every fault. The same external id again changes nothing."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal
from uuid import UUID

from sqlalchemy import Connection
from sqlalchemy.exc import IntegrityError

from bot.content.factory import load_factory
from bot.core.enrolment import Examined, Fault, Terms, differences, examine
from bot.core.enrolment.examination import PHONE_IN_USE
from bot.core.follow import Content
from bot.core.follow.events import Enrolled, Note
from bot.core.pair import Pair
from bot.core.plan import at_local, next_contact
from bot.core.schedule import Schedule
from bot.core.states import EnrolmentState
from bot.steps.approval import is_approved
from bot.steps.following import Change, followed, store_changes
from bot.store.engine import Store
from bot.store.enrolments import Key, known_enrolments, phones_in_use
from bot.store.pairs import load_pairs, load_sites

Source = Literal["form", "api", "csv"]

# Somebody else may store the same external id between our look and our writing; a second look finds it.
_TRIES = 3
_PHONE = "mother.phone"


@dataclass(frozen=True, slots=True)
class Door:
    """Through which door details come, and what holds there. `by` is the account or token, None for a
    command; `sites` are those whose mothers may be enrolled."""

    source: Source
    sites: Collection[UUID]
    languages: tuple[str, ...]
    demo: bool
    by: UUID | None = None

    @property
    def bedside(self) -> bool:
        """At the bedside she tries the practice text at once; else it waits for the day's hours."""
        return self.source == "form"


@dataclass(frozen=True, slots=True)
class Enrolment:
    """What became of one mother's details: refused with `faults`; or stored, now or (`already`) before, with
    the fields in which they differ from what is stored."""

    examined: Examined
    pair: Pair | None = None
    already: bool = False
    differs: tuple[str, ...] = ()

    @property
    def faults(self) -> tuple[Fault, ...]:
        return self.examined.faults if self.pair is None else ()


def enrol(store: Store, content: Content, door: Door, raw: object, now: datetime) -> Enrolment:
    """Enrol one mother."""
    return enrol_many(store, content, door, [raw], now)[0]


def enrol_many(
    store: Store, content: Content, door: Door, raws: Sequence[object], now: datetime
) -> list[Enrolment]:
    """Enrol many in one transaction and a fixed number of statements; what is refused stops no other."""
    for attempt in range(1, _TRIES + 1):
        try:
            with store.write() as conn:
                return _enrol_all(conn, content, door, raws, now)
        except IntegrityError:
            if attempt == _TRIES:
                raise
    raise AssertionError("unreachable")


def look_at(store: Store, content: Content, door: Door, raw: object, now: datetime) -> Examined:
    """Examine one mother's details as `enrol` would, and store nothing."""
    with store.read() as conn:
        found = examine(raw, _terms(conn, content, door, now), now)
        phone = _phone_of(found)
        return found.asking(_PHONE, PHONE_IN_USE) if phone and phones_in_use(conn, [phone]) else found


def _enrol_all(
    conn: Connection, content: Content, door: Door, raws: Sequence[object], now: datetime
) -> list[Enrolment]:
    terms = _terms(conn, content, door, now)
    examined = [examine(raw, terms, now) for raw in raws]
    # Phones first: whoever stores this very mother in between is then found below, and not taken for another.
    phones = phones_in_use(conn, {phone for each in examined if (phone := _phone_of(each))})
    standing = _standing(conn, examined)
    done, changes = [], []
    for each in examined:
        key = _key(each)
        stored = standing.get(key) if key else None
        if stored is not None:
            done.append(Enrolment(each, stored, already=True, differs=differences(each, stored)))
            continue
        change = _followed(each, phones, content, door, now)
        if isinstance(change, Examined):
            done.append(Enrolment(change))
            continue
        changes.append(change)
        standing[change.after.site.id, change.after.external_id] = change.after
        phones |= {change.after.mother.phone} if change.after.mother.phone else set()
        done.append(Enrolment(each, change.after))
    store_changes(conn, changes, now)
    return done


def _terms(conn: Connection, content: Content, door: Door, now: datetime) -> Terms:
    sites = {site.code: site for site in load_sites(conn, door.sites).values()}
    approved = door.demo or is_approved(conn, now)
    no_latin = load_factory().texts.no_latin
    return Terms(sites, door.languages, content.schedule.name, door.demo, approved, no_latin)


def _standing(conn: Connection, examined: Sequence[Examined]) -> dict[Key, Pair]:
    """The pairs that these details may be about, as they stand."""
    known = known_enrolments(conn, {key for each in examined if (key := _key(each))})
    pairs = {pair.id: pair for pair in load_pairs(conn, known.values(), lock=False)}
    return {key: pairs[found] for key, found in known.items()}


def _followed(
    each: Examined, phones: set[str], content: Content, door: Door, now: datetime
) -> Change | Examined:
    """The new pair with what follows, or the details with what is wrong with them."""
    taken = _phone_of(each) in phones
    if taken:
        each = each.asking(_PHONE, PHONE_IN_USE)
    if each.pair is None:
        return each
    pair = each.pair
    if taken:  # two mothers read what is sent there, so no text names anybody
        pair = replace(pair, mother=replace(pair.mother, phone_shared=True))
    change = followed(pair, Enrolled(door.bedside), content, now)
    who = Note("enrolled-by", "enrolment", after=change.after.state.value, why=door.source, by=door.by)
    return Change(None, change.after, (*change.effects, who))


def next_contact_at(pair: Pair, schedule: Schedule, now: datetime) -> datetime | None:
    """Give when the pair's next contact is due, at the site's clocks; None when there is none any more."""
    closed = pair.state is EnrolmentState.closed
    contact = None if closed else next_contact(pair, schedule, now)
    return contact.due_local if contact else None


def review_at(pair: Pair) -> datetime | None:
    """Give when the pair is expected at the site, at its clocks; None where a person phones instead."""
    review = pair.expected_review
    if review is None:
        return None
    return pair.local(at_local(review.on_day, review.at or pair.site.opens, pair.tz))


def _key(each: Examined) -> Key | None:
    return (each.site.id, each.external_id) if each.site and each.external_id else None


def _phone_of(each: Examined) -> str | None:
    phone: str | None = each.facts.get(_PHONE)
    return phone

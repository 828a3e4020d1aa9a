"""Stored replies become readings and what follows from them: gathered by phone, read, followed, stored.

A text that makes the program fail is set aside with an item for a person, and the queue goes on.
"""

from __future__ import annotations

import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from types import MappingProxyType
from uuid import UUID

from sqlalchemy import Connection

from bot.core.checkin import amended
from bot.core.escalation import News
from bot.core.follow import Content
from bot.core.follow.addressee import Addressee, addressees, also_concerned, said_once
from bot.core.follow.episodes import asked_of
from bot.core.follow.events import Event, RangUs, ReplyFailed, ReplyRead
from bot.core.pair import Pair
from bot.core.pair_facts import age_days
from bot.core.reader import Lexicon, Reading, read
from bot.core.reader.language import wished_language
from bot.core.states import Texting, Urgency
from bot.steps.following import Change, followed, store_changes
from bot.store.alerts import heed_from, wake_for_stranger
from bot.store.due import pairs_on_phones
from bot.store.engine import Store
from bot.store.inbound import Kind, Unread, mark_read, set_aside, unread
from bot.store.readings import keep_readings
from bot.store.strangers import raise_stranger

log = logging.getLogger(__name__)

Lexicons = Mapping[str, Lexicon]
FALLBACK = "en"  # every language's words hold the English ones too


def read_replies(
    store: Store,
    content: Content,
    lexicons: Lexicons,
    now: datetime,
    limit: int,
    *,
    language_names: Mapping[str, str] = MappingProxyType({}),
) -> int:
    """Read up to `limit` replies in one transaction; gives how many.

    language_names  folded names of languages -> code, by which a mother may ask for another one
    """
    with store.write() as conn:
        waiting = unread(conn, now, limit)
        heed_from(conn, list(waiting), now)
        pairs = pairs_on_phones(conn, list(waiting))
        batch = _Batch(content, lexicons, language_names, now)
        for phone_key, replies in waiting.items():
            batch.pairs.update({pair.id: pair for pair in pairs.get(phone_key, [])})
            ids = [pair.id for pair in pairs.get(phone_key, [])]
            for reply in replies:
                batch.take(reply, ids)
        batch.store(conn)
        return sum(map(len, waiting.values()))


@dataclass(slots=True)
class _Batch:
    """What one transaction reads, and what follows from it."""

    content: Content
    lexicons: Lexicons
    language_names: Mapping[str, str]
    now: datetime
    pairs: dict[UUID, Pair] = field(default_factory=dict)  # as they are by now
    changes: dict[UUID, Change] = field(default_factory=dict)
    readings: dict[UUID, tuple[Reading, int]] = field(default_factory=dict)  # and the edition of local words
    read: dict[UUID, UUID | None] = field(default_factory=dict)
    aside: dict[UUID, UUID | None] = field(default_factory=dict)
    strangers: list[tuple[Unread, str]] = field(default_factory=list)

    def take(self, reply: Unread, ids: Sequence[UUID]) -> None:
        """Follow one reply from a number that belongs to the pairs `ids` (none: a stranger)."""
        pairs = [self.pairs[each] for each in ids]
        if reply.kind is Kind.no_number:
            self._read_as(reply, None)  # a name or a short code: an advert, and nobody to call back
            return
        whose = addressees(pairs, reply.received_at, reply.sender)
        if reply.kind is Kind.missed_call:
            self._rings(reply, whose)
            return
        try:
            if reply.text is None:
                raise ValueError("the text can't be opened")
            events = [(each.pair, self._event(reply, reply.text, each)) for each in whose]
            if not whose:
                self._stranger(reply, reply.text)
            else:
                also = also_concerned(whose, pairs, events[0][1].reading)
                events += [(each.pair, self._event(reply, reply.text, each)) for each in also]
        except Exception:
            log.exception("reply %s could not be read", reply.id)  # ids only: her words stay hers
            self._fails(reply, [each.pair for each in whose])
            return
        said: set[str] = set()
        for pair, event in events:
            self._follow(pair, event, said)
        self._read_as(reply, whose[0].pair.id if len(whose) == 1 else None)

    def _read_as(self, reply: Unread, pair: UUID | None) -> None:
        self.read |= dict.fromkeys((reply.id, *reply.others), pair)

    def _rings(self, reply: Unread, whose: Sequence[Addressee]) -> None:
        for each in whose:
            self._follow(each.pair, RangUs(reply.id, reply.received_at, each.sure, each.hers), set())
        if not whose:
            self.strangers.append((reply, "unknown_number_rang"))
        self._read_as(reply, whose[0].pair.id if len(whose) == 1 else None)

    def _event(self, reply: Unread, text: str, whose: Addressee) -> ReplyRead:
        pair, question = whose.pair, whose.question
        asking = [question.key] if question else asked_of(pair) or _practising(pair)
        lexicon = self.lexicons.get(pair.mother.language, self.lexicons[FALLBACK])
        age = age_days(pair, pair.youngest, reply.received_at)
        reading = read(text, asking, age, lexicon)
        if "amends" in reading.notes and whose.hers:
            about = amended(pair, question, reply.received_at)
            if about is not None and about is not question:
                question, reading = about, read(text, [about.key], age, lexicon)
        self.readings.setdefault(reply.id, (reading, lexicon.edition))
        return ReplyRead(
            reply.id,
            reply.received_at,
            reading,
            question.id if question else None,
            whose.sure,
            whose.hers,
            wished_language(text, reading, lexicon, self.language_names) if whose.hers else "",
        )

    def _stranger(self, reply: Unread, text: str) -> None:
        """A number nobody knows: its language is not known either, so every one is tried for a danger."""
        for lexicon in self.lexicons.values():
            reading = read(text, (), None, lexicon)
            self.readings.setdefault(reply.id, (reading, lexicon.edition))
            if reading.danger_signs:
                self.readings[reply.id] = (reading, lexicon.edition)
                self.strangers.append((reply, "unknown_number_danger"))
                return

    def _fails(self, reply: Unread, pairs: Sequence[Pair]) -> None:
        self.aside |= dict.fromkeys((reply.id, *reply.others), pairs[0].id if len(pairs) == 1 else None)
        for pair in pairs:
            self._follow(pair, ReplyFailed(reply.id), set())
        if not pairs:
            self.strangers.append((reply, "reader_failed"))

    def _follow(self, pair: Pair, event: Event, said: set[str]) -> None:
        before = self.changes.get(pair.id)
        change = followed(pair, event, self.content, self.now)
        first = before.before if before else pair
        effects = (before.effects if before else ()) + said_once(change.effects, said)
        self.changes[pair.id] = Change(first, change.after, effects)
        self.pairs[pair.id] = change.after

    def store(self, conn: Connection) -> None:
        store_changes(conn, list(self.changes.values()), self.now)
        keep_readings(conn, self.readings, self.now)
        for reply, rule in self.strangers:
            news = News(rule, None, self.content.occasions[rule].urgency, reply.id)
            item, is_fresh = raise_stranger(conn, reply.phone_key, news, self.content.due, self.now)
            if is_fresh and item.urgency is Urgency.go_now:
                wake_for_stranger(conn, item.id, reply.sender or "", self.now)
        mark_read(conn, self.read)
        set_aside(conn, self.aside)


def _practising(pair: Pair) -> list[str]:
    """The bedside text asks for any answer at all."""
    return ["practice"] if pair.mother.texting is Texting.unverified else []

"""The service as it would be in a world without databases: pairs in a dict, texts in a dict, and a network
that answers at once. It decides nothing about a pair: that is `follow`, as in the real one. What it adds is
written as plainly as possible, so that the steps and the store can be measured against it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from uuid import UUID

from bot.content.factory import load_factory
from bot.core import checkin
from bot.core.follow import Content, follow
from bot.core.follow.addressee import addressees, also_concerned, said_once
from bot.core.follow.episodes import asked_of
from bot.core.follow.events import (
    Ask,
    Cancel,
    Delivered,
    Effect,
    Enrolled,
    Event,
    Replanned,
    ReplyRead,
    Say,
    Undelivered,
    Woke,
)
from bot.core.ids import derived_id
from bot.core.outbox import FINAL, REPORT_WAIT, after_receipt
from bot.core.pair import Episode, Pair, Question
from bot.core.pair_facts import age_days
from bot.core.plan import plan_stamp
from bot.core.reader import read
from bot.core.states import EnrolmentState, MessageState, Texting

_BEGINNINGS: Mapping[str, tuple[str, ...]] = {
    "all": ("",),
    "questions": ("ask-", "again-"),
    "review": ("review-",),
}


@dataclass(frozen=True, slots=True)
class Made:
    """A text that was made. `after` is the id of the one it waits for."""

    id: UUID
    pair: UUID
    text: Say | Ask
    phone: str
    after: UUID | None
    state: MessageState = MessageState.queued
    sent_at: datetime | None = None
    final_at: datetime | None = None
    told: bool = True


@dataclass
class PureWorld:
    content: Content
    now: datetime
    pairs: dict[UUID, Pair] = field(default_factory=dict)
    texts: dict[tuple[UUID, str], Made] = field(default_factory=dict)
    carried: dict[UUID, tuple[UUID, str]] = field(default_factory=dict)  # question -> its text
    refused: set[str] = field(default_factory=set)  # numbers that the network refuses for good

    # ---- what happens to it

    def enrol(self, pair: Pair) -> None:
        self.pairs[pair.id] = pair
        self._follow([pair.id], lambda _: Enrolled(bedside=True))

    def reply(self, inbound: UUID, phone: str, text: str) -> None:
        pairs = [self.load(each.id) for each in self._on(phone)]
        whose = addressees(pairs, self.now, phone)
        if not whose:
            return
        events: list[tuple[UUID, ReplyRead]] = []
        for each in whose:
            events.append((each.pair.id, self._read(inbound, text, each.pair, each.question, each.sure)))
        for each in also_concerned(whose, pairs, events[0][1].reading):
            events.append((each.pair.id, self._read(inbound, text, each.pair, None, False)))
        said: set[str] = set()
        told: dict[UUID, tuple[Effect, ...]] = {}
        for pair_id, event in events:
            after, effects = follow(self.load(pair_id), event, self.content, self.now)
            self.pairs[pair_id] = after
            told[pair_id] = said_once(effects, said)
        for pair_id, effects in told.items():
            self._write(pair_id, effects)

    def staff(self, pair_id: UUID, events: Sequence[Event]) -> None:
        pair, told = self.load(pair_id), tuple[Effect, ...]()
        for event in events:
            pair, effects = follow(pair, event, self.content, self.now)
            told += effects
        self.pairs[pair_id] = pair
        self._write(pair_id, told)

    def report(self, of: Made, state: MessageState) -> None:
        made = self.texts[of.pair, of.text.once_key]
        after = after_receipt(made.state, state)
        if after is not made.state:
            self._put(replace(made, state=after, final_at=self.now, told=False))

    # ---- what it does by itself

    def drain(self, *, sending: bool = True) -> None:
        """Work until nothing is left to do now, in the order of the worker's passes."""
        while any([self._wake(), self._tell(), self._sweep(), self._replan(), sending and self._send()]):
            pass

    def next_due(self) -> datetime | None:
        wakes = [pair.wake_at for pair in self.pairs.values() if pair.wake_at is not None]
        sends = [m.text.send_after for m in self.texts.values() if m.state is MessageState.queued]
        return min(wakes + sends, default=None)

    def load(self, pair_id: UUID) -> Pair:
        """The pair with what the network said of the texts that carry its questions."""
        pair = self.pairs[pair_id]
        check_ins = tuple(
            replace(check_in, questions=tuple(self._heard(q) for q in check_in.questions))
            for check_in in pair.check_ins
        )
        episodes = tuple(self._told(pair_id, each) for each in pair.episodes)
        return replace(pair, check_ins=check_ins, episodes=episodes)

    def _told(self, pair_id: UUID, episode: Episode) -> Episode:
        made = self.texts.get((pair_id, episode.told_key))
        return replace(episode, delivery=made.state if made else None)

    def _heard(self, question: Question) -> Question:
        made = self.texts.get(self.carried[question.id]) if question.id in self.carried else None
        if made is None:
            return replace(question, sent_at=None, delivery=None)
        return replace(question, sent_at=made.sent_at, delivery=made.state)

    def _wake(self) -> bool:
        due = [p.id for p in self.pairs.values() if p.wake_at is not None and p.wake_at <= self.now]
        begun = {id: self._asked_on(self.pairs[id].mother.phone, but=id) for id in due}
        newly: set[str] = set()

        def event(pair: Pair) -> Event:
            return Woke(begun[pair.id] or pair.mother.phone in newly)

        for pair_id in sorted(due):
            self._follow([pair_id], event)
            phone = self.pairs[pair_id].mother.phone
            if phone is not None and checkin.asked(self.pairs[pair_id].open_check_in) is not None:
                newly.add(phone)
        return bool(due)

    def _asked_on(self, phone: str | None, but: UUID) -> bool:
        return phone is not None and any(
            pair.id != but and any(q.state in checkin.ASKED for c in pair.check_ins for q in c.questions)
            for pair in self._on(phone)
        )

    def _tell(self) -> bool:
        untold = sorted((m for m in self.texts.values() if not m.told), key=lambda m: (m.final_at, m.id))
        told: dict[UUID, tuple[Effect, ...]] = {}
        before = {made.pair: self.load(made.pair) for made in untold}
        for made in untold:
            self._put(replace(made, told=True))
            event = _news(made)
            if event is not None:
                after, effects = follow(before[made.pair], event, self.content, self.now)
                before[made.pair] = self.pairs[made.pair] = after
                told[made.pair] = told.get(made.pair, ()) + effects
        for pair_id, effects in told.items():
            self._write(pair_id, effects)
        return bool(untold)

    def _sweep(self) -> bool:
        ended = False
        for made in list(self.texts.values()):
            over = made.text.send_after <= self.now and made.text.expires_at <= self.now
            if made.state is MessageState.queued and over:
                self._put(replace(made, state=MessageState.expired, final_at=self.now, told=False))
                ended = True
            silent = made.text.expires_at <= self.now - REPORT_WAIT
            if made.state is MessageState.accepted and silent:
                self._put(replace(made, state=MessageState.unknown, final_at=self.now, told=False))
                ended = True
        return ended

    def _replan(self) -> bool:
        old = [
            pair.id
            for pair in self.pairs.values()
            if pair.state is not EnrolmentState.closed
            and pair.plan_stamp != plan_stamp(self.content.schedule, pair.site)
        ]
        self._follow(sorted(old), lambda _: Replanned())
        return bool(old)

    def _send(self) -> bool:
        due = [made for made in self.texts.values() if self._is_due(made)]
        for made in due:
            failed = made.phone in self.refused
            state = MessageState.failed if failed else MessageState.accepted
            sent = replace(made, state=state, sent_at=None if failed else self.now, told=not failed)
            self._put(replace(sent, final_at=self.now) if failed else sent)
        return bool(due)

    def _is_due(self, made: Made) -> bool:
        by_id = {each.id: each for each in self.texts.values()} if made.after else {}
        waits = made.after is not None and by_id[made.after].state is MessageState.queued
        in_time = made.text.send_after <= self.now < made.text.expires_at
        return made.state is MessageState.queued and in_time and not waits

    # ---- follow, and keep what follows

    def _follow(self, ids: Iterable[UUID], event: Callable[[Pair], Event]) -> None:
        for pair_id in ids:
            pair = self.load(pair_id)
            self.pairs[pair_id], effects = follow(pair, event(pair), self.content, self.now)
            self._write(pair_id, effects)

    def _write(self, pair_id: UUID, effects: Sequence[Effect]) -> None:
        phone = self.pairs[pair_id].mother.phone
        standing: list[Say | Ask] = []
        for effect in effects:
            if isinstance(effect, Cancel):
                begins = _BEGINNINGS[effect.which]
                self._withdraw(pair_id, begins)
                standing = [text for text in standing if not text.text_key.startswith(begins)]
            elif isinstance(effect, Say | Ask):
                standing.append(effect)
        before: tuple[UUID, int] | None = None
        for text in standing if phone is not None else []:
            key = pair_id, text.once_key
            if key not in self.texts:
                after = before[0] if before and before[1] <= text.priority else None
                made = derived_id(self.now, *key)
                assert phone is not None
                self.texts[key] = Made(made, pair_id, text, phone, after)
            if isinstance(text, Ask):
                self.carried[text.question] = key
            before = self.texts[key].id, text.priority

    def _withdraw(self, pair_id: UUID, begins: tuple[str, ...]) -> None:
        for made in list(self.texts.values()):
            waits = made.pair == pair_id and made.state is MessageState.queued
            if waits and made.text.text_key.startswith(begins):
                self._put(replace(made, state=MessageState.cancelled, final_at=self.now))

    def _put(self, made: Made) -> None:
        self.texts[made.pair, made.text.once_key] = made

    def _on(self, phone: str) -> list[Pair]:
        mine = (pair for pair in self.pairs.values() if pair.mother.phone == phone)
        return sorted(mine, key=lambda pair: pair.id)

    def _read(self, inbound: UUID, text: str, pair: Pair, question: Question | None, sure: bool) -> ReplyRead:
        practising = ["practice"] if pair.mother.texting is Texting.unverified else []
        asking = [question.key] if question else asked_of(pair) or practising
        lexicon = load_factory().lexicons[pair.mother.language]
        reading = read(text, asking, age_days(pair, pair.youngest, self.now), lexicon)
        return ReplyRead(inbound, self.now, reading, question.id if question else None, sure)


def _news(made: Made) -> Event | None:
    assert made.state in FINAL
    if made.state is MessageState.delivered:
        return Delivered(made.text.once_key)
    if made.state is MessageState.unknown:
        return None
    return Undelivered(made.text.once_key, permanent=made.state is MessageState.failed)

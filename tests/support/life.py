"""One pair's life in the pure core: events go in by plain words, texts and what was raised come out.

No database and no gateway: replies are read by the real reader, decisions are made by the real transition.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import cache
from typing import Any
from uuid import UUID

from bot.content.factory import load_factory
from bot.core.checkin import asked, question_at
from bot.core.follow import Content, follow
from bot.core.follow.asking import COUNTED
from bot.core.follow.episodes import asked_of
from bot.core.follow.events import (
    Action,
    Alert,
    Ask,
    Cancel,
    Close,
    Effect,
    Enrolled,
    Event,
    ReplyRead,
    ReviewRecorded,
    Say,
    Spoke,
    StaffActed,
    Woke,
)
from bot.core.outbox import Priority
from bot.core.pair import Assessment, Escalation, Pair
from bot.core.reader import read
from bot.core.review import late_after
from bot.core.states import MessageState, Texting
from tests.support.pairs import a_pair, an_id

COUNSELLOR, COLLEAGUE = an_id("staff", "counsellor"), an_id("staff", "colleague")


@cache
def standard_content() -> Content:
    """The content that ships with the program."""
    factory = load_factory()
    return Content(
        factory.schedules["standard"], factory.rules, factory.occasions, frozenset(factory.questions)
    )


@dataclass
class Life:
    """`now` moves with the events. `texts` are the keys of all texts made, in order."""

    pair: Pair
    now: datetime
    language: str = "en"
    content: Content = field(default_factory=standard_content)
    effects: list[Effect] = field(default_factory=list)
    last: tuple[Effect, ...] = ()
    replies: int = 0
    mark: int = 0

    @property
    def texts(self) -> list[str]:
        return _keys(self.effects)

    @property
    def new_texts(self) -> list[str]:
        """The texts that the last event brought."""
        return _keys(self.last)

    @property
    def item(self) -> Escalation | None:
        return self.pair.open_escalation

    @property
    def rules(self) -> set[str]:
        """What the open item stands on."""
        return {f.rule for f in self.item.findings if not f.withdrawn_by} if self.item else set()

    @property
    def open_question(self) -> str | None:
        question = asked(self.pair.open_check_in)
        return question.key if question else None

    @property
    def withdrawn(self) -> list[str]:
        """Which queued texts the last event withdrew."""
        return [effect.which for effect in self.last if isinstance(effect, Cancel)]

    @property
    def withdrawn_questions(self) -> bool:
        return "questions" in self.withdrawn

    @property
    def standing_texts(self) -> list[str]:
        """The texts that the last event brought and did not itself withdraw."""
        standing: list[str] = []
        for effect in self.last:
            if isinstance(effect, Cancel):
                assert effect.which != "questions"
                standing = [key for key in standing if effect.which == "review" and key[:7] != "review-"]
            standing += _keys([effect])
        return standing

    @property
    def priorities(self) -> list[Priority]:
        """How soon the texts of the last event go."""
        return [effect.priority for effect in self.last if isinstance(effect, Say | Ask)]

    @property
    def texts_since(self) -> list[str]:
        """The texts made during the last `wake_for`."""
        return self.texts[self.mark :]

    def count(self, rule: str) -> int:
        """How often the open item was told of this."""
        return sum(f.count for f in self.item.findings if f.rule == rule) if self.item else 0

    def outcome(self, contact: str) -> str | None:
        """What became of a contact of the schedule; None when it was not dealt with."""
        return next((done.outcome for done in self.pair.contacts if done.key == contact), None)

    def happens(self, event: Event, after: timedelta = timedelta(0)) -> Life:
        self.now += after
        self.pair, self.last = follow(self.pair, event, self.content, self.now)
        self.effects += self.last
        return self

    def enrol(self, *, bedside: bool = True) -> Life:
        return self.happens(Enrolled(bedside))

    def wake(self, *, phone_busy: bool = False) -> Life:
        """Go to the pair's next timer."""
        assert self.pair.wake_at is not None
        self.now = max(self.now, self.pair.wake_at)
        return self.happens(Woke(phone_busy))

    def wake_until(self, contact: str) -> Life:
        """Wake, timer by timer, until that contact of the schedule was dealt with."""
        for _ in range(200):
            if any(done.key == contact for done in self.pair.contacts):
                return self
            self.wake()
        raise AssertionError(f"{contact} never came")

    def wake_for(self, **length: float) -> Life:
        """Wake at every timer of a stretch of time (`days=`, `hours=`), in which nobody says anything."""
        until, self.mark = self.now + timedelta(**length), len(self.texts)
        while self.pair.wake_at is not None and self.pair.wake_at <= until:
            self.wake()
        self.now = until
        return self

    def live_until(self, contact: str) -> Life:
        """Live well until that contact: she answers, comes to every review, and items are closed at once."""
        while self.outcome(contact) is None:
            if self.open_question is not None:
                self.reply("9" if self.open_question in COUNTED else "no")
            elif self.item is not None:
                self.close()
            elif self._review_is_next():
                self.reviewed()
            else:
                self.wake()
        return self

    def _review_is_next(self) -> bool:
        review = self.pair.expected_review
        return review is not None and self.pair.wake_at == late_after(review, self.pair.site)

    def reply(self, text: str, after: timedelta = timedelta(minutes=5), *, sure: bool = True) -> Life:
        """She writes, `after` the last event."""
        self.now += after
        self.replies += 1
        question = question_at(self.pair, self.now) if sure else None
        practising = self.pair.mother.texting is Texting.unverified
        asking = [question.key] if question else asked_of(self.pair) or (["practice"] if practising else [])
        reading = read(text, asking, None, load_factory().lexicons[self.language])
        inbound = an_id("inbound", self.replies)
        return self.happens(ReplyRead(inbound, self.now, reading, question.id if question else None, sure))

    def answer(self, *texts: str) -> Life:
        """She answers what is asked, one text after the other."""
        for text in texts:
            self.reply(text)
        return self

    def staff(self, action: Action, by: UUID = COUNSELLOR, after: timedelta = timedelta(minutes=1)) -> Life:
        return self.happens(StaffActed(by, action), after)

    def close(self, found: str = "advised", outcome: str = "nothing_found", note: str = "") -> Life:
        """A counsellor spoke to her and closes the open item, and the episode if there is one."""
        ended = outcome if self.pair.open_episode else ""
        return self.staff(Spoke()).staff(Close(found, note, ended))

    @property
    def woken(self) -> list[str]:
        """Why somebody on call was woken by the last event, and who, step by step."""
        return [f"{e.reason} {e.step} {e.to.who}" for e in self.last if isinstance(e, Alert)]

    @property
    def reasons(self) -> set[str]:
        """Why anybody was ever woken."""
        return {e.reason for e in self.effects if isinstance(e, Alert)}

    def reviewed(self, assessments: Sequence[Assessment] = (), *, attended: bool = True) -> Life:
        review = self.pair.expected_review
        assert review is not None
        return self.happens(ReviewRecorded(COUNSELLOR, review.id, attended, tuple(assessments)))

    def network(self, state: MessageState) -> Life:
        """What the network says of the text that carries the open question."""
        check_in = self.pair.open_check_in
        question = asked(check_in)
        assert check_in is not None
        assert question is not None
        heard = tuple(replace(q, delivery=state) if q.id == question.id else q for q in check_in.questions)
        changed = replace(check_in, questions=heard)
        others = tuple(changed if c.id == check_in.id else c for c in self.pair.check_ins)
        self.pair = replace(self.pair, check_ins=others)
        return self


def a_life(*, verified: bool = True, language: str = "en", **changes: Any) -> Life:
    """A pair at its discharge, enrolled; `verified` says that the number answered the practice text."""
    pair = a_pair(**changes)
    pair = replace(pair, mother=replace(pair.mother, texting=Texting.unverified, language=language))
    life = Life(pair, pair.discharged_at, language).enrol()
    return life.reply("1", timedelta(minutes=3)) if verified else life


def twins() -> Life:
    """The life of a pair with two babies."""
    first = a_pair().babies[0]
    return a_life(babies=(first, replace(first, id=an_id("baby", 2), ordinal=2, name="Zawadi")))


def _keys(effects: Sequence[Effect]) -> list[str]:
    return [effect.text_key for effect in effects if isinstance(effect, Say | Ask)]

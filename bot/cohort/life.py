"""One mother's weeks on the virtual clock: what happens to her goes through `follow`, what follows goes
into the tally. Nothing here decides what the programme does; the network, the mother and the counsellors
are assumed."""

from __future__ import annotations

import heapq
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from random import Random
from uuid import UUID

from bot.cohort.desk import COUNSELLOR, Desk
from bot.cohort.draws import between, exponential
from bot.cohort.people import DAY, GOOD_SIGNS, POOR_SIGNS, Ill, Woman, invent
from bot.cohort.says import ASKS, Mouth
from bot.cohort.tally import Tally
from bot.cohort.world import World
from bot.core.checkin import amended, question_at
from bot.core.follow import follow
from bot.core.follow.episodes import asked_of
from bot.core.follow.events import (
    Alert,
    Ask,
    Book,
    Cancel,
    Delivered,
    Effect,
    Enrolled,
    Event,
    Heeded,
    Judged,
    Raise,
    ReplyRead,
    ReviewRecorded,
    Say,
    Undelivered,
    Woke,
)
from bot.core.pair import Assessment, Question, Review
from bot.core.plan import at_local
from bot.core.states import EnrolmentState, MessageState, Texting

Text = Say | Ask
BEGINNINGS = {"all": ("",), "questions": ASKS, "review": ("review-",)}  # the texts that a Cancel withdraws
LONGEST_DELAY = timedelta(hours=4)
DELIVERED_AFTER = timedelta(minutes=1)
REPORTED_AFTER = timedelta(hours=1)  # that a text did not arrive
SEEN_AFTER = timedelta(minutes=40)  # a review is written down so long after its hour
CRIES_AFTER = 60  # mean minutes until she writes unasked


def live(index: int, world: World, tally: Tally) -> None:
    """Live the weeks of the mother with this number; count them in `tally`."""
    random = Random(f"{world.seed}:{index}")
    Life(invent(index, world, random), world, random, tally).live()


class Life:
    """`pair` is what the programme knows, `woman` the truth; `now` is the virtual clock."""

    def __init__(self, woman: Woman, world: World, random: Random, tally: Tally) -> None:
        self.woman, self.world, self.random, self.tally = woman, world, random, tally
        self.pair, self.now = woman.pair, woman.pair.enrolled_at
        self.mouth = Mouth(woman, world, random)
        self._n, self._language = tally.n, woman.language
        self._desk = Desk(self)
        self._calendar: list[tuple[datetime, int, Callable[[], object]]] = []
        self._queued: list[Text] = []
        self._entries = self._texts = self._segments = self._replies = 0

    def live(self) -> None:
        """From enrolment to the end of her days in the run."""
        end = self.woman.born_at + self.world.days * DAY
        self.follow(Enrolled(bedside=True))
        self._begin_dangers()
        while True:
            wake = self.pair.wake_at or end
            other = self._calendar[0][0] if self._calendar else end
            self.now = max(self.now, min(wake, other))
            if self.now >= end:
                break
            if other <= wake:
                heapq.heappop(self._calendar)[2]()
            else:
                self.follow(Woke())
        self._desk.end()
        self._count()

    def at(self, moment: datetime, do: Callable[[], object]) -> None:
        self._entries += 1
        heapq.heappush(self._calendar, (max(moment, self.now), self._entries, do))

    # ---- the programme

    def follow(self, event: Event) -> None:
        self.pair, effects = follow(self.pair, event, self.world.content, self.now)
        self._write(effects)
        for effect in effects:
            if isinstance(effect, Raise):
                self._desk.raised(effect)
            elif isinstance(effect, Judged):
                for rule in effect.verdict.shadow:
                    self._n["shadow", rule] += 1
            elif isinstance(effect, Alert):
                self._desk.alerted(effect)
            elif isinstance(effect, Heeded):
                self._desk.heeded(effect)
            elif isinstance(effect, Book):
                self._booked(effect.review)

    def _write(self, effects: Sequence[Effect]) -> None:
        """Texts go out at their time unless they are withdrawn before."""
        fresh: list[Text] = []
        for effect in effects:
            if isinstance(effect, Cancel):
                begins = BEGINNINGS[effect.which]
                fresh = [text for text in fresh if not text.text_key.startswith(begins)]
                self._queued = [text for text in self._queued if not text.text_key.startswith(begins)]
            elif isinstance(effect, Say | Ask):
                fresh.append(effect)
        if self.pair.mother.phone is None:
            return
        for text in fresh:
            if text.send_after <= self.now:
                self._send(text)
            else:
                self._queued.append(text)
                self.at(text.send_after, lambda text=text: self._send_queued(text))  # type: ignore[misc]

    # ---- the network

    def _send_queued(self, text: Text) -> None:
        if text in self._queued:
            self._queued.remove(text)
            self._send(text)

    def _send(self, text: Text) -> None:
        segments = self.world.segments(text.text_key, self.pair.mother.language, text.values)
        day = self.woman.day(self.now)
        self._texts, self._segments = self._texts + 1, self._segments + segments
        self._n["segments on day", day] += segments
        if isinstance(text, Ask):
            self._n["asked on day", day] += 1
        arrives = not self._is_off(day)
        if not arrives:
            self._n["undelivered", self._language] += 1
            lost = Undelivered(text.once_key, permanent=False)
            self.at(self.now + REPORTED_AFTER, lambda: self.follow(lost))
        self._reported(text, MessageState.delivered if arrives else MessageState.undelivered)
        if arrives:
            self._may_answer(text)

    def _is_off(self, day: int) -> bool:
        if not self.woman.often_off or self.pair.mother.texting is Texting.unverified:
            return False  # at the bedside it is on
        if day not in self.woman.off:
            self.woman.off[day] = self.random.random() < self.world.assumed.phones.off_days
        return self.woman.off[day]

    def _reported(self, text: Text, state: MessageState) -> None:
        """What the network says of a text, where the core looks at it: of a lost question, and of the warning
        that told her to go."""
        episode = self.pair.open_episode
        if isinstance(text, Ask) and state is MessageState.undelivered:
            self._mark(text.question, state)
        elif episode is not None and episode.told_key == text.once_key:
            known = replace(episode, delivery=state)
            episodes = tuple(known if each is episode else each for each in self.pair.episodes)
            self.pair = replace(self.pair, episodes=episodes)
            if state is MessageState.delivered:
                self.at(self.now + DELIVERED_AFTER, lambda: self.follow(Delivered(text.once_key)))

    def _mark(self, question_id: UUID, state: MessageState) -> None:
        def heard(question: Question) -> Question:
            return replace(question, delivery=state) if question.id == question_id else question

        check_ins = tuple(replace(c, questions=tuple(map(heard, c.questions))) for c in self.pair.check_ins)
        self.pair = replace(self.pair, check_ins=check_ins)

    # ---- the mother

    def _may_answer(self, text: Text) -> None:
        words = self.mouth.answer(text.text_key, self.now)
        if words:
            minutes = exponential(self.random, self.world.assumed.replies.minutes)
            delay = min(timedelta(minutes=1 + int(minutes)), LONGEST_DELAY)
            self.at(self.now + delay, lambda: self._writes(words))

    def _writes(self, words: str) -> None:
        """Her text comes in: it is read with what is open, as the programme reads it."""
        self._replies += 1
        self.mouth.wrote_at = self.now
        mother = self.pair.mother
        question = question_at(self.pair, self.now)
        practising = ["practice"] if mother.texting is Texting.unverified else []
        asking = [question.key] if question else asked_of(self.pair) or practising
        reading = self.world.read(words, asking, mother.language)
        if "amends" in reading.notes:
            about = amended(self.pair, question, self.now)
            if about is not None and about is not question:
                question, reading = about, self.world.read(words, [about.key], mother.language)
        if reading.needs_person:
            self._n["replies for a person", self._language] += 1
        inbound = UUID(int=self._replies)
        self.follow(ReplyRead(inbound, self.now, reading, question.id if question else None))

    def _begin_dangers(self) -> None:
        for danger in self.woman.dangers:
            writes = self.random.random() < self.world.assumed.dangers.written
            if writes and self.pair.mother.phone is not None:
                after = timedelta(minutes=1 + int(exponential(self.random, CRIES_AFTER)))
                self.at(danger.begins + after, lambda danger=danger: self._cries(danger))  # type: ignore[misc]

    def _cries(self, danger: Ill) -> None:
        if danger.is_true(self.now) and not danger.told and not self._is_off(self.woman.day(self.now)):
            danger.told = True
            self._writes(self.mouth.names(danger.sign))

    # ---- the review

    def _booked(self, review: Review) -> None:
        if self.random.random() < self.world.assumed.reviews.attended:
            begins = at_local(review.on_day, review.at or self.pair.site.opens, self.world.tz)
            self.at(begins + SEEN_AFTER, lambda: self._comes(review.id))

    def _comes(self, review_id: UUID) -> None:
        review = self.pair.expected_review
        if review is None or review.id != review_id or self.pair.state is EnrolmentState.closed:
            return
        self._n["reviews", "attended"] += 1
        poor, day = self.woman.in_trouble(self.now), self.woman.day(self.now)
        change = between(self.random, 0.935, 0.975) if day < 7 else 0.98 + 0.008 * (day - 7)
        seen = tuple(
            Assessment(
                UUID(int=10 + self._entries + baby.ordinal),
                baby.ordinal,
                self.now,
                "",
                "review",
                POOR_SIGNS if poor else GOOD_SIGNS,
                int((baby.birth_weight_g or 3000) * (change - 0.05 * poor)),
            )
            for baby in self.pair.living
        )
        self.follow(ReviewRecorded(COUNSELLOR, review_id, True, seen))
        self._desk.helped("review")

    # ---- at the end

    def _count(self) -> None:
        n, language = self._n, self._language
        n["mothers", language] += 1
        n["texts", language] += self._texts
        n["segments", language] += self._segments
        n["replies", language] += self._replies
        n["mothers with texts", self._texts] += 1
        n["texting at the end", self.pair.mother.texting.value] += 1
        n["state at the end", self.pair.state.value] += 1
        for ill in self.woman.ills():
            if ill.begins >= self.now:
                continue
            kind = "danger" if ill.sign else "trouble"
            n["true", kind] += 1
            if ill.heard_at is not None:
                n["heard", kind, int((ill.heard_at - ill.begins) / timedelta(hours=1))] += 1
                n["heard by", kind, ill.heard_by] += 1

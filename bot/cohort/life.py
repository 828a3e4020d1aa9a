"""One mother's weeks on the virtual clock: what happens to her goes through `follow`, what follows goes into the
tally. Nothing here decides what the programme does; the network, the mother and the counsellors are assumed."""

from __future__ import annotations

import heapq
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from random import Random
from uuid import UUID

from bot.cohort.draws import between, exponential
from bot.cohort.people import DAY, GOOD_SIGNS, POOR_SIGNS, Woman, invent
from bot.cohort.says import ASKS, Mouth
from bot.cohort.tally import Tally
from bot.cohort.world import World
from bot.core.checkin import amended, question_at
from bot.core.follow import follow
from bot.core.follow.events import (
    Action,
    Ask,
    Book,
    Cancel,
    Close,
    Effect,
    Enrolled,
    EnterAnswers,
    Event,
    Raise,
    ReplyRead,
    Resume,
    ReviewRecorded,
    Say,
    Spoke,
    StaffActed,
    Undelivered,
    Woke,
)
from bot.core.pair import Assessment, Question, Review
from bot.core.plan import at_local
from bot.core.states import EnrolmentState, MessageState, Texting, Urgency

COUNSELLOR = UUID(int=2)
BEGINNINGS = {"all": ("",), "questions": ASKS, "review": ("review-",)}  # the texts that a Cancel withdraws
LONGEST_DELAY = timedelta(hours=4)
REPORTED_AFTER = timedelta(hours=1)
SEEN_AFTER = timedelta(minutes=40)  # a review is written down so long after its hour
SAFE_AFTER = timedelta(hours=24)  # a danger is over so long after somebody heard of it
# Items about the running of the follow-up: they say nothing of how mother and baby are.
BESIDES = frozenset(
    {
        "contact_by_call", "missed_review", "no_open_day", "opted_out", "unreachable", "wrong_number",
        "answer_missing", "warning_not_delivered", "last_check_in_unheard", "decision_awaited",
        "language_unsigned", "opt_out_unsure", "other_day", "new_number", "back_from_away",
    }
)  # fmt: skip
ASK_ON_THE_PHONE = frozenset({"contact_by_call", "answer_missing", "last_check_in_unheard", "missed_review"})


@dataclass(slots=True)
class Clock:
    """The clock of the open item, as the counsellors' queue sees it."""

    item: UUID
    since: datetime
    urgency: Urgency
    rules: set[str]
    alarm: bool  # says something of how they are
    true: bool


def live(index: int, world: World, tally: Tally) -> None:
    """Live the weeks of the mother with this number; count them in `tally`."""
    random = Random(f"{world.seed}:{index}")
    _Life(invent(index, world, random), world, random, tally).live()


class _Life:
    def __init__(self, woman: Woman, world: World, random: Random, tally: Tally) -> None:
        self.woman, self.world, self.random, self.n = woman, world, random, tally.n
        self.arrivals = tally.arrivals
        self.pair, self.language = woman.pair, woman.language
        self.now = woman.pair.enrolled_at
        self.mouth = Mouth(woman, world, random)
        self.calendar: list[tuple[datetime, int, Callable[[], None]]] = []
        self.queued: list[Say | Ask] = []
        self.clock: Clock | None = None
        self.entries = self.texts = self.segments = self.replies = 0

    def live(self) -> None:
        """From enrolment to the end of her days in the run."""
        end = self.woman.born_at + self.world.days * DAY
        self._follow(Enrolled(bedside=True))
        self._begin_dangers()
        while True:
            wake = self.pair.wake_at or end
            other = self.calendar[0][0] if self.calendar else end
            self.now = max(self.now, min(wake, other))
            if self.now >= end:
                break
            if other <= wake:
                heapq.heappop(self.calendar)[2]()
            else:
                self._follow(Woke())
        if self.clock is not None:
            self._into_the_queue(self.clock)
        self._count()

    def _at(self, moment: datetime, do: Callable[[], None]) -> None:
        self.entries += 1
        heapq.heappush(self.calendar, (max(moment, self.now), self.entries, do))

    # ---- the programme

    def _follow(self, event: Event) -> None:
        self.pair, effects = follow(self.pair, event, self.world.content, self.now)
        self._write(effects)
        for effect in effects:
            if isinstance(effect, Raise):
                self._raised(effect)
            elif isinstance(effect, Book):
                self._booked(effect.review)

    def _write(self, effects: Sequence[Effect]) -> None:
        """Texts go out at their time unless they are withdrawn before."""
        fresh: list[Say | Ask] = []
        for effect in effects:
            if isinstance(effect, Cancel):
                begins = BEGINNINGS[effect.which]
                fresh = [text for text in fresh if not text.text_key.startswith(begins)]
                self.queued = [text for text in self.queued if not text.text_key.startswith(begins)]
            elif isinstance(effect, Say | Ask):
                fresh.append(effect)
        if self.pair.mother.phone is None:
            return
        for text in fresh:
            if text.send_after <= self.now:
                self._send(text)
            else:
                self.queued.append(text)
                self._at(text.send_after, lambda text=text: self._send_queued(text))  # type: ignore[misc]

    # ---- the network

    def _send_queued(self, text: Say | Ask) -> None:
        if text in self.queued:
            self.queued.remove(text)
            self._send(text)

    def _send(self, text: Say | Ask) -> None:
        segments = self.world.segments(text.text_key, self.pair.mother.language, text.values)
        day = self.woman.day(self.now)
        self.texts, self.segments = self.texts + 1, self.segments + segments
        self.n["segments on day", day] += segments
        asks = isinstance(text, Ask)
        if asks:
            self.n["asked on day", day] += 1
        if self._is_off(day):
            self.n["undelivered", self.language] += 1
            if isinstance(text, Ask):
                self._mark_undelivered(text.question)
            self._at(
                self.now + REPORTED_AFTER, lambda: self._follow(Undelivered(text.once_key, permanent=False))
            )
        elif asks or text.text_key == "practice":
            self._may_answer(text)

    def _is_off(self, day: int) -> bool:
        if not self.woman.often_off or self.pair.mother.texting is Texting.unverified:
            return False  # at the bedside it is on
        if day not in self.woman.off:
            self.woman.off[day] = self.random.random() < self.world.assumed.phones.off_days
        return self.woman.off[day]

    def _mark_undelivered(self, question_id: UUID) -> None:
        def heard(question: Question) -> Question:
            known = question.id == question_id
            return replace(question, delivery=MessageState.undelivered) if known else question

        check_ins = tuple(replace(c, questions=tuple(map(heard, c.questions))) for c in self.pair.check_ins)
        self.pair = replace(self.pair, check_ins=check_ins)

    # ---- the mother

    def _may_answer(self, text: Say | Ask) -> None:
        words = (
            self.mouth.practice()
            if text.text_key == "practice"
            else self.mouth.answer(text.text_key, self.now)
        )
        if words:
            minutes = exponential(self.random, self.world.assumed.replies.minutes)
            delay = min(timedelta(minutes=1 + int(minutes)), LONGEST_DELAY)
            self._at(self.now + delay, lambda: self._writes(words))

    def _writes(self, words: str) -> None:
        """Her text comes in: it is read with the question that is open, as the programme reads it."""
        self.replies += 1
        mother = self.pair.mother
        question = question_at(self.pair, self.now)
        asking = question.key if question else "practice" if mother.texting is Texting.unverified else ""
        reading = self.world.read(words, asking, mother.language)
        if "amends" in reading.notes:
            about = amended(self.pair, question, self.now)
            if about is not None and about is not question:
                question, reading = about, self.world.read(words, about.key, mother.language)
        if reading.needs_person:
            self.n["replies for a person", self.language] += 1
        inbound = UUID(int=self.replies)
        self._follow(ReplyRead(inbound, self.now, reading, question.id if question else None))

    def _begin_dangers(self) -> None:
        for danger in self.woman.dangers:
            if (
                self.pair.mother.phone is not None
                and self.random.random() < self.world.assumed.dangers.written
            ):
                after = timedelta(minutes=1 + int(exponential(self.random, 60)))
                self._at(danger.begins + after, lambda danger=danger: self._cries(danger))  # type: ignore[misc]

    def _cries(self, danger: object) -> None:
        ill = next(each for each in self.woman.dangers if each is danger)
        if ill.is_true(self.now) and not ill.told and not self._is_off(self.woman.day(self.now)):
            ill.told = True
            self._writes(self.mouth.names(ill.sign))

    # ---- the counsellors

    def _raised(self, effect: Raise) -> None:
        behind = [ill for ill in self.woman.ills() if ill.is_behind(self.now)]
        about_them = not BESIDES.issuperset(effect.rules)
        for rule in effect.rules:
            self.n["rule", rule, bool(behind)] += 1
        if about_them:
            for ill in behind:
                ill.heard_at = ill.heard_at or self.now
        known = self.clock
        item = self.pair.open_escalation
        if item is None:
            return  # opened and closed in one step: the end of the follow-up
        if known is None or known.item != item.id:
            self.clock = Clock(item.id, self.now, item.urgency, set(effect.rules), about_them, bool(behind))
        else:
            if item.urgency > known.urgency:
                known.since, known.urgency = self.now, item.urgency
            known.rules |= set(effect.rules)
            known.alarm, known.true = known.alarm or about_them, known.true or bool(behind)
            if item.urgency == known.urgency and known.since != self.now:
                return  # a counsellor is on the way already
        wait = self.world.assumed.staff.speaks_after.of(item.urgency.name)
        begins = self.world.shifts.wait(self.now)
        speaks = self.now + timedelta(minutes=begins + max(1.0, wait))
        self._at(speaks, lambda: self._speaks(item.id))

    def _speaks(self, item_id: UUID) -> None:
        """A counsellor calls: what she says then is entered, what is true comes out, the item is closed."""
        item = self.pair.open_escalation
        if item is None or item.id != item_id or self.clock is None:
            return
        clock = self.clock
        first: Action = Spoke()
        if self.pair.state is EnrolmentState.held:
            first = Resume(texting=not self.woman.wrong_number)
        elif clock.rules & ASK_ON_THE_PHONE or any(rule.startswith("silence") for rule in clock.rules):
            first = EnterAnswers(self.mouth.values(self.now))  # counts as spoken to her
        self._into_the_queue(clock)
        for action in (first, Close("advised")):
            self._follow(StaffActed(COUNSELLOR, action))
        self.clock = None
        self._helped()

    def _helped(self) -> None:
        for ill in self.woman.ills():
            if not ill.is_true(self.now):
                continue
            ill.heard_at = ill.heard_at or self.now
            if ill.sign:
                ill.over = min(ill.over, self.now + SAFE_AFTER)
            elif self.random.random() < self.world.assumed.trouble.helped:
                after = timedelta(hours=self.world.assumed.trouble.mends_after_help_hours)
                ill.over = min(ill.over, self.now + after)

    def _into_the_queue(self, clock: Clock) -> None:
        minute = self.world.minute(clock.since)
        local = clock.since.astimezone(self.world.tz)
        self.arrivals[minute, int(clock.urgency)] += 1
        self.n["item", clock.urgency.name, local.hour] += 1
        if clock.alarm:
            self.n["alarm", clock.urgency.name, clock.true] += 1

    # ---- the review

    def _booked(self, review: Review) -> None:
        if self.random.random() < self.world.assumed.reviews.attended:
            begins = at_local(review.on_day, review.at or self.pair.site.opens, self.world.tz)
            self._at(begins + SEEN_AFTER, lambda: self._comes(review.id))

    def _comes(self, review_id: UUID) -> None:
        review = self.pair.expected_review
        if review is None or review.id != review_id or self.pair.state is EnrolmentState.closed:
            return
        self.n["reviews", "attended"] += 1
        poor, day = self.woman.in_trouble(self.now), self.woman.day(self.now)
        change = between(self.random, 0.935, 0.975) if day < 7 else 0.98 + 0.008 * (day - 7)
        seen = tuple(
            Assessment(
                UUID(int=10 + self.entries + baby.ordinal),
                baby.ordinal,
                self.now,
                "",
                "review",
                POOR_SIGNS if poor else GOOD_SIGNS,
                int((baby.birth_weight_g or 3000) * (change - 0.05 * poor)),
            )
            for baby in self.pair.living
        )
        self._follow(ReviewRecorded(COUNSELLOR, review_id, True, seen))
        self._helped()

    # ---- at the end

    def _count(self) -> None:
        n, language = self.n, self.language
        n["mothers", language] += 1
        n["texts", language] += self.texts
        n["segments", language] += self.segments
        n["replies", language] += self.replies
        n["mothers with texts", self.texts] += 1
        n["texting at the end", self.pair.mother.texting.value] += 1
        n["state at the end", self.pair.state.value] += 1
        for ill in self.woman.ills():
            if ill.begins >= self.now:
                continue
            kind = "danger" if ill.sign else "trouble"
            n["true", kind] += 1
            if ill.heard_at is not None:
                n["heard", kind, int((ill.heard_at - ill.begins) / timedelta(hours=1))] += 1

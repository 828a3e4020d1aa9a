"""The pair being changed and the effects gathered so far, while one event is followed.

The only mutable thing in the transition; it lives for one call and never leaves it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any, Literal, Protocol, TypeVar
from uuid import UUID

from bot.core.checkin import with_question
from bot.core.cover import is_too_late, place_for
from bot.core.errors import Conflict
from bot.core.escalation import (
    DUE,
    News,
    is_danger,
    is_new_or_graver,
    join,
    risen,
    rises_at,
    with_risen,
)
from bot.core.follow.alerts import ladder
from bot.core.follow.events import Adverse, Ask, Book, Cancel, Effect, Heeded, Note, Raise, Say
from bot.core.follow.looks import looked_again
from bot.core.ids import derived_id
from bot.core.outbox import Priority
from bot.core.pair import Attempt, Chase, CheckIn, Episode, Escalation, Pair, Question, Review
from bot.core.pair_facts import Known
from bot.core.plan import Planned, left, next_of, out_of_quiet, planned, quiet_after
from bot.core.schedule import Schedule
from bot.core.states import EnrolmentState, EpisodeState, Urgency
from bot.core.triage_rules import Occasion, RuleSet

# How long a text is worth sending, by what it is for. Common practice, no source.
ANSWER_EXPIRES = timedelta(hours=6)
GO_NOW_EXPIRES = timedelta(hours=24)

# The occasion of a reply that tells of a death.
BEREAVED = "bereaved"
# What a mother is told whose baby is away from her, or died, and what it stands for: no baby is named.
WITHOUT_BABY: Mapping[str, str] = {
    "advice-go-now-mother": "advice-go-now-alone",
    "advice-same-day": "advice-same-day-alone",
    "advice-routine": "thanks-away",
    "call-coming": "advice-same-day-alone",
    "person-reads": "person-reads-alone",
    "opt-out-done": "opt-out-done-alone",
    "opt-out-ask": "person-reads-alone",
    "opt-in-done": "opt-in-done-alone",
    "thanks-person": "person-reads-alone",
    "thanks-fine": "thanks-away",
    "go-repeat": "go-repeat-alone",
    "go-safely": "go-safely-alone",
    "go-help": "go-help-alone",
    "go-doubts": "go-doubts-alone",
}


class _Kept(Protocol):
    @property
    def id(self) -> UUID: ...


_Row = TypeVar("_Row", bound=_Kept)


@dataclass(frozen=True, slots=True)
class Content:
    """What the programme decided: the schedule, the rules, the occasions that need a person, due times."""

    schedule: Schedule
    rules: RuleSet
    occasions: Mapping[str, Occasion]
    questions: frozenset[str]  # keys that are questions; other keys of answers are danger signs
    due: Mapping[Urgency, timedelta] = field(default_factory=lambda: DUE)
    unsigned: frozenset[str] = frozenset()  # languages of which no clinician has approved the words
    local_rules: Mapping[str, RuleSet] = field(default_factory=dict)  # by site, where its protocol differs
    outages: tuple[tuple[datetime, datetime], ...] = ()  # when the program was not at work, of late

    def at(self, site: str) -> Content:
        """What holds at the site of that code."""
        local = self.local_rules.get(site)
        return self if local is None else replace(self, rules=local)

    @property
    def known(self) -> Known:
        vocabulary = self.rules.vocabulary
        return Known(self.questions, vocabulary.ids, vocabulary.signs)


@dataclass(slots=True)
class Draft:
    pair: Pair
    content: Content
    now: datetime
    effects: list[Effect] = field(default_factory=list)
    _left: tuple[Pair, list[Planned]] | None = None

    # ---- the plan

    def contacts_left(self) -> list[Planned]:
        """What the schedule still holds for the pair. It is asked for often in one event."""
        if self._left is None or not _left_alike(self._left[0], self.pair):
            self._left = self.pair, left(planned(self.pair, self.content.schedule), self.pair)
        return self._left[1]

    def next_contact(self) -> Planned | None:
        return next_of(self.contacts_left(), self.now)

    # ---- the pair

    def set(self, **changes: Any) -> None:
        self.pair = self.pair.with_changes(**changes)

    def put_check_in(self, check_in: CheckIn) -> None:
        self.set(check_ins=_with(self.pair.check_ins, check_in))

    def put_question(self, check_in: CheckIn, question: Question) -> CheckIn:
        changed = with_question(check_in, question)
        self.put_check_in(changed)
        return changed

    def put_escalation(self, item: Escalation) -> None:
        self.set(escalations=_with(self.pair.escalations, item))

    def put_chase(self, chase: Chase) -> None:
        self.set(chases=_with(self.pair.chases, chase))

    def put_attempt(self, attempt: Attempt) -> None:
        self.set(attempts=_with(self.pair.attempts, attempt))

    def put_review(self, review: Review) -> None:
        self.set(reviews=_with(self.pair.reviews, review))

    # ---- effects

    def say(
        self, once_key: str, text_key: str, priority: Priority, *, values: Mapping[str, str] | None = None
    ) -> None:
        """A text of the programme. Answers to her and dangers go at once; the rest keeps quiet hours."""
        at_once = priority in (Priority.go_now, Priority.answer)
        life = GO_NOW_EXPIRES if priority is Priority.go_now else ANSWER_EXPIRES
        after, until = (self.now, self.now + life) if at_once else self.by_day(self.now + life)
        self.effects.append(
            Say(once_key, text_key, self.values() | dict(values or {}), priority, after, until)
        )

    def by_day(self, until: datetime) -> tuple[datetime, datetime]:
        """From when and until when a text that she did not ask for may go: never into quiet hours, however
        long a sender was down."""
        schedule, tz = self.content.schedule, self.pair.tz
        after = out_of_quiet(self.now, schedule, tz)
        return after, min(max(until, after + ANSWER_EXPIRES), quiet_after(after, schedule, tz))

    def ask(self, once_key: str, text_key: str, question: UUID, *, answering: bool, until: datetime) -> None:
        """A question. One that follows her reply is an answer to her; a first one keeps quiet hours."""
        after, until = (self.now, until) if answering else self.by_day(until)
        priority = Priority.answer if answering else Priority.rest
        self.effects.append(Ask(once_key, text_key, self.values(), priority, after, until, question))

    def cancel(self, which: Any, why: str) -> None:
        self.effects.append(Cancel(f"cancel:{which}:{why}:{self.now.isoformat()}", which))

    def note(
        self, subject: str, before: str = "", after: str = "", why: str = "", by: UUID | None = None
    ) -> None:
        key = f"note:{len(self.effects)}:{subject}:{self.now.isoformat()}"
        self.effects.append(Note(key, subject, before, after, why, by))

    def adverse(self, kind: str, baby: int | None = None) -> None:
        """Open an entry in the register; a death that says whose it is makes the vaguer one needless."""
        known = {effect.kind for effect in self.effects if isinstance(effect, Adverse)}
        if kind not in known and not (kind == "died" and known & {"baby_died", "mother_died"}):
            self.effects.append(Adverse(f"adverse:{kind}:{baby}:{self.now.isoformat()}", kind, baby))

    def book(self, review: Review) -> None:
        self.put_review(review)
        self.effects.append(Book(f"book:{review.id}", review))

    def values(self) -> dict[str, str]:
        """What any text may name. Words and numbers of the site stand as the mother needs them."""
        numbers, place = self.pair.site.numbers, place_for(self.pair.site, self.pair.extra)
        review = self.pair.expected_review
        values = {
            "mother": self.pair.mother.name,
            "baby": " + ".join(baby.name for baby in self.pair.living if baby.name),
            "n": str(len(self.pair.living)),
            "site": self.pair.site.name,
            "call": numbers.call,
            "hours": numbers.hours,
            "place": place.name,
            "place_call": place.call or numbers.place_call,
            "transport": place.transport or numbers.transport or place.call or numbers.place_call,
            "text": numbers.text,
        }
        if review is not None:
            values["day"] = review.on_day.isoformat()
            values["at"] = (review.at or self.pair.site.opens).isoformat("minutes")
        return values

    def advice(self, item: News) -> str | None:
        """The key of the text that tells her what a finding asks of her; None where nothing is said."""
        advice = self.content.rules.advice(item.rule)
        return advice if advice is None or item.baby is not None else self.without_baby(advice)

    def without_baby(self, key: str) -> str:
        """The text that says the same without naming the baby, where it is away from her, or died."""
        return WITHOUT_BABY.get(key, key) if self.is_without_baby else key

    @property
    def is_bereaved(self) -> bool:
        """Her baby died, or she wrote so and nobody has found it wrong."""
        item = self.pair.open_escalation
        told = item is not None and any(f.rule == BEREAVED and not f.withdrawn_by for f in item.findings)
        return told or not self.pair.living

    @property
    def is_without_baby(self) -> bool:
        """Her baby died, or is away from her."""
        return self.is_bereaved or self.pair.state is EnrolmentState.away

    # ---- the inbox

    def occasion(
        self, key: str, *, inbound: UUID | None = None, detail: str = "", urgency: Urgency | None = None
    ) -> None:
        """Something that no rule judges but a person must see."""
        known = self.content.occasions[key]
        self.raise_news([News(key, None, urgency or known.urgency, inbound, detail)])

    def raise_news(self, news: Sequence[News]) -> list[News]:
        """Put what was found into the pair's one escalation; give what a person did not know yet."""
        news = [item for item in news if item.urgency > Urgency.none]
        if not news:
            return []
        standing = self.pair.open_escalation
        counted = [risen(standing, item, self.now) for item in news]
        fresh = [
            item for item, as_counted in zip(news, counted, strict=True)
            if is_new_or_graver(standing, as_counted)
        ]  # fmt: skip
        item = join(standing, counted, self.pair.id, self.now, self.content.due)
        self.put_escalation(replace(item, not_before=None) if fresh else item)
        if fresh:
            self._raised(item, tuple(found.rule for found in fresh))
            self._wake_staff([found for found in counted if is_new_or_graver(standing, found)])
        self.begin_episode()
        return fresh

    def raise_unsettled(self) -> None:
        """What is for today and stands for a day unspoken goes up: staff are woken."""
        standing = self.pair.open_escalation
        at = rises_at(standing)
        if standing is not None and at is not None and at <= self.now:
            item, rules = with_risen(standing, self.now, self.content.due)
            self.put_escalation(replace(item, not_before=None))
            self._raised(item, rules)
            self.alert("go_now")

    def _raised(self, item: Escalation, rules: tuple[str, ...]) -> None:
        key = f"raise:{item.id}:{self.now.isoformat()}:{','.join(rules)}"
        self.effects.append(Raise(key, item.id, item.urgency, item.due_at, rules))

    def _wake_staff(self, fresh: Sequence[News]) -> None:
        """A danger wakes somebody at any hour; what is for today only where nobody would read it in time."""
        if any(item.urgency is Urgency.go_now for item in fresh):
            self.alert("go_now")
            return
        due = self.content.due[Urgency.same_day]
        for_today = any(item.urgency is Urgency.same_day and self._wakes(item.rule) for item in fresh)
        if for_today and is_too_late(self.pair.site, self.now, due):
            self.alert("no_cover")

    def _wakes(self, rule: str) -> bool:
        occasion = self.content.occasions.get(rule)
        return occasion is None or occasion.wakes

    def alert(self, reason: str) -> None:
        """Wake those on call about the open item; the audit says so where the list is empty."""
        item = self.pair.open_escalation
        if item is None:
            return
        alerts = ladder(self.pair, item, reason, self.now)
        self.effects += alerts
        self.note("alert", after=reason if alerts else f"{reason}: nobody is on the list")

    def heeded(self, how: Literal["taken", "spoken", "closed", "reply", "tap"]) -> None:
        item = self.pair.open_escalation
        if item is not None:
            self.effects.append(Heeded(f"heeded:{item.id}:{self.now.isoformat()}", item.id, how))

    def begin_episode(self) -> None:
        """While the open item is a danger an episode is open: somebody sees to it that she gets there. Where
        something new has come up since she was spoken to, it is looked at as before."""
        item = self.pair.open_escalation
        if item is None or not is_danger(item):
            return
        standing = self.pair.open_episode
        if standing is not None:
            if item.spoken_at is None and standing.state is not EpisodeState.arrived:
                put_episode(self, looked_again(replace(standing, checks=0), item, self.now))
            return
        made = derived_id(self.now, self.pair.id, "episode", item.id, len(self.pair.episodes))
        place = place_for(self.pair.site, self.pair.extra).name
        begun = Episode(made, item.id, EpisodeState.told, self.now, place)
        put_episode(self, looked_again(begun, item, self.now))
        self.note("episode", after=EpisodeState.told.value)

    def must_escalation(self) -> Escalation:
        """The open escalation. Raises Conflict when there is none."""
        item = self.pair.open_escalation
        if item is None:
            raise Conflict("This pair has nothing open in the inbox any more.")
        return item

    @property
    def in_danger(self) -> bool:
        """A danger is open: questions and reminders are held, people are on it."""
        return is_danger(self.pair.open_escalation)


def put_episode(draft: Draft, episode: Episode) -> None:
    draft.set(episodes=_with(draft.pair.episodes, episode))


def _with(rows: tuple[_Row, ...], row: _Row) -> tuple[_Row, ...]:
    """Put `row` into the place of the one with its id, or at the end. The newest is the likeliest."""
    for place in reversed(range(len(rows))):
        if rows[place].id == row.id:
            return (*rows[:place], row, *rows[place + 1 :])
    return (*rows, row)


def _left_alike(one: Pair, other: Pair) -> bool:
    """Tell whether both have the same ahead of them: an event changes nothing else that this is made of."""
    return (
        one.contacts is other.contacts
        and one.reviews is other.reviews
        and one.babies is other.babies
        and one.assessments is other.assessments
        and one.site is other.site
        and one.state is other.state
        and one.home_at is other.home_at
    )

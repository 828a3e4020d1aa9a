"""The pair being changed and the effects gathered so far, while one event is followed.

The only mutable thing in the transition; it lives for one call and never leaves it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, TypeVar
from uuid import UUID

from bot.core.checkin import with_question
from bot.core.errors import Conflict
from bot.core.escalation import DUE, News, is_new_or_graver, join
from bot.core.follow.events import Ask, Book, Cancel, Effect, Note, Raise, Say
from bot.core.outbox import Priority
from bot.core.pair import CheckIn, Escalation, Pair, Question, Review
from bot.core.pair_facts import Known
from bot.core.plan import Planned, left, next_of, out_of_quiet, planned, quiet_after
from bot.core.schedule import Schedule
from bot.core.states import EscalationState, Urgency
from bot.core.triage_rules import Occasion, RuleSet

# How long a text is worth sending, by what it is for. Common practice, no source.
ANSWER_EXPIRES = timedelta(hours=6)
GO_NOW_EXPIRES = timedelta(hours=24)

_Row = TypeVar("_Row", CheckIn, Escalation, Review)


@dataclass(frozen=True, slots=True)
class Content:
    """What the programme decided: the schedule, the rules, the occasions that need a person, due times."""

    schedule: Schedule
    rules: RuleSet
    occasions: Mapping[str, Occasion]
    questions: frozenset[str]  # keys that are questions; other keys of answers are danger signs
    due: Mapping[Urgency, timedelta] = field(default_factory=lambda: DUE)
    unsigned: frozenset[str] = frozenset()  # languages of which no clinician has approved the words

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

    def book(self, review: Review) -> None:
        self.put_review(review)
        self.effects.append(Book(f"book:{review.id}", review))

    def values(self) -> dict[str, str]:
        """What any text may name. Words and numbers of the site stand as the mother needs them."""
        numbers = self.pair.site.numbers
        review = self.pair.expected_review
        values = {
            "mother": self.pair.mother.name,
            "baby": " + ".join(baby.name for baby in self.pair.living if baby.name),
            "n": str(len(self.pair.living)),
            "site": self.pair.site.name,
            "call": numbers.call,
            "hours": numbers.hours,
            "place": numbers.place,
            "place_call": numbers.place_call,
            "text": numbers.text,
        }
        if review is not None:
            values["day"] = review.on_day.isoformat()
            values["at"] = (review.at or self.pair.site.opens).isoformat("minutes")
        return values

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
        fresh = [item for item in news if is_new_or_graver(standing, item)]
        item = join(standing, news, self.pair.id, self.now, self.content.due)
        self.put_escalation(item)
        if fresh:
            rules = tuple(found.rule for found in fresh)
            key = f"raise:{item.id}:{self.now.isoformat()}:{','.join(rules)}"
            self.effects.append(Raise(key, item.id, item.urgency, item.due_at, rules))
        return fresh

    def must_escalation(self) -> Escalation:
        """The open escalation. Raises Conflict when there is none."""
        item = self.pair.open_escalation
        if item is None:
            raise Conflict("This pair has nothing open in the inbox any more.")
        return item

    @property
    def in_danger(self) -> bool:
        """A go_now is open: questions and reminders are held, people are on it."""
        item = self.pair.open_escalation
        return (
            item is not None and item.urgency is Urgency.go_now and item.state is not EscalationState.closed
        )


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
        and one.site is other.site
    )

"""The people of the past: mothers who are enrolled, get texts and answer as their stories say, and staff who
take, call and close what they raise, and see them at their reviews."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from bot.content.guides import guides
from bot.core.follow.events import (
    Action,
    Away,
    Close,
    EnterAnswers,
    Going,
    PlanVisit,
    Spoke,
    Take,
    Tried,
)
from bot.core.ids import derived_id
from bot.core.pair import Assessment, Escalation, Pair, Review
from bot.core.plan import at_local
from bot.core.states import EnrolmentState, EpisodeState
from bot.core.young_infant import ATTACHMENT, POSITION, SUCKLING
from bot.demo.district import Newborn, Noted, Story, good_answers
from bot.demo.past import Past
from bot.steps.enrolment import Door, enrol_many
from bot.steps.inbox import act, record_review
from bot.store.pairs import load_pairs
from bot.store.viewer import Viewer
from bot.store.views_inbox import open_items

# How long after a text she answers, in minutes; each mother goes through them from another place.
LAGS = (7, 19, 4, 33, 12, 26, 9, 41)
CALLED_AFTER = timedelta(minutes=25)  # a go_now or same_day item of the past
LEFT = timedelta(hours=24)  # what is left to the newcomer came in this long before the demo begins
SEEN_AFTER = timedelta(minutes=40)  # the review is written down so long after its hour
SHARED = "+447700900199"
ASKS = ("ask-", "again-")
# What a mother without a phone says when she is called: enough of everything, at any age.
SAID_ON_THE_PHONE: Mapping[str, tuple[float, float]] = {
    "worry": (0, 0),
    "feeds": (10, 10),
    "wet_nappies": (7, 7),
}
SAID_AT_THE_REVIEW: Mapping[str, tuple[float, float]] = {
    "feeds": (9, 9),
    "other_food": (0, 0),
    "thrush": (0, 0),
}
# What staff do besides what the way to help brings, by the day on which they do it.
DONE: Mapping[str, Callable[[date], Action]] = {
    "spoken": lambda today: Spoke(),
    "no_answer": lambda today: Tried("call", "no_answer"),
    "asked_second": lambda today: Tried("second_contact", "no_answer"),
    "visit_planned": lambda today: PlanVisit(today + timedelta(days=1), "Sister Atieno"),
    "away": lambda today: Away(today + timedelta(days=6), "in_hospital"),
}


@dataclass(slots=True)
class Mother:
    """A story being lived."""

    story: Story
    place: int  # in the list of stories
    number: str
    born_at: datetime  # in the zone of her site
    pair: UUID | None = None
    texts: int = 0
    answers: dict[str, int] = field(default_factory=dict)

    def details(self, discharged_at: datetime) -> dict[str, Any]:
        """Her discharge form."""
        story = self.story
        consent = {"texts": bool(self.number), "calls": True, "taken_by": "Ward", "language": story.language}
        consent |= {"second_contact": story.second is not None, "home_visit": story.home_visit}
        mother = {"name": story.name, "language": story.language, "phone_shared": story.phone == "shared"}
        if self.number:
            mother["phone"] = self.number
        return {
            "external_id": f"H-{1001 + self.place}",
            "site": story.site,
            "mother": mother,
            "babies": [self._baby(baby) for baby in story.babies],
            "discharged_at": discharged_at.isoformat(),
            "consent": consent,
            "preferred_hour": story.hour,
            "follow_up_by": "text" if self.number else "call",
            "confirmed": ["mother.phone"],
        } | ({"second_contact": story.second.model_dump()} if story.second else {})

    def _baby(self, baby: Newborn) -> dict[str, Any]:
        seen = {"chin": "yes", "mouth": "yes", "lower_lip": baby.latch, "areola": "yes"}
        return {
            "name": baby.name,
            "born_at": self.born_at.isoformat(),
            "sex": baby.sex,
            "birth_weight_g": baby.weight,
            "gestation_weeks": baby.weeks,
            "assessment": {"attachment": seen, "suckling": "effective"},
        }

    def reply(self, text_key: str, day: int) -> str:
        """What she answers to a text on that day of her baby's life; '' when she does not."""
        self.texts += 1
        if text_key == "practice":
            return self._good("practice") if self.story.answers_practice else ""
        if not text_key.startswith(ASKS) or day in self.story.silent:
            return ""
        question = text_key.split("-", 1)[1].removesuffix("-twins")
        own = self.story.on.get(day, {}).get(question)
        return own if own is not None else self._good(question)

    def _good(self, question: str) -> str:
        lines = good_answers(self.story.language).get(question, ["0"])
        turn = self.answers.get(question, 0)
        self.answers[question] = turn + 1
        return lines[(self.place + turn) % len(lines)]

    def lag(self) -> timedelta:
        return timedelta(minutes=LAGS[(self.place + self.texts) % len(LAGS)])


class People:
    """All of them. `told` is what the past calls when a text comes on a phone."""

    def __init__(
        self, stories: Sequence[Story], zones: Mapping[str, ZoneInfo], counsellor: Viewer, end: datetime
    ) -> None:
        self.mothers = [
            Mother(story, place, _number(story, place), (end - story.age).astimezone(zones[story.site]))
            for place, story in enumerate(stories)
        ]
        self._by_number = {mother.number: mother for mother in self.mothers if mother.number}
        self._by_pair: dict[UUID, Mother] = {}
        self._noticed: set[UUID] = set()
        self._counsellor, self._end = counsellor, end

    @property
    def off(self) -> frozenset[str]:
        return frozenset(mother.number for mother in self.mothers if mother.story.phone == "off")

    def begin(self, past: Past, door: Door) -> None:
        """Put into the calendar who is born when, and what each says unasked."""
        for mother in self.mothers:
            home = mother.born_at + timedelta(hours=mother.story.stay)
            past.at(home + timedelta(minutes=15), self._enrols(past, mother, home, door))
            for says in mother.story.says:
                past.at(
                    self._end - timedelta(minutes=says.minutes), self._writes(past, mother.number, says.text)
                )

            for noted in mother.story.noted:
                past.at(self._end - timedelta(minutes=noted.minutes), self._notes(past, mother, noted))

    def told(self, past: Past, number: str, text_key: str) -> None:
        """A text has come: she answers it after a while, if she does."""
        mother = self._by_number.get(number)
        if mother is None:
            return
        today = past.now.astimezone(mother.born_at.tzinfo).date()
        text = mother.reply(text_key, (today - mother.born_at.date()).days)
        if text:
            past.at(past.now + mother.lag(), self._writes(past, number, text))

    def _enrols(self, past: Past, mother: Mother, home: datetime, door: Door) -> Callable[[], None]:
        def do() -> None:
            found = enrol_many(past.store, past.content, door, [mother.details(home)], past.now)[0]
            if found.pair is None:
                raise ValueError(f"{mother.story.name}: {found.faults}")
            mother.pair = found.pair.id
            self._by_pair[found.pair.id] = mother
            self._expect(past, mother, found.pair)

        return do

    def _writes(self, past: Past, number: str, text: str) -> Callable[[], None]:
        return lambda: past.write(number, text)

    # ---- staff

    def look(self, past: Past) -> None:
        """Look into the inbox: what is new there is dealt with after a while, but for what is left to you."""
        with past.store.read() as conn:
            items = open_items(conn, self._counsellor)
        for item in items:
            mother = self._by_pair.get(item.enrolment) if item.enrolment else None
            left = mother is not None and mother.story.left and past.now > self._end - LEFT
            if mother and not left and item.id not in self._noticed:
                self._noticed.add(item.id)
                past.at(past.now + CALLED_AFTER, self._calls(past, mother))

    def _calls(self, past: Past, mother: Mother) -> Callable[[], None]:
        def do() -> None:
            pair = _load(past, mother)
            item = pair.open_escalation
            if item is None or pair.state is not EnrolmentState.following:
                return
            outcome = mother.story.outcome if pair.open_episode else ""
            close = Close(mother.story.found or _usual(item), outcome=outcome)
            actions: list[Action] = [Take(), Spoke(), close]
            if any(finding.rule == "contact_by_call" for finding in item.findings):
                actions.insert(1, EnterAnswers(SAID_ON_THE_PHONE))
            act(past.store, past.content, self._counsellor, pair.id, actions, past.now)

        return do

    def _notes(self, past: Past, mother: Mother, noted: Noted) -> Callable[[], None]:
        def do() -> None:
            pair = _load(past, mother)
            item = pair.open_escalation
            done = DONE.get(noted.state)
            note = done(pair.local(past.now).date()) if done else Going(EpisodeState[noted.state])
            takes = isinstance(note, Spoke | Going) and item is not None and item.taken_by is None
            taken: list[Action] = [Take()] if takes else []
            act(past.store, past.content, self._counsellor, pair.id, [*taken, note], past.now)

        return do

    def _expect(self, past: Past, mother: Mother, pair: Pair) -> None:
        """They come to their review, unless the story says otherwise."""
        review = pair.expected_review
        if review is not None and mother.story.review == "attended":
            past.at(_starts(review, pair) + SEEN_AFTER, self._comes(past, mother, review.id))

    def _comes(self, past: Past, mother: Mother, review_id: UUID) -> Callable[[], None]:
        def do() -> None:
            pair = _load(past, mother)
            review = pair.expected_review
            if review is None or review.id != review_id:
                return
            seen = [_seen(pair, place, mother, review, past.now) for place in range(len(pair.babies))]
            store, content, by = past.store, past.content, self._counsellor
            said = {baby.ordinal: SAID_AT_THE_REVIEW for baby in pair.babies}
            after = record_review(store, content, by, pair.id, review.id, True, seen, "", past.now, said)
            self._expect(past, mother, after)

        return do


def _load(past: Past, mother: Mother) -> Pair:
    assert mother.pair is not None
    with past.store.read() as conn:
        return load_pairs(conn, [mother.pair], lock=False)[0]


def _number(story: Story, place: int) -> str:
    if story.phone == "none":
        return ""
    return SHARED if story.phone == "shared" else f"+4477009001{place:02}"


def _starts(review: Review, pair: Pair) -> datetime:
    return at_local(review.on_day, review.at or pair.site.opens, pair.tz)


def _seen(pair: Pair, place: int, mother: Mother, review: Review, now: datetime) -> Assessment:
    """What was seen of one baby: the next weight of its story, and a latch that is mended at the second."""
    baby, newborn = pair.babies[place], mother.story.babies[place]
    turn = sum(1 for seen in pair.assessments if seen.occasion == "review" and seen.baby == baby.ordinal)
    signs = dict.fromkeys(POSITION + ATTACHMENT, "yes") | {SUCKLING: "effective"}
    if turn == 0:
        signs["attachment_lower_lip"] = newborn.latch
    lost = round(newborn.weight * 0.95 / 10) * 10
    weight = newborn.weights[turn] if turn < len(newborn.weights) else lost + 30 * turn
    made = derived_id(now, review.id, baby.ordinal)
    return Assessment(made, baby.ordinal, now, "Ruth Achieng", "review", signs, weight)


def _usual(item: Escalation) -> str:
    """What a call for this item usually finds: the first the guide names."""
    lead = max(item.findings, key=lambda finding: finding.urgency)
    return guides().for_finding((lead.rule,), lead.urgency).found[0].id

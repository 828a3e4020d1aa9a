"""What a mother receives by a schedule: an invented pair and the texts come in, her texts with their hour and
price go out. For looking before publishing; nothing is stored."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time
from uuid import UUID

from bot.content.check_texts import sample_values
from bot.content.languages import is_latin, native
from bot.content.texts import BETWEEN_NAMES, Texts
from bot.core.pair import Assessment, Baby, Consent, Mother, Pair, Review, Site
from bot.core.plan import DAY, Planned, at_local, planned
from bot.core.review import first_review
from bot.core.schedule import ContactKind, Schedule
from bot.core.segments import Segments, count, sendable
from bot.core.states import EnrolmentState, ReviewState, Texting
from bot.core.young_infant import ATTACHMENT, POSITION, SUCKLING

ONE = UUID(int=1)
BORN, LEFT = time(6, 15), time(14)  # of the invented pair: born in the morning, home the next afternoon


@dataclass(frozen=True, slots=True)
class Line:
    """One text. `follows`: it is asked only after her answer to the one before."""

    key: str
    words: str
    price: Segments
    spoken: str  # the language it is really in: English where a translation is missing
    follows: bool


@dataclass(frozen=True, slots=True)
class Stop:
    """One contact of the course with its texts; `age_days` counts from the day of birth."""

    contact: Planned
    age_days: int
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Price:
    """How many texts and how many segments the whole course costs if she answers every question once."""

    texts: int
    segments: int


def typical_pair(site: Site, tag: str, schedule: Schedule, now: datetime, *, small: bool = False) -> Pair:
    """Invent a pair that is born today and goes home tomorrow: a term baby feeding well, or a small one.
    `tag` is that of her language, or of the same in Latin letters."""
    said = sample_values(tag)
    born_on = now.astimezone(site.tz).date()
    born_at, left_at = at_local(born_on, BORN, site.tz), at_local(born_on + DAY, LEFT, site.tz)
    signs = dict.fromkeys((*POSITION, *ATTACHMENT), "yes") | {SUCKLING: "effective"}
    pair = Pair(
        id=ONE,
        external_id="",
        site=site,
        mother=Mother(ONE, said["mother"], said["call"], native(tag), False, Texting.on, latin=is_latin(tag)),
        babies=(Baby(ONE, 1, said["baby"], born_on, born_at, "female", 2200 if small else 3200, 39.0),),
        discharged_at=left_at,
        enrolled_at=left_at,
        consent=Consent(texts=True, calls=True),
        preferred_hour=None,
        follow_up_by="text",
        schedule=schedule.name,
        state=EnrolmentState.following,
        wake_at=left_at,
        assessments=(Assessment(ONE, 1, left_at, "", "discharge", signs),),
    )
    booking = first_review(pair, schedule)
    if booking.on_day is None:
        return pair
    review = Review(ONE, booking.on_day, booking.at, booking.kind, ReviewState.expected, left_at)
    return replace(pair, reviews=(review,))


def course(pair: Pair, schedule: Schedule, texts: Texts) -> list[Stop]:
    """Give every contact of a pair with the texts it sends, in order."""
    values = _values(pair)
    return [
        Stop(
            contact,
            (contact.due_local.date() - pair.youngest.born_on).days,
            tuple(_lines(contact, pair, texts, values)),
        )
        for contact in planned(pair, schedule)
    ]


def price(stops: Sequence[Stop]) -> Price:
    """Add up a course."""
    lines = [line for stop in stops for line in stop.lines]
    return Price(len(lines), sum(line.price.segments for line in lines))


def _lines(contact: Planned, pair: Pair, texts: Texts, values: Mapping[str, str]) -> Iterator[Line]:
    keys = [contact.spec.text]
    if contact.kind is ContactKind.check_in:
        keys = [f"ask-{question}" for question in contact.questions]
    for place, key in enumerate(keys):
        _, spoken = texts.words(key, pair.mother.reads)
        words = sendable(texts.render(key, pair.mother.reads, values))
        yield Line(key, words, count(words), spoken, follows=place > 0)


def _values(pair: Pair) -> dict[str, str]:
    """What her texts name: her site's own numbers, or invented ones where it has none yet."""
    said, numbers = sample_values(pair.mother.reads), pair.site.numbers
    review = pair.expected_review
    values = {
        "mother": pair.mother.name,
        "baby": BETWEEN_NAMES.join(baby.name for baby in pair.living),
        "n": str(len(pair.living)),
        "site": pair.site.name,
        "call": numbers.call or said["call"],
        "hours": numbers.hours or said["hours"],
        "place": numbers.place or said["place"],
        "place_call": numbers.place_call,
        "text": numbers.text or said["text"],
    }
    # A schedule may send reminders while no day is booked for this pair: the sample's day stands in.
    return values | {
        "day": review.on_day.isoformat() if review else said["day"],
        "at": (review.at or pair.site.opens).isoformat("minutes") if review else said["at"],
    }

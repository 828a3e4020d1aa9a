"""What a manager sets: the contacts of a schedule, its limits, and when reviews are due. Plain frozen values.

`bot.core.plan` makes the contacts of one pair from it, `bot.core.review` its reviews; both files of messages/
and published editions are read into these types.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, time, timedelta
from enum import StrEnum


class ContactKind(StrEnum):
    check_in = "check_in"  # asks questions
    advice = "advice"  # says something that stays true for a while
    reminder = "reminder"  # speaks of a day or hour to come


class Anchor(StrEnum):
    birth = "birth"  # of the youngest baby
    discharge = "discharge"
    review = "review"  # the expected one
    home = "home"  # coming home again, after mother or baby was away; a pair that never was has no such day


class Condition(StrEnum):
    """For whom a contact is; without a condition it is for every pair."""

    small_or_twin = "small_or_twin"
    close_watch = "close_watch"  # small, early or a twin, or last seen to be poorly attached or suckling
    poor_attachment = "poor_attachment"
    wound = "wound"  # a caesarean or a tear
    high_blood_pressure = "high_blood_pressure"
    heavy_bleeding = "heavy_bleeding"  # at birth


@dataclass(frozen=True, slots=True)
class Window:
    """Local times between which the mother's preferred hour is taken; without one the start is."""

    start: time
    end: time


@dataclass(frozen=True, slots=True)
class Repeat:
    """Comes again every so many days, up to and including `until_days` after the anchor."""

    every_days: int
    until_days: int


@dataclass(frozen=True, slots=True)
class Also:
    """A question that a check-in asks besides its own, of those for whom the condition holds."""

    ask: str
    condition: Condition


@dataclass(frozen=True, slots=True)
class ContactSpec:
    """One step of a schedule; its key is for ever.

    Its local date is the anchor's plus `days`. Its time there is `at`, or the preferred hour inside `window`,
    or inside the hours that leave the site time to act (`cover`); with none of the three it is the anchor's
    own instant plus `days` and `hours`. It may begin until `valid_for` after it was due; a check-in then
    waits `open_for` for answers. What it asks `also` comes right after its first question, as far as the
    limit of the day leaves room beside its own.
    """

    key: str
    kind: ContactKind
    anchor: Anchor
    valid_for: timedelta
    days: int = 0
    hours: float = 0
    at: time | None = None
    window: Window | None = None
    cover: bool = False
    open_for: timedelta = timedelta(hours=22)
    questions: tuple[str, ...] = ()
    also: tuple[Also, ...] = ()
    text: str = ""
    condition: Condition | None = None
    repeat: Repeat | None = None
    on: bool = True
    meaning: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class ReviewPolicy:
    """When mother and baby are seen again. Hours count from discharge in wall-clock time."""

    target_hours: int = 48
    latest_hours: int = 72
    later_hours: int | None = None  # the target for pairs seen to have no feeding problem; None: the same
    follow_up_days: int = 2  # the next review after one that found a feeding problem, thrush or a weight loss
    low_weight_days: int = 14  # the next one after low weight for age alone
    feeds_at_least: int = 8  # fewer in 24 hours is a feeding problem


@dataclass(frozen=True, slots=True)
class Schedule:
    """The contacts a manager set, in one edition. Equal quiet times mean no quiet hours.

    `sources` names where the numbers of each section come from, `dated` when they were written down.
    """

    name: str
    edition: int
    contacts: tuple[ContactSpec, ...]
    quiet_from: time = time(20)
    quiet_until: time = time(8)
    max_questions_first_week: int = 3
    max_asking_a_day: int = 4  # questions in one local day
    cover_after_opening: timedelta = timedelta(minutes=30)
    cover_before_closing: timedelta = timedelta(hours=3)
    day_counts: frozenset[str] = frozenset({"feeds", "wet_nappies", "dirty_nappies"})
    review: ReviewPolicy = field(default_factory=ReviewPolicy)
    sources: Mapping[str, str] = field(default_factory=dict)
    dated: date | None = None

    @property
    def stamp(self) -> str:
        return f"{self.name}:{self.edition}"

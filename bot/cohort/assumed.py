"""What is assumed of mothers, phones and staff: assumed.toml, with what another file changes in it, comes in;
checked values go out. Every fault is named at once."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Set
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from functools import cached_property
from pathlib import Path
from typing import Annotated, Any, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError, model_validator

from bot.content.site_cover import DAYS
from bot.core.errors import Invalid, Problem

HERE = Path(__file__).parent
LAST_DAY = 366

Share = Annotated[float, Field(ge=0, le=1)]
Positive = Annotated[float, Field(gt=0)]


def _in_order(points: list[tuple[int, float]]) -> list[tuple[int, float]]:
    days = [day for day, _ in points]
    if not points or days != sorted(set(days)) or any(value < 0 for _, value in points):
        raise ValueError("List [day, value] with rising days and no value below 0.")
    return points


Points = Annotated[list[tuple[int, float]], AfterValidator(_in_order)]


def by_day(points: list[tuple[int, float]]) -> tuple[float, ...]:
    """The value of each day of life: straight lines between the points, level outside them."""
    values = []
    for day in range(LAST_DAY + 1):
        before = max((point for point in points if point[0] <= day), default=points[0])
        after = min((point for point in points if point[0] >= day), default=points[-1])
        along = (day - before[0]) / (after[0] - before[0]) if after[0] > before[0] else 0.0
        values.append(before[1] + (after[1] - before[1]) * along)
    return tuple(values)


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Births(_Part):
    start: date = Field(alias="from")
    over_days: int = Field(ge=1, le=LAST_DAY)
    stay_hours: tuple[Positive, Positive]


class Babies(_Part):
    twins: Share
    low_birth_weight: Share
    preterm: Share


class Phones(_Part):
    none: Share
    wrong: Share
    off_mothers: Share
    off_days: Share


class Replies(_Part):
    practice: Share
    answers: Points
    goes_on: Share
    again: Share
    minutes: Positive
    in_words: Share
    vague: Share
    chat: Share
    call_me: Share
    opt_out: Share

    @cached_property
    def answered(self) -> tuple[float, ...]:
        return by_day(self.answers)


class TroubleAssumed(_Part):
    share: Share
    onset: Points
    lasts_days: Positive
    mends_after_help_hours: Positive
    helped: Share
    feeds: Share
    wet_nappies: Share
    dirty_nappies: Share
    pain: Share
    worries: Share

    @cached_property
    def onsets(self) -> tuple[float, ...]:
        return by_day(self.onset)


class DangersAssumed(_Part):
    chance: Points
    named: Share
    written: Share
    answered: Share
    goes: Share
    arrives_hours: Positive
    lasts_hours: Positive
    signs: Mapping[str, Positive]

    @cached_property
    def chances(self) -> tuple[float, ...]:
        return by_day(self.chance)


class Reviews(_Part):
    attended: Share
    other_food: Share


class Minutes(_Part):
    """Minutes by urgency."""

    go_now: Positive
    same_day: Positive
    routine: Positive

    def of(self, urgency: str) -> float:
        found: float = getattr(self, urgency)
        return found


class Shift(_Part):
    """Local times of the site; `until` earlier than `start` is the next morning, equal to it a whole day."""

    days: tuple[str, ...] = Field(min_length=1)
    start: time = Field(alias="from")
    until: time

    @model_validator(mode="after")
    def _known_days(self) -> Self:
        if not set(self.days) <= set(DAYS):
            raise ValueError(f"days must be among {', '.join(DAYS)}.")
        return self

    @property
    def weekdays(self) -> frozenset[int]:
        return frozenset(map(DAYS.index, self.days))

    @property
    def length(self) -> timedelta:
        begin, end = (datetime.combine(date.min, clock) for clock in (self.start, self.until))
        return end - begin + (timedelta(days=1) if end <= begin else timedelta(0))


class Staff(_Part):
    shifts: tuple[Shift, ...] = Field(min_length=1)
    counsellors: int = Field(ge=1, le=10_000)
    minutes: Minutes
    speaks_after: Minutes
    on_call: Share
    on_call_minutes: Positive


class TariffAssumed(_Part):
    per_segment: Decimal = Field(ge=0)
    currency: str = Field(min_length=1, max_length=8)


class Assumed(_Part):
    unsigned: tuple[str, ...]
    births: Births
    babies: Babies
    languages: Mapping[str, Positive] = Field(min_length=1)
    phones: Phones
    replies: Replies
    trouble: TroubleAssumed
    dangers: DangersAssumed
    reviews: Reviews
    staff: Staff
    tariff: TariffAssumed
    site: Mapping[str, Any]  # as in the file of `dunnock site add`; checked by its reader


_WHOLE = frozenset({"languages", "signs"})  # tables that a changed file replaces as a whole


def default_text() -> str:
    """The assumptions that ship with the program, with their comments."""
    return (HERE / "assumed.toml").read_text("utf-8")


def read_assumed(changes: str = "", *, languages: Set[str], signs: Set[str]) -> Assumed:
    """Give the assumptions that ship, with what the TOML text `changes` says put over them.

    languages, signs  those that can be chosen
    Invalid           with every fault, by its place in the file
    """
    try:
        changed = tomllib.loads(changes)
    except tomllib.TOMLDecodeError as error:
        raise Invalid([Problem("", f"This is not TOML: {error}")]) from error
    try:
        found = Assumed.model_validate(_over(tomllib.loads(default_text()), changed))
    except ValidationError as error:
        faults = [
            Problem(".".join(map(str, each["loc"])), each["msg"].removeprefix("Value error, "))
            for each in error.errors()
        ]
        raise Invalid(faults) from error
    unknown = [
        Problem(
            f"languages.{code}",
            f"There are no words and texts in it; choose from {', '.join(sorted(languages))}.",
        )
        for code in found.languages
        if code not in languages
    ]
    unknown += [
        Problem(f"dangers.signs.{sign}", f"There is no such sign; choose from {', '.join(sorted(signs))}.")
        for sign in found.dangers.signs
        if sign not in signs
    ]
    if unknown:
        raise Invalid(unknown)
    return found


def _over(standing: Mapping[str, Any], changed: Mapping[str, Any]) -> dict[str, Any]:
    merged = dict(standing)
    for key, value in changed.items():
        old = standing.get(key)
        deeper = isinstance(old, dict) and isinstance(value, dict) and key not in _WHOLE
        merged[key] = _over(old, value) if deeper and isinstance(old, dict) else value
    return merged

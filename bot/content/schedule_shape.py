"""The shape of a schedule's file: what may stand in it, under which names, in which units.

Read from JSON in strict mode; builds the plain types of `bot.core.schedule` and is built from them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields
from datetime import date, time, timedelta
from typing import Annotated, Any, Self

from pydantic import BaseModel, ConfigDict, Field, PlainSerializer, PlainValidator, model_validator

from bot.core.schedule import (
    Also,
    Anchor,
    Condition,
    ContactKind,
    ContactSpec,
    Repeat,
    ReviewPolicy,
    Schedule,
    Window,
)

HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)
LAST_DAY = 366

Words = Annotated[str, Field(min_length=1)]
Key = Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")]


def _hours(value: object) -> timedelta:
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value <= 24 * LAST_DAY:
        raise ValueError("Write a number of hours above 0, such as 6.")
    return value * HOUR


Hours = Annotated[
    timedelta,
    PlainValidator(_hours),
    PlainSerializer(lambda value: int(value / HOUR) if value % HOUR == timedelta(0) else value / HOUR),
]


class Part(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, validate_by_name=True, validate_by_alias=True)


class _Section(Part):
    source: Words


class _Quiet(_Section):
    start: time = Field(alias="from")
    until: time


class _Limits(_Section):
    questions_first_week: int = Field(ge=1, le=10)
    asking_a_day: int = Field(ge=1, le=20)
    day_counts: list[Words]


class _Cover(_Section):
    minutes_after_opening: int = Field(ge=0, le=720)
    minutes_before_closing: int = Field(ge=0, le=720)


class _Review(_Section):
    target_hours: int = Field(ge=24, le=14 * 24)
    latest_hours: int = Field(ge=24, le=21 * 24)
    later_hours: int | None = Field(default=None, ge=24, le=14 * 24)
    follow_up_days: int = Field(ge=1, le=14)
    low_weight_days: int = Field(default=14, ge=1, le=28)  # editions stored before it was a setting lack it
    feeds_at_least: int = Field(ge=1, le=14)

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.latest_hours < self.target_hours:
            raise ValueError("latest_hours can't come before target_hours.")
        if self.later_hours is not None and self.later_hours < self.target_hours:
            raise ValueError("later_hours can't come before target_hours.")
        return self


class Head(Part):
    """Everything of a schedule but its contacts."""

    name: Key
    edition: int = Field(ge=1)
    dated: date
    quiet: _Quiet
    limits: _Limits
    cover: _Cover
    review: _Review

    def build(self, contacts: tuple[ContactSpec, ...]) -> Schedule:
        policy = self.review.model_dump(exclude={"source"})
        sections: dict[str, _Section] = {
            "quiet": self.quiet,
            "limits": self.limits,
            "cover": self.cover,
            "review": self.review,
        }
        return Schedule(
            name=self.name,
            edition=self.edition,
            contacts=contacts,
            quiet_from=self.quiet.start,
            quiet_until=self.quiet.until,
            max_questions_first_week=self.limits.questions_first_week,
            max_asking_a_day=self.limits.asking_a_day,
            cover_after_opening=self.cover.minutes_after_opening * MINUTE,
            cover_before_closing=self.cover.minutes_before_closing * MINUTE,
            day_counts=frozenset(self.limits.day_counts),
            review=ReviewPolicy(**policy),
            sources={name: section.source for name, section in sections.items()},
            dated=self.dated,
        )

    @classmethod
    def of(cls, schedule: Schedule) -> Head:
        sources, policy = schedule.sources, schedule.review
        return cls.model_construct(
            name=schedule.name,
            edition=schedule.edition,
            dated=schedule.dated,
            quiet=_Quiet.model_construct(
                start=schedule.quiet_from, until=schedule.quiet_until, source=sources["quiet"]
            ),
            limits=_Limits.model_construct(
                questions_first_week=schedule.max_questions_first_week,
                asking_a_day=schedule.max_asking_a_day,
                day_counts=sorted(schedule.day_counts),
                source=sources["limits"],
            ),
            cover=_Cover.model_construct(
                minutes_after_opening=schedule.cover_after_opening // MINUTE,
                minutes_before_closing=schedule.cover_before_closing // MINUTE,
                source=sources["cover"],
            ),
            review=_Review.model_construct(**_values(policy), source=sources["review"]),
        )


class ContactRow(Part):
    """One contact, with the fields of `ContactSpec` under the names that files use."""

    key: Key
    kind: ContactKind
    anchor: Anchor
    valid_for: Hours = Field(alias="valid_for_hours")
    days: int = Field(default=0, ge=-7, le=LAST_DAY)
    hours: float = Field(default=0, ge=0, le=24 * LAST_DAY)
    at: time | None = None
    window: Window | None = None
    cover: bool = False
    open_for: Hours = Field(default=22 * HOUR, alias="open_for_hours")
    questions: tuple[Words, ...] = ()
    also: tuple[Also, ...] = ()
    text: str = ""
    condition: Condition | None = None
    repeat: Repeat | None = None
    on: bool = True
    meaning: Words
    source: Words

    @model_validator(mode="after")
    def _fits(self) -> Self:
        faults = " ".join([*self._time_faults(), *self._kind_faults()])
        if faults:
            raise ValueError(faults)
        return self

    def _time_faults(self) -> Iterator[str]:
        times = [self.at is not None, self.window is not None, self.cover]
        to_review = self.anchor is Anchor.review
        if sum(times) > 1:
            yield "Give one of at, window and cover, not several."
        if any(times) and self.hours:
            yield "Give hours or a time of day, not both."
        if self.window is not None and self.window.end < self.window.start:
            yield "The window ends before it starts."
        if self.days < 0 and not to_review:
            yield "Only a contact anchored to the review can come before its anchor."
        if self.repeat is not None and self.anchor in (Anchor.review, Anchor.home):
            yield "A contact anchored to the review or to coming home can't repeat."
        if self.repeat is not None and (self.repeat.every_days < 1 or self.repeat.until_days < self.days):
            yield "Repeat at least a day apart, and until a day after the first."

    def _kind_faults(self) -> Iterator[str]:
        if self.kind is not ContactKind.check_in:
            if not self.text:
                yield "Name the text to send."
            if self.questions or self.also or "open_for" in self.model_fields_set:
                yield "Only a check-in has questions and open_for_hours."
            return
        if not self.questions:
            yield "A check-in needs questions."
        if len(set(self.questions)) < len(self.questions):
            yield "A question stands twice."
        if self.text:
            yield "A check-in asks its questions; leave text out."

    def build(self) -> ContactSpec:
        return ContactSpec(**{each.name: getattr(self, each.name) for each in fields(ContactSpec)})

    @classmethod
    def of(cls, spec: ContactSpec) -> ContactRow:
        return cls.model_construct(**_values(spec))


def _values(value: ContactSpec | ReviewPolicy) -> dict[str, Any]:
    return {each.name: getattr(value, each.name) for each in fields(value)}

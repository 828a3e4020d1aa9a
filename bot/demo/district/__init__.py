"""The invented district of the demo: its sites, staff and mothers, and what they write, as data beside this
file. Nothing comes in; checked values go out."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, field_validator

from bot.content.site import site_from
from bot.core.pair import Site
from bot.store.viewer import Role

_HERE = Path(__file__).parent


class _Row(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


def lazy(text: str) -> str:
    """Mark a string for the catalogs; it is translated where it is shown."""
    return text


# What an account of each role is good for, said to a newcomer.
WHAT: Mapping[Role, str] = {
    Role.counsellor: lazy("answers the inbox: start here"),
    Role.lead: lazy("leads the counsellors"),
    Role.manager: lazy("changes the schedule, sees the counts"),
    Role.admin: lazy("looks after accounts and sites"),
}


class Login(_Row):
    """A person of the staff."""

    login: str
    name: str
    role: Role
    password: str = Field(min_length=15)

    @property
    def what(self) -> str:
        return WHAT[self.role]


class Says(_Row):
    """Something she writes unasked, so many minutes before the demo begins."""

    minutes: int
    text: str


class Noted(_Row):
    """What staff note, so many minutes before the demo begins: a state of the way to help, or what was done
    (an id of `people.DONE`)."""

    minutes: int
    state: str


class Second(_Row):
    """Her second contact."""

    name: str
    phone: str
    may_know: bool = False


class Newborn(_Row):
    """`weights` in g are those of her reviews; `latch` is how attachment was seen at the first of them."""

    name: str
    sex: str
    weight: int
    weeks: float = 39
    weights: tuple[int, ...] = ()
    latch: str = "yes"


class Story(_Row):
    """A mother and what she does; the head of mothers.toml explains each field."""

    name: str
    site: str
    language: str
    age: timedelta
    babies: tuple[Newborn, ...]
    stay: float = 26
    hour: int | None = None
    phone: str = "own"  # own, shared, off (the network does not reach it), none
    second: Second | None = None
    home_visit: bool = False
    answers_practice: bool = True
    on: Mapping[int, Mapping[str, str]] = Field(default_factory=dict)
    says: tuple[Says, ...] = ()
    noted: tuple[Noted, ...] = ()
    outcome: str = "treated_home"
    silent: frozenset[int] = frozenset()
    left: bool = False
    found: str = ""
    review: str = "attended"

    @field_validator("age", mode="before")
    @classmethod
    def _days_and_hours(cls, value: str) -> timedelta:
        days, hours = value.split()
        return timedelta(days=int(days.removesuffix("d")), hours=int(hours.removesuffix("h")))


def sites(now: datetime) -> list[Site]:
    """Give the sites."""
    return [site_from(row, now) for row in _file("sites")["sites"]]


def site_codes() -> list[str]:
    """Give the codes of the sites, in the order of the file."""
    return [row["code"] for row in _file("sites")["sites"]]


def staff() -> list[Login]:
    """Give the four people who can sign in."""
    return [Login.model_validate(row) for row in _file("sites")["staff"]]


def stories() -> list[Story]:
    """Give the mothers."""
    return [Story.model_validate(row) for row in _file("mothers")["mothers"]]


def good_answers(language: str) -> Mapping[str, list[str]]:
    """Give what mothers write when all goes well, by question."""
    found: Mapping[str, list[str]] = _file("replies")[language]
    return found


@cache
def _file(name: str) -> dict[str, Any]:
    return tomllib.loads((_HERE / f"{name}.toml").read_text("utf-8"))

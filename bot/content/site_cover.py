"""The tables of a site's file that say who is there when a danger comes: checked values, or every fault.

[[cover]]     days (names, English), since and until (local times; until before since: past midnight)
[[on_call]]   who; phone, email or both; manager = true: woken last; strangers = true: woken for numbers that
              belong to no pair, too; language of the alerts
[[places]]    name, call, transport, near (where mothers live who should go there), heads_up (a number that is
              told by text that somebody is coming)
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from datetime import time
from typing import Any

from bot.core.errors import Problem
from bot.core.pair import Hours, OnCall, Place

COVER = frozenset({"cover", "on_call", "places"})
DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_MAIL = re.compile(r"[^@\s]+@[^@\s]+\.[^@\s]+")

Dialled = Callable[[object], bool]


def cover_faults(data: Mapping[str, Any], can_be_dialled: Dialled) -> Iterator[Problem]:
    """Name every fault of the three tables."""
    checks: Mapping[str, Callable[[Mapping[str, Any]], Mapping[str, tuple[bool, str]]]] = {
        "cover": _cover,
        "on_call": lambda row: _on_call(row, can_be_dialled),
        "places": lambda row: _place(row, can_be_dialled),
    }
    for name in sorted(COVER & set(data)):
        rows = data[name]
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            yield Problem(name, f"must be written as [[{name}]] tables")
            continue
        for number, row in enumerate(rows, start=1):
            known = checks[name](row)
            where = f"{name} {number}: "
            yield from (Problem(where + key, "is not known here") for key in sorted(set(row) - set(known)))
            yield from (Problem(where + key, words) for key, (good, words) in known.items() if not good)


def read_cover(data: Mapping[str, Any]) -> tuple[Hours, ...]:
    return tuple(
        Hours(frozenset(DAYS.index(day.lower()) for day in row["days"]), row["since"], row["until"])
        for row in data.get("cover", ())
    )


def read_on_call(data: Mapping[str, Any]) -> tuple[OnCall, ...]:
    return tuple(OnCall(**row) for row in data.get("on_call", ()))


def read_places(data: Mapping[str, Any]) -> tuple[Place, ...]:
    return tuple(Place(**{**row, "near": tuple(row.get("near", ()))}) for row in data.get("places", ()))


def _cover(row: Mapping[str, Any]) -> Mapping[str, tuple[bool, str]]:
    days = row.get("days")
    named = isinstance(days, list) and days and all(str(day).lower() in DAYS for day in days)
    return {
        "days": (bool(named), f"must list at least one of {', '.join(DAYS)}"),
        "since": (isinstance(row.get("since"), time), "must be a local time, such as 07:00:00"),
        "until": (isinstance(row.get("until"), time), "must be a local time, such as 19:00:00"),
    }


def _on_call(row: Mapping[str, Any], can_be_dialled: Dialled) -> Mapping[str, tuple[bool, str]]:
    phone, email = row.get("phone", ""), row.get("email", "")
    return {
        "who": (_words(row.get("who")), "must say who it is, such as 'Labour ward phone'"),
        "phone": (
            phone == "" or can_be_dialled(phone),
            "must be a number with + and country code, or a short code",
        ),
        "email": (
            (email == "" and phone != "") or (isinstance(email, str) and bool(_MAIL.fullmatch(email))),
            "must be an address of electronic mail; give this, a phone, or both",
        ),
        "manager": (isinstance(row.get("manager", False), bool), "must be true or false"),
        "strangers": (isinstance(row.get("strangers", False), bool), "must be true or false"),
        "language": (_words(row.get("language", "en")), "must be a language, such as en"),
    }


def _place(row: Mapping[str, Any], can_be_dialled: Dialled) -> Mapping[str, tuple[bool, str]]:
    near = row.get("near", [])
    number = "must be a number with + and country code, or a short code"
    return {
        "name": (_words(row.get("name")), "must be the place's name, as mothers know it"),
        "call": (can_be_dialled(row.get("call")), number),
        "transport": (row.get("transport", "") == "" or can_be_dialled(row["transport"]), number),
        "near": (isinstance(near, list) and all(map(_words, near)), "must list names of where mothers live"),
        "heads_up": (row.get("heads_up", "") == "" or can_be_dialled(row["heads_up"]), number),
    }


def _words(value: object) -> bool:
    return isinstance(value, str) and value.strip() != ""

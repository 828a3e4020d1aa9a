"""A site's TOML file comes in, a checked `Site` or every fault of the file goes out."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Set
from dataclasses import fields
from datetime import date, datetime, time
from typing import Any
from zoneinfo import available_timezones

import phonenumbers

from bot.content.site_cover import COVER, DAYS, cover_faults, read_cover, read_on_call, read_places
from bot.core.errors import Invalid, Problem
from bot.core.ids import derived_id
from bot.core.pair import Numbers, Site

_CODE = re.compile(r"[a-z0-9][a-z0-9-]{1,30}")
_SHORT = re.compile(r"\d{3,8}")
_WRITTEN = frozenset({"code", "name", "zone", "region", "open_days", "opens", "closes", "numbers"})
_DIALLED = ("text", "call", "place_call")
_MAY_BE_EMPTY = frozenset({"place_call", "transport"})


def read_site(text: str, now: datetime) -> Site:
    """Read a site from TOML; raise Invalid with every fault.

    code        small letters, digits and hyphens; name; zone (IANA); region (ISO 3166-1 alpha-2)
    open_days   list of day names in English; opens, closes: local times; closed_days: dates, may be left out
    numbers     text (mothers text it), call, hours (in words), place (where to go day or night); place_call
                and transport may be left out. Numbers with + and country code, or a short code
    cover, on_call, places   see `site_cover`: when the inbox is read, whom a danger wakes, where else she
                may be sent; each may be left out
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise Invalid([Problem("", f"This is not TOML: {error}")]) from error
    return site_from(data, now)


def site_from(data: Mapping[str, Any], now: datetime) -> Site:
    """Check and build one site from the keys of its file; see `read_site`."""
    problems = [*_keys(data, _WRITTEN, _WRITTEN | {"closed_days"} | COVER, "")]
    problems += [*_faults(data), *_number_faults(data), *cover_faults(data, _can_be_dialled)]
    if problems:
        raise Invalid(problems)
    return Site(
        id=derived_id(now, "site", data["code"]),
        code=data["code"],
        name=data["name"].strip(),
        zone=data["zone"],
        region=data["region"],
        open_days=frozenset(DAYS.index(day.lower()) for day in data["open_days"]),
        closed_days=frozenset(data.get("closed_days", ())),
        opens=data["opens"],
        closes=data["closes"],
        numbers=Numbers(**data["numbers"]),
        cover=read_cover(data),
        on_call=read_on_call(data),
        places=read_places(data),
    )


def _keys(data: Mapping[str, Any], needed: frozenset[str], known: frozenset[str], at: str) -> list[Problem]:
    missing = [Problem(at + key, "is missing") for key in sorted(needed - set(data))]
    return missing + [Problem(at + key, "is not known here") for key in sorted(set(data) - known)]


def _faults(data: Mapping[str, Any]) -> list[Problem]:
    """Every fault of the keys that are there, but for the numbers."""
    checks: dict[str, tuple[bool, str]] = {
        "code": (_is(data, "code", _CODE), "must be small letters, digits and hyphens"),
        "name": (_has_words(data.get("name")), "must be the site's name"),
        "zone": (
            _is_among(data.get("zone"), available_timezones()),
            "must be an IANA time zone, such as Africa/Nairobi",
        ),
        "region": (
            _is_among(data.get("region"), phonenumbers.SUPPORTED_REGIONS),
            "must be two capital letters of ISO 3166-1, such as KE",
        ),
        "open_days": (_are_days(data.get("open_days")), f"must list at least one of {', '.join(DAYS)}"),
        "opens": (_is_time(data.get("opens")), "must be a local time, such as 08:00:00"),
        "closes": (_is_time(data.get("closes")), "must be a local time, such as 16:00:00"),
        "closed_days": (_are_dates(data.get("closed_days", [])), "must list dates, such as 2026-12-25"),
    }
    faults = [Problem(key, words) for key, (good, words) in checks.items() if not good and key in data]
    opens, closes = data.get("opens"), data.get("closes")
    if isinstance(opens, time) and isinstance(closes, time) and closes <= opens:
        faults.append(Problem("closes", "must be later than opens"))
    return faults


def _number_faults(data: Mapping[str, Any]) -> list[Problem]:
    if "numbers" not in data:
        return []
    numbers = data["numbers"]
    if not isinstance(numbers, dict):
        return [Problem("numbers", "must be a table with text, call, hours and place")]
    known = frozenset(field.name for field in fields(Numbers))
    faults = _keys(numbers, known - _MAY_BE_EMPTY, known, "numbers.")
    for key in sorted(known & set(numbers)):
        value = numbers[key]
        if key in _DIALLED:
            if not _can_be_dialled(value) and not (value == "" and key in _MAY_BE_EMPTY):
                faults.append(
                    Problem(f"numbers.{key}", "must be a number with + and country code, or a short code")
                )
        elif not _has_words(value) and not (value == "" and key in _MAY_BE_EMPTY):
            faults.append(Problem(f"numbers.{key}", "must be words"))
    return faults


def _can_be_dialled(value: object) -> bool:
    """A short code, or a number possible in its country; numbers reserved for fiction are possible too."""
    if not isinstance(value, str):
        return False
    if _SHORT.fullmatch(value):
        return True
    try:
        number = phonenumbers.parse(value, None)
    except phonenumbers.NumberParseException:
        return False
    e164 = phonenumbers.format_number(number, phonenumbers.PhoneNumberFormat.E164)
    return e164 == value and phonenumbers.is_possible_number(number)


def _is(data: Mapping[str, Any], key: str, pattern: re.Pattern[str]) -> bool:
    value = data.get(key)
    return isinstance(value, str) and pattern.fullmatch(value) is not None


def _is_among(value: object, known: Set[str]) -> bool:
    return isinstance(value, str) and value in known


def _has_words(value: object) -> bool:
    return isinstance(value, str) and value.strip() != ""


def _is_time(value: object) -> bool:
    return isinstance(value, time)


def _are_days(value: object) -> bool:
    return (
        isinstance(value, list)
        and value != []
        and all(isinstance(day, str) and day.lower() in DAYS for day in value)
    )


def _are_dates(value: object) -> bool:
    return isinstance(value, list) and all(type(day) is date for day in value)

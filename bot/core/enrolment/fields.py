"""One value of the discharge details at a time: what was given comes in, what it means goes out, and what is
wrong with it is noted under its dotted name (`babies.0.birth_weight_g`). Nothing here raises on bad input.

Texts are accepted where a number, a time or yes/no is meant, since files and forms hold nothing else.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from bot.core.errors import Problem

_YES = frozenset(("yes", "y", "true", "1"))
_NO = frozenset(("no", "n", "false", "0"))
_WHOLE = re.compile(r"[+-]?\d{1,9}")
_DECIMAL = re.compile(r"[+-]?\d{1,9}([.,٫]\d{1,9})?")
_WEEKS_AND_DAYS = re.compile(r"(\d{1,2})\s*\+\s*([0-6])")
_DATE = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_MOMENT = re.compile(r"(\d{4}-\d\d-\d\d)[T ](\d\d:\d\d(?::\d\d(?:\.\d{1,6})?)?)(Z|[+-]\d\d:?\d\d)?", re.ASCII)
# Marks that only steer the direction of text; they come along when numbers are copied.
_STEERING = dict.fromkeys([0x200E, 0x200F, 0xFEFF, *range(0x202A, 0x202F), *range(0x2066, 0x206A)])
_NOT_PRINTED = ("Cc", "Cs", "Cn")  # control signs, halves of a pair, unassigned


@dataclass(frozen=True, slots=True)
class Fault(Problem):
    """A problem whose message can be said in another language: `words` with `values` put in. One with
    `confirm` is a fact that is possible but unusual: naming its field in `confirmed` accepts it."""

    words: str = ""
    values: Mapping[str, object] = field(default_factory=dict)
    confirm: bool = False


@dataclass(slots=True)
class Notes:
    """What was understood so far, by dotted name, and what was wrong."""

    facts: dict[str, Any] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    confirmed: frozenset[str] = frozenset()

    def refuse(self, name: str, words: str, **values: object) -> None:
        self.faults.append(Fault(name, words % values, words, values))

    def ask(self, name: str, words: str, **values: object) -> None:
        """Note an unusual fact, unless somebody has confirmed it."""
        if name not in self.confirmed:
            self.faults.append(Fault(name, words % values, words, values, confirm=True))


def wording(text: str) -> str:
    """Mark words of a fault for the catalogs of the screens; they are translated where they are shown."""
    return text


def clean(text: str) -> str:
    """Give a text with single spaces, composed letters and no marks of direction."""
    return " ".join(unicodedata.normalize("NFC", text).translate(_STEERING).split())


class Part:
    """One object of the input: its values are read by name, and each name that nobody read is a fault."""

    def __init__(self, raw: object, notes: Notes, path: str = "") -> None:
        self.notes, self.path = notes, path
        self._known: set[str] = set()
        self.raw: Mapping[str, Any] = {}
        if isinstance(raw, Mapping):
            self.raw = raw
        elif raw is not None:
            self.refuse("", "must be an object with names and values")

    def at(self, name: str) -> str:
        return ".".join(filter(None, (self.path, name)))

    def refuse(self, name: str, words: str, **values: object) -> None:
        self.notes.refuse(self.at(name), words, **values)

    def ask(self, name: str, words: str, **values: object) -> None:
        self.notes.ask(self.at(name), words, **values)

    def keep(self, name: str, value: Any) -> None:
        self.notes.facts[self.at(name)] = value

    def given(self, name: str) -> Any:
        """Give the value as it stands, None for a missing or empty one. The name counts as read."""
        self._known.add(name)
        value = self.raw.get(name)
        if isinstance(value, str):
            value = clean(value)
        return None if value == "" else value

    def refuse_the_rest(self) -> None:
        for name in self.raw:
            if name not in self._known:
                self.refuse(clean(str(name)), "is not a field of an enrolment; check its spelling")

    # ---- kinds of values

    def part(self, name: str) -> Part:
        return Part(self.given(name), self.notes, self.at(name))

    def parts(self, name: str) -> Iterator[Part]:
        listed = self.given(name)
        if listed is not None and not _is_list(listed):
            self.refuse(name, "must be a list")
            return
        for place, raw in enumerate(listed or ()):
            yield Part(raw, self.notes, self.at(f"{name}.{place}"))

    def text(self, name: str, most: int = 200, *, needed: str = "") -> str:
        """A text of one line. `needed` says what to do when it is missing."""
        value = self.given(name)
        if value is None and needed:
            self.refuse(name, needed)
        elif value is not None and (not isinstance(value, str) or not _is_printed(value)):
            self.refuse(name, "must be a text of letters, figures and signs")
            value = None
        elif value is not None and len(value) > most:
            self.refuse(name, "is longer than %(most)s signs; shorten it", most=most)
            value = None
        self.keep(name, value or "")
        return value or ""

    def words(self, name: str, most: int = 20) -> frozenset[str]:
        """A list of short words; in a file one text, with ; or , between them."""
        value = self.given(name)
        listed = re.split(r"[;,،؛]", value) if isinstance(value, str) else value or ()
        if not _is_list(listed) or not all(isinstance(w, str) and _is_printed(clean(w)) for w in listed):
            self.refuse(name, "must be a list of words")
            return frozenset()
        found = frozenset(filter(None, map(clean, listed)))
        if len(found) > most or any(len(word) > 60 for word in found):
            self.refuse(name, "holds too much: up to %(most)s entries of up to 60 signs", most=most)
        self.keep(name, found)
        return found

    def choice(self, name: str, options: Collection[str], default: str | None = None) -> str | None:
        value = self.given(name)
        if isinstance(value, bool):
            value = "yes" if value else "no"
        folded = re.sub(r"[ -]+", "_", value.lower()) if isinstance(value, str) else value
        if folded is None:
            self.keep(name, default)
            return default
        if not isinstance(folded, str) or folded not in options:
            self.refuse(name, "must be one of: %(options)s", options=", ".join(options))
            return default
        self.keep(name, folded)
        return folded

    def flag(self, name: str, default: bool) -> bool:
        value = self.given(name)
        if isinstance(value, str):
            value = True if value.lower() in _YES else False if value.lower() in _NO else value
        if value is None:
            value = default
        elif not isinstance(value, bool):
            self.refuse(name, "must be yes or no")
            return default
        self.keep(name, value)
        return value

    def whole(self, name: str, low: int, high: int, unit: str) -> int | None:
        """A whole number from `low` to `high`, or None for 'not known'."""
        value = self.given(name)
        if isinstance(value, str) and _WHOLE.fullmatch(value):
            value = int(value)
        if isinstance(value, float) and value.is_integer():
            value = int(value)
        if value is not None and (isinstance(value, bool) or not isinstance(value, int)):
            self.refuse(name, "must be a whole number of %(unit)s", unit=unit)
            return None
        found: int | None = self._within(name, value, low, high, unit)
        return found

    def weeks(self, name: str, low: float, high: float) -> float | None:
        """Weeks with decimals, or weeks and days as '38+3'; None for 'not known'."""
        value = self.given(name)
        if isinstance(value, str) and (both := _WEEKS_AND_DAYS.fullmatch(value)):
            value = round(int(both[1]) + int(both[2]) / 7, 2)
        elif isinstance(value, str) and _DECIMAL.fullmatch(value):
            value = float(value.replace(",", ".").replace("٫", "."))
        if value is not None and (
            isinstance(value, bool)
            or not isinstance(value, int | float)
            or (isinstance(value, float) and not math.isfinite(value))
        ):
            self.refuse(name, "must be a number of weeks, such as 38.5, or weeks and days, such as 38+3")
            return None
        found = self._within(name, value, low, high, "weeks")
        return None if found is None else self._as_float(name, found)

    def moment(self, name: str, tz: ZoneInfo | None, now: datetime, *, needed: str = "") -> datetime | None:
        """An instant in UTC. Without an offset it is read in `tz`; that is None when the site is unknown."""
        value = self.given(name)
        if isinstance(value, str) and _DATE.fullmatch(value):
            self.refuse(name, "needs an hour too, such as 2026-03-02T14:30")
            return None
        if value is None and needed:
            self.refuse(name, needed)
        return None if value is None else self._moment(name, value, tz, now)

    def day_or_moment(
        self, name: str, tz: ZoneInfo | None, now: datetime, *, needed: str
    ) -> date | datetime | None:
        """An instant in UTC, or a date alone where the hour is not known."""
        value = self.given(name)
        if not isinstance(value, str) or not _DATE.fullmatch(value):
            return self.moment(name, tz, now, needed=needed)
        try:
            day = date.fromisoformat(value)
        except ValueError:
            self.refuse(name, "is no day of the calendar")
            return None
        self.keep(name, day)
        return day

    # ---- inside

    def _as_float(self, name: str, value: float) -> float:
        self.keep(name, float(value))
        return float(value)

    def _within(self, name: str, value: Any, low: float, high: float, unit: str) -> Any:
        if value is not None and not low <= value <= high:
            self.refuse(name, "must lie between %(low)s and %(high)s %(unit)s", low=low, high=high, unit=unit)
            return None
        self.keep(name, value)
        return value

    def _moment(self, name: str, value: object, tz: ZoneInfo | None, now: datetime) -> datetime | None:
        found = _MOMENT.fullmatch(value) if isinstance(value, str) else None
        if found is None:
            self.refuse(name, "must be a date and time, such as 2026-03-02T14:30 or 2026-03-02T14:30+03:00")
            return None
        try:
            wall = datetime.fromisoformat("T".join(found.group(1, 2)) + (found[3] or ""))
            instant = wall.astimezone(UTC) if wall.tzinfo else _placed(wall, tz, now)
        except (ValueError, OverflowError):
            self.refuse(name, "is no time of the calendar")
            return None
        if instant is None and tz is not None:
            self.refuse(name, "does not exist at the site: the clocks went forward over it that night")
        if instant is not None:
            self.keep(name, instant)
        return instant


def _placed(wall: datetime, tz: ZoneInfo | None, now: datetime) -> datetime | None:
    """Put a time of the site's clocks on the time line; None if they skipped it, or where there is no site.

    A time that comes twice is the later one, unless that is still to come: the baby is then younger, which is
    the careful reading.
    """
    if tz is None:
        return None
    first, second = (wall.replace(tzinfo=tz, fold=fold).astimezone(UTC) for fold in (0, 1))
    if first.astimezone(tz).replace(tzinfo=None) != wall:
        return None
    return second if second <= now else first


def _is_list(value: object) -> bool:
    return isinstance(value, Sequence) and not isinstance(value, str | bytes)


def _is_printed(text: str) -> bool:
    return not any(unicodedata.category(sign) in _NOT_PRINTED for sign in text)

"""What mothers receive: a key, a language and values come in, the words of one text come out.

English stands in messages/texts/*.toml, every other language in locales/<tag>/LC_MESSAGES/texts.po (msgctxt
is the key, or `key.neutral`; msgid is the English). The tag is that of a language, or, such as `hi-Latn`, of
the same language in Latin letters: what such a catalog lacks is said in the language's own script.

Values by name: `mother`, `baby` (a name; those of twins joined by ' + '), `n` (how many babies), `site`,
`call`, `hours`, `place`, `place_call`, `transport`, `text`, `day` (a date), `at` (a time), `count` (a number
that she gave); to staff also `phone`, `age` (days), `ref` and `link`. Dates, times and numbers may also come
as ISO text and digits, as they stand in a stored message.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, time
from enum import StrEnum
from hashlib import sha256
from types import MappingProxyType
from typing import Annotated

from babel import Locale
from babel.dates import format_date, format_time
from babel.lists import format_list
from pydantic import BaseModel, ConfigDict, Field

from bot.content.languages import LATIN, Manner, in_latin, is_latin, is_native_latin, native
from bot.core.errors import Invalid, NotFound, Problem
from bot.core.segments import count

SOURCE = "en"
NEUTRAL = ".neutral"
REVIEWED = "reviewed:"  # begins the line above a translation that says who signed it, and when
BETWEEN_NAMES = " + "
# Advice in danger must never fail for want of a value: these have words that stand in for them.
STAND_INS = ("place", "call", "hours")
VALUES = frozenset((
    "mother", "baby", "site", "call", "hours", "place", "place_call", "transport", "text", "day", "at", "n",
    "count", "phone", "age", "ref", "link",
))  # fmt: skip

_PIECES, _TO_STAFF = ("word-", "format-"), ("alert-", "heads-up")
_NAMES = ("mother", "baby")
_NO_MANNER = Manner()
_FIELD = re.compile(r"\{(\w*)\}")
_LRM, _RLM = "\u200e", "\u200f"
# Runs of figures, and those among them whose parts a right-to-left line turns around: with a plus, a space or
# a dash. A day such as 27/11 or a time keeps its order by itself (Unicode Standard Annex 9, rule W4).
_FIGURES = re.compile(r"(?<![\w+])\+?\d+(?:[ .:/-]\d+)*")
_TURNED = frozenset("+ .-")
# Two such runs with nothing but a comma between would become one, its first part on the wrong side.
_TOUCHING = re.compile(f"(?<=\\d)(?=\\W{{1,3}}{_LRM})")

Values = Mapping[str, object]


class Status(StrEnum):
    """How far a text can be trusted in a language; ordered from best to worst."""

    reviewed = "reviewed"  # a named clinician who speaks the language has signed it
    unreviewed = "unreviewed"  # nobody has: sent, and marked wherever staff see it
    stale = "stale"  # the English has changed since; the older words are sent, and marked
    missing = "missing"  # no words: English is sent


class Budget(BaseModel):
    """The most segments one text may cost, by alphabet (3GPP TS 23.038: GSM 7-bit or UCS-2)."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    gsm7: Annotated[int, Field(ge=1)]
    ucs2: Annotated[int, Field(ge=1)]


class Entry(BaseModel):
    """One text as its author wrote it. Without a budget it is a piece or printed, and never sent alone."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    text: Annotated[str, Field(min_length=1)]
    note: Annotated[str, Field(min_length=1)]  # for translators
    neutral: str | None = None  # on a shared phone: no name, no condition
    max_segments: Budget | None = None
    caution: bool = False  # carries clinical content, so it must say where to go
    reviewed: str = ""  # who signed the English, and when

    def variants(self) -> Mapping[str, str]:
        """Give the English words by what follows the key in a catalog: '' and perhaps `.neutral`."""
        return {"": self.text} if self.neutral is None else {"": self.text, NEUTRAL: self.neutral}


@dataclass(frozen=True, slots=True)
class Translation:
    """Words of one language for one `key` or `key.neutral`; never `missing`. `reviewed`: by whom, when."""

    words: str
    status: Status
    reviewed: str = ""


Catalog = Mapping[str, Translation]


def fields_of(words: str) -> frozenset[str]:
    """Give the names in braces."""
    return frozenset(_FIELD.findall(words))


class Texts:
    """Every text in every language."""

    def __init__(
        self,
        entries: Mapping[str, Entry],
        catalogs: Mapping[str, Catalog],
        manners: Mapping[str, Manner] = MappingProxyType({}),
    ) -> None:
        self._manners = manners
        self._entries = dict(entries)
        self._catalogs = dict(catalogs)

    @property
    def keys(self) -> tuple[str, ...]:
        return tuple(self._entries)

    @property
    def languages(self) -> tuple[str, ...]:
        """The source language first, then every language with a catalog."""
        return (SOURCE, *sorted(tag for tag in self._catalogs if not is_latin(tag)))

    @property
    def tags(self) -> tuple[str, ...]:
        """The languages, each followed by itself in Latin letters where there is such a catalog."""
        latin = {native(tag): tag for tag in self._catalogs if is_latin(tag)}
        return tuple(tag for code in self.languages for tag in (code, latin.get(code)) if tag)

    @property
    def no_latin(self) -> frozenset[str]:
        """The languages in another script that have no texts in Latin letters."""
        foreign = (code for code in self.languages if not is_native_latin(code))
        return frozenset(code for code in foreign if in_latin(code) not in self._catalogs)

    def keys_of(self, tag: str) -> tuple[str, ...]:
        """The keys that must have words: all, or in Latin letters what a mother's phone must show."""
        latin = is_latin(tag)
        return tuple(key for key, each in self._entries.items() if not latin or goes_to_her_phone(key, each))

    def is_gsm7(self, tag: str) -> bool:
        """Tell whether each text must fit into the GSM-7 alphabet (3GPP TS 23.038)."""
        return is_latin(tag) or self._manners.get(tag, _NO_MANNER).gsm7

    def counts_from_six(self, tag: str) -> bool:
        """Tell whether times are told by a clock that counts from six in the morning."""
        return self._manners.get(tag, _NO_MANNER).clock is not None

    def entry(self, key: str) -> Entry:
        """Give the English text with its note and budget. NotFound for an unknown key."""
        try:
            return self._entries[key]
        except KeyError:
            raise NotFound(f"There is no text '{key}' in messages/texts/.") from None

    def needs(self, key: str, *, neutral: bool = False) -> frozenset[str]:
        """Give the names of the values that a text puts into its words."""
        return fields_of(self.words(key, SOURCE, neutral=neutral)[0])

    def words(self, key: str, tag: str, *, neutral: bool = False) -> tuple[str, str]:
        """Give the words before values go in, and the tag they are in: where a translation is missing, the
        language's own script, then English."""
        entry = self.entry(key)
        variant = NEUTRAL if neutral and entry.neutral is not None else ""
        for each in dict.fromkeys((tag, native(tag))):
            translation = self._catalogs.get(each, {}).get(key + variant)
            if translation:
                return translation.words, each
        return entry.variants()[variant], SOURCE

    def status(self, key: str, tag: str) -> Status:
        """Give the worst status of the text and its neutral variant."""
        return self.review(key, tag)[0]

    def review(self, key: str, tag: str) -> tuple[Status, str]:
        """Give the status as `status` does, and who signed in the file, and when; empty where nobody has."""
        entry = self.entry(key)
        if tag == SOURCE:
            return (Status.reviewed, entry.reviewed) if entry.reviewed else (Status.unreviewed, "")
        catalog = self._catalogs.get(tag, {})
        found = [catalog.get(key + variant) for variant in entry.variants()]
        worst = max((item.status if item else Status.missing for item in found), key=list(Status).index)
        return worst, next((item.reviewed for item in found if item and item.reviewed), "")

    def digest(self, key: str, tag: str) -> str:
        """Give the SHA-256 over a text in a language, both variants, and the English it was made from; any
        change of them makes a signature of the text stale."""
        said = [key, tag, *self.entry(key).variants().values()]
        said += ["\0".join(self.words(key, tag, neutral=neutral)) for neutral in (False, True)]
        return sha256("\0\0".join(said).encode()).hexdigest()

    def render(self, key: str, tag: str, values: Values, *, neutral: bool = False) -> str:
        """Give the text as it is sent or printed.

        neutral   for a phone that others read: the neutral variant, and no name of a baby
        NotFound  an unknown key
        Invalid   a value the text needs was not given; names each
        """
        neutral = neutral or (is_latin(tag) and not _shows(values, _NAMES))
        words, spoken = self.words(key, tag, neutral=neutral)
        given = self._given(values, spoken, neutral)
        absent = sorted(fields_of(words) - set(given))
        if absent:
            raise Invalid([Problem(f"{key}.{name}", "this text needs the value; give it") for name in absent])
        filled = _FIELD.sub(lambda field: given[field[1]], words).rstrip()
        return _keep_figures_in_order(filled) if is_right_to_left(spoken) else filled

    def _given(self, values: Values, tag: str, neutral: bool) -> dict[str, str]:
        """Give every value as words of the language; what is empty and has no stand-in is left out."""
        given = {name: str(value) for name, value in values.items() if value not in (None, "")}
        given["baby"] = self._baby(given, tag, neutral)
        for name in STAND_INS:
            given.setdefault(name, self.words(f"word-{name}", tag)[0])
        given.setdefault("place_call", given["call"])
        given.setdefault("transport", given["place_call"])
        given.setdefault("link", "")
        manner = self._manners.get(tag, _NO_MANNER)
        if "day" in given:
            given["day"] = self.day_words(tag, date.fromisoformat(given["day"]))
        if "at" in given:
            at = time.fromisoformat(given["at"])
            shown = format_time(at, self.words("format-time", tag)[0], locale=locale_of(tag))
            given["at"] = manner.clock.say(at, shown) if manner.clock else shown
        return given

    def day_words(self, tag: str, day: date) -> str:
        """Say a day with its weekday."""
        pattern = self._manners.get(tag, _NO_MANNER).named(self.words("format-day", tag)[0], day)
        return format_date(day, pattern, locale=locale_of(tag))

    def _baby(self, given: Mapping[str, str], tag: str, neutral: bool) -> str:
        names = given["baby"].split(BETWEEN_NAMES) if "baby" in given else []
        babies = int(given.get("n", len(names) or 1))
        if names and len(names) == babies and not neutral:
            joins = not is_latin(tag) or locale_of(tag).script == LATIN
            return format_list(names, locale=locale_of(tag)) if joins else ", ".join(names)
        return self.words("word-babies" if babies > 1 else "word-baby", tag)[0]


def goes_to_her_phone(key: str, entry: Entry) -> bool:
    """Tell whether a text is sent to mothers, or is a piece of one that is. Slips are printed, and staff
    read theirs on phones of their own."""
    if key.startswith(_PIECES):
        return True
    return entry.max_segments is not None and not key.startswith(_TO_STAFF)


def locale_of(tag: str) -> Locale:
    """Give the rules of a language (Unicode CLDR), in Latin letters where CLDR has them."""
    return Locale.parse(tag, sep="-")


def is_right_to_left(tag: str) -> bool:
    """Tell whether a language is written from right to left (Unicode CLDR)."""
    return not is_latin(tag) and locale_of(tag).text_direction == "rtl"


def _shows(values: Values, names: tuple[str, ...]) -> bool:
    """Tell whether a phone with Latin letters only can show these values, at the price of Latin letters."""
    return all(count(str(values.get(name) or "")).encoding == "GSM-7" for name in names)


def _keep_figures_in_order(text: str) -> str:
    """Put marks of direction around telephone numbers and ranges. A right-to-left text is UCS-2 anyway, the
    only alphabet that holds them."""
    marked = _FIGURES.sub(lambda run: _LRM + run[0] if _TURNED & set(run[0]) else run[0], text)
    return _TOUCHING.sub(_RLM, marked)

"""What mothers receive: a key, a language and values come in, the words of one text come out.

English stands in messages/texts/*.toml, every other language in locales/<language>/LC_MESSAGES/texts.po
(msgctxt is the key, or `key.neutral`; msgid is the English). Nothing is compiled: catalogs are read once.

Values by name: `mother`, `baby` (a name; those of twins joined by ' + '), `n` (how many babies), `site`,
`call`, `hours`, `place`, `place_call`, `transport`, `text`, `day` (a date), `at` (a time), `count` (a number
that she gave); to staff also `phone`, `age` (days), `ref` and `link`. Dates, times and numbers may also come
as ISO text and digits, as they stand in a stored message.
"""

from __future__ import annotations

import io
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, time
from enum import StrEnum
from pathlib import Path
from types import MappingProxyType
from typing import Annotated

from babel import Locale, UnknownLocaleError
from babel.dates import format_date, format_time
from babel.lists import format_list
from babel.messages.catalog import Message
from babel.messages.pofile import PoFileError, read_po
from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from bot.content.languages import Clock, load_languages
from bot.core.errors import Invalid, NotFound, Problem

SOURCE = "en"
NEUTRAL = ".neutral"
BETWEEN_NAMES = " + "
# Advice in danger must never fail for want of a value: these have words that stand in for them.
STAND_INS = ("place", "call", "hours")
VALUES = frozenset((
    "mother", "baby", "site", "call", "hours", "place", "place_call", "transport", "text", "day", "at", "n",
    "count", "phone", "age", "ref", "link",
))  # fmt: skip

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
    """Words of one language for one `key` or `key.neutral`; never `missing`."""

    words: str
    status: Status


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
        clocks: Mapping[str, Clock] = MappingProxyType({}),
    ) -> None:
        self._clocks = clocks
        self._entries = dict(entries)
        self._catalogs = dict(catalogs)

    @property
    def keys(self) -> tuple[str, ...]:
        return tuple(self._entries)

    @property
    def languages(self) -> tuple[str, ...]:
        """The source language first, then every language with a catalog."""
        return (SOURCE, *sorted(self._catalogs))

    def entry(self, key: str) -> Entry:
        """Give the English text with its note and budget. NotFound for an unknown key."""
        try:
            return self._entries[key]
        except KeyError:
            raise NotFound(f"There is no text '{key}' in messages/texts/.") from None

    def needs(self, key: str, *, neutral: bool = False) -> frozenset[str]:
        """Give the names of the values that a text puts into its words."""
        return fields_of(self.words(key, SOURCE, neutral=neutral)[0])

    def words(self, key: str, language: str, *, neutral: bool = False) -> tuple[str, str]:
        """Give the words before values go in, and their language: English where a translation is missing."""
        entry = self.entry(key)
        variant = NEUTRAL if neutral and entry.neutral is not None else ""
        translation = self._catalogs.get(language, {}).get(key + variant)
        return (translation.words, language) if translation else (entry.variants()[variant], SOURCE)

    def status(self, key: str, language: str) -> Status:
        """Give the worst status of the text and its neutral variant."""
        entry = self.entry(key)
        if language == SOURCE:
            return Status.reviewed if entry.reviewed else Status.unreviewed
        catalog = self._catalogs.get(language, {})
        found = [catalog.get(key + variant) for variant in entry.variants()]
        return max((item.status if item else Status.missing for item in found), key=list(Status).index)

    def render(self, key: str, language: str, values: Values, *, neutral: bool = False) -> str:
        """Give the text as it is sent or printed.

        neutral   for a phone that others read: the neutral variant, and no name of a baby
        NotFound  an unknown key
        Invalid   a value the text needs was not given; names each
        """
        words, spoken = self.words(key, language, neutral=neutral)
        given = self._given(values, spoken, neutral)
        absent = sorted(fields_of(words) - set(given))
        if absent:
            raise Invalid([Problem(f"{key}.{name}", "this text needs the value; give it") for name in absent])
        filled = _FIELD.sub(lambda field: given[field[1]], words).rstrip()
        return _keep_figures_in_order(filled) if is_right_to_left(spoken) else filled

    def _given(self, values: Values, language: str, neutral: bool) -> dict[str, str]:
        """Give every value as words of the language; what is empty and has no stand-in is left out."""
        given = {name: str(value) for name, value in values.items() if value not in (None, "")}
        given["baby"] = self._baby(given, language, neutral)
        for name in STAND_INS:
            given.setdefault(name, self.words(f"word-{name}", language)[0])
        given.setdefault("place_call", given["call"])
        given.setdefault("transport", given["place_call"])
        given.setdefault("link", "")
        if "day" in given:
            day = date.fromisoformat(given["day"])
            given["day"] = format_date(day, self.words("format-day", language)[0], locale=language)
        if "at" in given:
            at = time.fromisoformat(given["at"])
            shown = format_time(at, self.words("format-time", language)[0], locale=language)
            given["at"] = self._clocks[language].say(at, shown) if language in self._clocks else shown
        return given

    def _baby(self, given: Mapping[str, str], language: str, neutral: bool) -> str:
        names = given["baby"].split(BETWEEN_NAMES) if "baby" in given else []
        babies = int(given.get("n", len(names) or 1))
        if names and len(names) == babies and not neutral:
            return format_list(names, locale=language)
        return self.words("word-babies" if babies > 1 else "word-baby", language)[0]


def is_right_to_left(language: str) -> bool:
    """Tell whether a language is written from right to left (Unicode CLDR)."""
    return Locale.parse(language, sep="-").text_direction == "rtl"


def _keep_figures_in_order(text: str) -> str:
    """Put marks of direction around telephone numbers and ranges. A right-to-left text is UCS-2 anyway, the
    only alphabet that holds them."""
    marked = _FIGURES.sub(lambda run: _LRM + run[0] if _TURNED & set(run[0]) else run[0], text)
    return _TOUCHING.sub(_RLM, marked)


def load_texts(root: Path) -> Texts:
    """Read every text under a folder that holds messages/ and locales/.

    Invalid  names every file, key and fault
    """
    sources = sorted((root / "messages/texts").glob("*.toml"))
    catalogs = sorted((root / "locales").glob("*/LC_MESSAGES/texts.po"))
    languages = load_languages(root / "messages")
    return read_texts(
        {path.name: path.read_text("utf-8") for path in sources},
        {path.parts[-3]: path.read_bytes() for path in catalogs},
        {code: each.clock for code, each in languages.items() if each.clock is not None},
    )


def read_texts(
    sources: Mapping[str, str],
    catalogs: Mapping[str, bytes],
    clocks: Mapping[str, Clock] = MappingProxyType({}),
) -> Texts:
    """Read texts from the bodies of TOML files by name and of PO files by language; else as `load_texts`."""
    problems: list[Problem] = []
    entries: dict[str, Entry] = {}
    for name, body in sources.items():
        for key, entry in _read_source(name, body, problems).items():
            if key in entries:
                problems.append(Problem(f"{name}: {key}", "this key stands in two files; rename one"))
            entries[key] = entry
    read = {language: _read_catalog(language, body, entries, problems) for language, body in catalogs.items()}
    problems += _unknown_fields(entries)
    if problems:
        raise Invalid(problems)
    return Texts(entries, read, clocks)


def _read_source(name: str, body: str, problems: list[Problem]) -> Mapping[str, Entry]:
    try:
        return TypeAdapter(dict[str, Entry]).validate_python(tomllib.loads(body))
    except tomllib.TOMLDecodeError as error:
        problems.append(Problem(name, f"not TOML: {error}"))
    except ValidationError as error:
        problems += [Problem(f"{name}: {'.'.join(map(str, e['loc']))}", e["msg"]) for e in error.errors()]
    return {}


def _read_catalog(
    language: str, body: bytes, entries: Mapping[str, Entry], problems: list[Problem]
) -> Catalog:
    english = dict(_english(entries))
    try:
        messages = read_po(io.BytesIO(body), locale=Locale.parse(language, sep="-"), abort_invalid=True)
    except (PoFileError, UnknownLocaleError, ValueError) as error:
        problems.append(Problem(f"{language}/texts.po", f"cannot be read: {error}"))
        return {}
    catalog = {}
    for message in messages:
        if message.context in english and isinstance(message.string, str) and message.string:
            found = Translation(message.string, _status(message, english[message.context]))
            extra = fields_of(found.words) - fields_of(english[message.context])
            if not extra:
                catalog[message.context] = found
            # Older words may hold a value that nobody gives any more: English is sent instead of failing.
            elif found.status is not Status.stale:
                names = ", ".join(f"{{{name}}}" for name in sorted(extra))
                problems.append(
                    Problem(f"{language}: {message.context}", f"holds {names}, the English does not")
                )
    return catalog


def _status(message: Message, english: str) -> Status:
    if message.id != english or message.fuzzy:
        return Status.stale
    signed = any(comment.startswith("reviewed:") for comment in message.user_comments)
    return Status.reviewed if signed else Status.unreviewed


def _english(entries: Mapping[str, Entry]) -> Iterator[tuple[str, str]]:
    for key, entry in entries.items():
        for variant, words in entry.variants().items():
            yield key + variant, words


def _unknown_fields(entries: Mapping[str, Entry]) -> list[Problem]:
    known = ", ".join(sorted(VALUES))
    return [
        Problem(key, f"{{{name}}} is not a value texts can hold; use one of {known}")
        for key, words in _english(entries)
        for name in sorted(fields_of(words) - VALUES)
    ]

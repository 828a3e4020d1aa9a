"""messages/languages.toml: the languages of mothers, their names, and how they are asked for."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from datetime import date, time
from pathlib import Path

from babel.core import get_global
from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from bot.core.errors import Invalid, Problem

FILE = "languages.toml"
LATIN = "Latn"  # ISO 15924


def is_latin(tag: str) -> bool:
    """Tell whether a tag (BCP 47) is that of a language in Latin letters beside its own script."""
    return tag.endswith(f"-{LATIN}")


def native(tag: str) -> str:
    """Give the language of a tag."""
    return tag.partition("-")[0]


def is_native_latin(code: str) -> bool:
    """Tell whether a language is written in Latin letters by itself (Unicode CLDR, likely subtags)."""
    return f"_{LATIN}_" in get_global("likely_subtags").get(code, "")


def in_latin(code: str) -> str:
    """Give the tag of a language in Latin letters."""
    return f"{code}-{LATIN}"


class Clock(BaseModel):
    """A clock that counts from six in the morning and again from six in the evening: nine is three there.

    form   how a time is written: {at} as clocks show it, {local} as it is said, {part} of the day
    parts  the parts of the day by the hour at which each begins
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    form: str
    parts: dict[int, str]

    def say(self, at: time, shown: str) -> str:
        """Write a time with both counts. `shown` is the time as clocks show it."""
        hour = (at.hour - 6) % 12 or 12
        local = f"{hour}:{at.minute:02}" if at.minute else str(hour)
        part = self.parts[max(begins for begins in self.parts if begins <= at.hour)]
        return self.form.format(at=shown, local=local, part=part)


Weekdays = tuple[()] | tuple[str, str, str, str, str, str, str]


class Manner(BaseModel):
    """How times are told where Unicode's own data (CLDR) does not say it.

    weekdays  their names from Monday on, where CLDR has none in these letters, or one outside GSM-7
    gsm7      each text must fit into the GSM-7 alphabet
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    clock: Clock | None = None
    weekdays: Weekdays = ()
    gsm7: bool = False

    def named(self, pattern: str, day: date) -> str:
        """Put the name of a weekday into a pattern of CLDR, in the place of EEEE."""
        return pattern.replace("EEEE", f"'{self.weekdays[day.weekday()]}'") if self.weekdays else pattern


class Language(BaseModel):
    """`name` by itself, `english` in English; `asked_as` how a mother asks for it, in any language; `latin`
    how times are told in its texts in Latin letters; the rest as there, for its own letters."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    name: str = Field(min_length=1)
    english: str = Field(min_length=1)
    asked_as: tuple[str, ...] = Field(min_length=1)
    clock: Clock | None = None
    latin: Manner = Manner()
    gsm7: bool = False
    weekdays: Weekdays = ()


_File = TypeAdapter(dict[str, Language])


def load_languages(root: Path) -> Mapping[str, Language]:
    """Read the languages by code. `root` is the folder messages/. Raises Invalid with every fault."""
    try:
        found = _File.validate_python(tomllib.loads((root / FILE).read_text(encoding="utf-8")))
    except (OSError, tomllib.TOMLDecodeError) as fault:
        raise Invalid([Problem(FILE, f"cannot be read: {fault}")]) from fault
    except ValidationError as fault:
        raise Invalid(
            [Problem(f"{FILE}: {'.'.join(map(str, e['loc']))}", e["msg"]) for e in fault.errors()]
        ) from fault
    asked: dict[str, str] = {}
    problems = []
    for code, language in found.items():
        for words in language.asked_as:
            if asked.setdefault(words, code) != code:
                problems.append(Problem(f"{FILE}: {code}", f"'{words}' asks for {asked[words]} already."))
    if problems:
        raise Invalid(problems)
    return found


def manners(languages: Mapping[str, Language]) -> Mapping[str, Manner]:
    """Give how each tag tells times: every language, and every one in Latin letters."""
    own = {
        code: Manner(clock=each.clock, gsm7=each.gsm7, weekdays=each.weekdays)
        for code, each in languages.items()
    }
    latin = {in_latin(code): each.latin for code, each in languages.items()}
    return own | {tag: manner.model_copy(update={"gsm7": True}) for tag, manner in latin.items()}


def asked_as(languages: Mapping[str, Language], known: Mapping[str, object]) -> Mapping[str, str]:
    """Give what asks for a language -> its code, for those languages of which the program has the words."""
    return {words: code for code, each in languages.items() if code in known for words in each.asked_as}

"""Call guides: messages/guides/*.toml come in, the guide for a finding goes out.

A guide is a short list of things to ask and do on the phone; what was done becomes the note of the call.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from functools import cache
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from bot.content.source import content_root
from bot.core.errors import Invalid, Problem
from bot.core.states import Urgency

Word = Annotated[str, Field(min_length=1)]


class _Strict(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Step(_Strict):
    """One thing to ask or to do, with where it is from."""

    id: Word
    do: Word
    source: Word


class Found(_Strict):
    """Something that such a call usually finds; its id is stored, its words are shown."""

    id: Word
    words: Word


class Guide(_Strict):
    """`rules` names rules, ladders or occasions, a '*' at the end for any rest; `urgency` narrows them."""

    id: Word
    title: Word
    rules: Annotated[tuple[str, ...], Field(min_length=1)]
    urgency: tuple[Literal["go_now", "same_day", "routine"], ...] = ()
    step: Annotated[tuple[Step, ...], Field(min_length=4, max_length=8)]
    found: Annotated[tuple[Found, ...], Field(min_length=2)]

    def fits(self, names: Sequence[str], urgency: Urgency) -> bool:
        """Tell whether it is for a finding that goes by one of `names` (rule and ladder)."""
        if self.urgency and urgency.name not in self.urgency:
            return False
        return any(fnmatchcase(name, pattern) for name in names for pattern in self.rules)


class _File(_Strict):
    guide: tuple[Guide, ...]


@dataclass(frozen=True, slots=True)
class Guides:
    """Every guide, in order: the first that fits is taken, and the last fits everything."""

    all: tuple[Guide, ...]

    def for_finding(self, names: Sequence[str], urgency: Urgency) -> Guide:
        """Give the guide for a finding that goes by `names`."""
        return next(guide for guide in self.all if guide.fits(names, urgency))

    def words(self) -> Iterator[str]:
        """Give every string that is shown, for the catalogs of the screens."""
        for guide in self.all:
            yield guide.title
            yield from (step.do for step in guide.step)
            yield from (found.words for found in guide.found)

    def found_words(self, found: str) -> str:
        """Give the words of something found, or the id where no guide knows it."""
        known = (each for guide in self.all for each in guide.found)
        return next((each.words for each in known if each.id == found), found)


@cache
def guides() -> Guides:
    """Read the guides of this installation."""
    return load_guides(content_root() / "messages")


def load_guides(root: Path) -> Guides:
    """Read guides/*.toml under `root`; raise Invalid with every fault of every file."""
    problems: list[Problem] = []
    read: list[Guide] = []
    for path in sorted((root / "guides").glob("*.toml")):
        try:
            read += _File.model_validate(tomllib.loads(path.read_text(encoding="utf-8"))).guide
        except tomllib.TOMLDecodeError as error:
            problems.append(Problem(path.name, f"is not TOML: {error}"))
        except ValidationError as error:
            problems += [
                Problem(f"{path.name}: {'.'.join(map(str, fault['loc']))}", fault["msg"])
                for fault in error.errors()
            ]
    problems += _doubled(read)
    if not read or "*" not in read[-1].rules or read[-1].urgency:
        problems.append(
            Problem("guides", "The last guide must be for every finding: rules = ['*'], no urgency.")
        )
    if problems:
        raise Invalid(problems)
    return Guides(tuple(read))


def _doubled(read: Sequence[Guide]) -> Iterator[Problem]:
    ids = [guide.id for guide in read]
    for name in sorted({name for name in ids if ids.count(name) > 1}):
        yield Problem(f"guides: {name}", "stands twice; an id belongs to one guide.")
    for guide in read:
        steps = [step.id for step in guide.step]
        for name in sorted({name for name in steps if steps.count(name) > 1}):
            yield Problem(f"guides: {guide.id}.{name}", "stands twice; an id belongs to one step.")

"""What to do about what a review found: messages/counselling.toml and the signs come in, steps go out."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from fnmatch import fnmatchcase
from functools import cache
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from bot.content.source import content_root
from bot.core.enrolment.babies import SIGNS, SUCKLING
from bot.core.errors import Invalid, Problem
from bot.core.young_infant import BESIDES

Word = Annotated[str, Field(min_length=1)]
FILE = "counselling.toml"
LOSS = "weight=lost"  # a rule says that the baby has lost too much


class Step(BaseModel):
    """One thing to do, and the poor signs (`position_neck=no`, `*` for anything) that call for it."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    id: Word
    signs: Annotated[tuple[Word, ...], Field(min_length=1, alias="for")]
    do: Word
    source: Word

    def helps(self, seen: str) -> bool:
        return any(fnmatchcase(seen, pattern) for pattern in self.signs)


class _File(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")
    step: Annotated[tuple[Step, ...], Field(min_length=1)]


@cache
def counselling() -> tuple[Step, ...]:
    """Read the steps of this installation."""
    return load_counselling(content_root() / "messages")


def steps_for(
    signs: Mapping[str, str], steps: Sequence[Step], besides: Iterable[str] = ()
) -> tuple[Step, ...]:
    """Give the steps that the signs of one assessment and what was found `besides` (`thrush=yes`) call for,
    in order; none when nothing is poor."""
    seen = (f"{sign}={value}" for sign, value in signs.items())
    poor = [*(each for each in seen if each in _poor_signs()), *besides]
    return tuple(step for step in steps if any(step.helps(each) for each in poor))


def load_counselling(root: Path) -> tuple[Step, ...]:
    """Read counselling.toml under `root`; raise Invalid with every fault."""
    try:
        steps = _File.model_validate(tomllib.loads((root / FILE).read_text("utf-8"))).step
    except tomllib.TOMLDecodeError as error:
        raise Invalid([Problem(FILE, f"is not TOML: {error}")]) from None
    except ValidationError as error:
        faults = error.errors()
        raise Invalid(
            [Problem(f"{FILE}: {'.'.join(map(str, fault['loc']))}", fault["msg"]) for fault in faults]
        ) from None
    problems = list(_faults(steps))
    if problems:
        raise Invalid(problems)
    return steps


def _faults(steps: Sequence[Step]) -> Iterator[Problem]:
    """Ids that stand twice, patterns that fit no poor sign, and poor signs that nothing is said about."""
    poor = _poor_signs()
    ids = [step.id for step in steps]
    for name in sorted({name for name in ids if ids.count(name) > 1}):
        yield Problem(f"{FILE}: {name}", "stands twice; an id belongs to one step.")
    for step in steps:
        for pattern in step.signs:
            if not any(fnmatchcase(sign, pattern) for sign in poor):
                yield Problem(f"{FILE}: {step.id}", f'"{pattern}" fits no poor sign.')
    for sign in poor:
        if not any(step.helps(sign) for step in steps):
            yield Problem(FILE, f"nothing is said about {sign}.")


def _poor_signs() -> list[str]:
    seen = [f"{group}_{name}=no" for group, names in SIGNS.items() for name in names]
    how_poor = (how for how in SUCKLING if how.startswith("not_") and how != "not_seen")
    return [*seen, *(f"suckling={how}" for how in how_poor), *BESIDES, LOSS]

"""messages/hazards.toml -> the hazard log, or every fault of the file. That the tests exist, a test shows."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field

from bot.content.vocabulary import Words, read_entry
from bot.core.errors import Invalid, Problem

_TEST = re.compile(r"tests/[\w/]+\.py::test_\w+")


class Hazard(BaseModel):
    """What can hurt, what leads there, what keeps it from happening, and which tests would notice."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)

    hazard: Words
    cause: Words
    control: Words
    tests: list[str] = Field(min_length=1)
    left: str  # what the control does not cover; empty: nothing known


def load_hazards(root: Path) -> Mapping[str, Hazard]:
    """Read the log by id. `root` is the folder that holds messages/. Raises Invalid with every fault."""
    path = root / "messages" / "hazards.toml"
    problems: list[Problem] = []
    try:
        tables = tomllib.loads(path.read_text("utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as fault:
        raise Invalid([Problem(path.name, f"This can't be read as TOML: {fault}")]) from fault
    found: dict[str, Hazard] = {}
    for id, raw in tables.items():
        entry = read_entry(Hazard, raw, f"{path.name} [{id}]", problems)
        if entry is None:
            continue
        found[id] = entry
        problems += [
            Problem(f"{path.name} [{id}] tests", f"{test} is not of the form tests/path.py::test_name.")
            for test in entry.tests
            if not _TEST.fullmatch(test)
        ]
    if problems:
        raise Invalid(problems)
    return found

"""messages/cases/triage.toml -> cases of triage: facts, the urgency that their source gives, the source."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from bot.core.states import Urgency


@dataclass(frozen=True, slots=True)
class Case:
    """`row` is its number in the check table of a clinical lead, None where it is beside it; `rule` must be
    among the findings, '' where it does not matter which."""

    says: str
    facts: Mapping[str, Any]
    urgency: Urgency
    source: str
    row: int | None = None
    rule: str = ""


def load_cases(root: Path) -> list[Case]:
    """Read the cases in the order of the file. `root` is the folder that holds messages/."""
    text = (root / "messages" / "cases" / "triage.toml").read_text("utf-8")
    return [
        Case(
            each["says"],
            each["facts"],
            Urgency[each["urgency"]],
            each["source"],
            each.get("row"),
            each.get("rule", ""),
        )
        for each in tomllib.loads(text)["case"]
    ]

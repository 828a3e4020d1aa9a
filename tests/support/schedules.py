"""Small invented schedules for tests; the shipped one is read from messages/."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from bot.content.schedule import load_schedules
from bot.core.plan import DAY
from bot.core.schedule import Anchor, ContactKind, ContactSpec, Schedule

MESSAGES = Path(__file__).resolve().parents[2] / "messages"


@cache
def the_standard_schedule() -> Schedule:
    return load_schedules(MESSAGES)["standard"]


def a_spec(key: str = "look", **changes: Any) -> ContactSpec:
    """A check-in anchored to birth that asks one open question and stays valid for a day."""
    facts: dict[str, Any] = {"kind": ContactKind.check_in, "anchor": Anchor.birth, "valid_for": DAY}
    if changes.get("kind", ContactKind.check_in) is ContactKind.check_in:
        facts["questions"] = ("worry",)
    else:
        facts["text"] = key
    return ContactSpec(**{"key": key, **facts, **changes})


def a_schedule(*contacts: ContactSpec, **changes: Any) -> Schedule:
    return Schedule(**{"name": "invented", "edition": 1, "contacts": contacts, **changes})

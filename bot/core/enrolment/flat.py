"""The rows of an enrolment file, one a baby -> the nested details of each mother; and back from a dotted
field to the line and column it came from. Column names are the dotted names joined with underscores."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Any

from bot.core.enrolment.babies import SIGNS
from bot.core.enrolment.fields import Fault, clean
from bot.core.errors import Problem

_OBJECTS = {
    "mother": ("name", "phone", "language", "latin", "phone_shared", "age", "parity", "birth_mode", "risks"),
    "consent": ("texts", "calls", "second_contact", "home_visit", "research", "taken_by", "language"),
    "second_contact": ("name", "phone", "may_know"),
}
_PLAIN = (
    "external_id", "site", "discharged_at", "consent", "preferred_hour", "follow_up_by", "lives_at",
    "nearest_facility", "feeding_plan", "confirmed",
)  # fmt: skip
_OF_BABY = ("name", "born_at", "sex", "birth_weight_g", "gestation_weeks", "place", "feeding_plan")

PAIR_COLUMNS: Mapping[str, str] = {name: name for name in _PLAIN} | {
    f"{part}_{name}": f"{part}.{name}" for part, names in _OBJECTS.items() for name in names
}
BABY_COLUMNS: Mapping[str, str] = (
    {f"baby_{name}": name for name in _OF_BABY}
    | {
        f"assessment_{group}_{sign}": f"assessment.{group}.{sign}"
        for group, signs in SIGNS.items()
        for sign in signs
    }
    | {f"assessment_{name}": f"assessment.{name}" for name in ("suckling", "weight_g")}
)
COLUMNS = (*PAIR_COLUMNS, *BABY_COLUMNS)
NEEDED = ("external_id", "site", "mother_name", "mother_language", "baby_born_at", "discharged_at")
_CONSENT = ("consent", "consent_texts", "consent_calls")
_PAIR_COLUMN_OF = {dotted: column for column, dotted in PAIR_COLUMNS.items()}
_BABY_COLUMN_OF = {dotted: column for column, dotted in BABY_COLUMNS.items()}


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the file: its number, its cells by column (no empty ones), the fault of its form."""

    line: int
    cells: Mapping[str, str]
    fault: str = ""


@dataclass(slots=True)
class Group:
    """The rows of one mother, in the order of the file: `raw` is what they say together."""

    rows: list[Row] = field(default_factory=list)
    raw: dict[str, Any] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)

    @property
    def external_id(self) -> str:
        return self.rows[0].cells.get("external_id", "")

    def place_of(self, dotted: str) -> tuple[int, str]:
        """Give the line and the column that a field came from."""
        found = re.fullmatch(r"babies\.(\d+)(?:\.(.+))?", dotted)
        if found is None:
            return self.rows[0].line, _PAIR_COLUMN_OF.get(dotted, dotted)
        row = self.rows[min(int(found[1]), len(self.rows) - 1)]
        inner = found[2] or ""
        return row.line, _BABY_COLUMN_OF.get(inner, f"baby_{inner}" if inner else "")


def read_header(cells: Sequence[str]) -> tuple[list[str], list[Problem]]:
    """Give the columns of a header line, and every fault of it."""
    names = [clean(cell).lower() for cell in cells]
    problems = []
    for name in dict.fromkeys(names):
        if names.count(name) > 1 and name:
            problems.append(Problem(name, "this column stands there twice; keep one"))
        if name not in COLUMNS:
            near = get_close_matches(name, COLUMNS, n=1)
            hint = f"; do you mean {near[0]}?" if near else "; take it out"
            problems.append(Problem(name or "(empty)", f"no enrolment has this column{hint}"))
    problems += [Problem(name, "this column is missing") for name in NEEDED if name not in names]
    if not set(_CONSENT) & set(names):
        problems.append(Problem("consent", "this column (or consent_texts and consent_calls) is missing"))
    return names, problems


def grouped(rows: Iterable[Row]) -> list[Group]:
    """Put the rows of one mother together (same site and external id), wherever they stand in the file.

    A row without an external id stands alone. What concerns the mother may be left empty after the first of
    her rows, but must not say something else.
    """
    groups: dict[object, Group] = {}
    for row in rows:
        name = row.cells.get("external_id")
        key = (row.cells.get("site"), name) if name else row.line
        groups.setdefault(key, Group()).rows.append(row)
    for group in groups.values():
        _join(group)
    return list(groups.values())


def _join(group: Group) -> None:
    said: dict[str, tuple[int, str]] = {}
    confirmed: list[str] = []
    babies = []
    for ordinal, row in enumerate(group.rows):
        if row.fault:
            group.faults.append(Fault(f"babies.{ordinal}", row.fault, row.fault))
        for column, dotted in PAIR_COLUMNS.items():
            cell = row.cells.get(column)
            if cell is None:
                continue
            if column == "confirmed":
                confirmed += [_dotted(name, ordinal) for name in re.split(r"[;,\s]+", cell)]
            elif said.setdefault(column, (row.line, cell))[1] != cell:
                line = said[column][0]
                words = "line %(line)s says something else than line %(first)s"
                values = {"line": row.line, "first": line}
                group.faults.append(Fault(dotted, words % values, words, values))
        babies.append(_nested({BABY_COLUMNS[c]: cell for c, cell in row.cells.items() if c in BABY_COLUMNS}))
    group.raw = _nested({PAIR_COLUMNS[column]: cell for column, (_, cell) in said.items()})
    group.raw |= {"babies": babies, "confirmed": confirmed}


def _dotted(name: str, ordinal: int) -> str:
    """The field that a word in the column `confirmed` means."""
    if name in BABY_COLUMNS:
        return f"babies.{ordinal}.{BABY_COLUMNS[name]}"
    return PAIR_COLUMNS.get(name, name)


def _nested(flat: Mapping[str, str]) -> dict[str, Any]:
    """Dotted names to objects in objects. Single consents win over a plain yes: they say more."""
    nested: dict[str, Any] = {}
    for dotted, cell in flat.items():
        *path, last = dotted.split(".")
        inner = nested
        for step in path:
            if not isinstance(inner.get(step), dict):
                inner[step] = {}
            inner = inner[step]
        inner.setdefault(last, cell)
    return nested

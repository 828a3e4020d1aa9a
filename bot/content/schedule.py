"""Schedules as data: a TOML file or the JSON body of an edition comes in, a checked `Schedule` goes out.

Every fault is reported at once, with the contact and the key it stands in. Unknown keys are faults: a
misspelt one would otherwise leave a contact at its default in silence.
"""

from __future__ import annotations

import json
import tomllib
from collections import Counter
from collections.abc import Iterator, Mapping, Set
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from bot.content.schedule_shape import ContactRow, Head
from bot.core.errors import Invalid, Problem
from bot.core.plan import FIRST_WEEK, is_quiet
from bot.core.schedule import Anchor, ContactSpec, Schedule

# Words for the faults whose own message a manager could not act on.
PLAIN = {
    "extra_forbidden": "There is no such key.",
    "unexpected_keyword_argument": "There is no such key.",
    "missing": "This is missing.",
    "string_pattern_mismatch": "Use small letters, digits and hyphens.",
    "time_type": "Write a time of day, such as 08:30:00.",
    "date_type": "Write a date, such as 2026-03-02.",
}

_Part = TypeVar("_Part", bound=BaseModel)


def load_schedules(
    root: Path, questions: Set[str] | None = None, texts: Set[str] | None = None
) -> Mapping[str, Schedule]:
    """Read every schedule in `root`/schedules, by name.

    root       the folder messages/
    questions  the ids that may be asked, `texts` the keys that may be sent; None: not compared
    Invalid    with the faults of all files, each led by the file's name
    """
    found: dict[str, Schedule] = {}
    problems: list[Problem] = []
    for path in sorted((root / "schedules").glob("*.toml")):
        try:
            schedule = schedule_from(tomllib.loads(path.read_text("utf-8")), questions, texts)
            if schedule.name != path.stem:
                raise Invalid([Problem("name", f'Call it "{path.stem}", like its file.')])
            found[schedule.name] = schedule
        except (tomllib.TOMLDecodeError, UnicodeDecodeError) as fault:
            problems.append(Problem(path.name, f"This is not TOML: {fault}"))
        except Invalid as fault:
            problems += [Problem(f"{path.name}: {each.field}", each.message) for each in fault.problems]
    if problems:
        raise Invalid(problems)
    return found


def schedule_from(
    data: Mapping[str, Any], questions: Set[str] | None = None, texts: Set[str] | None = None
) -> Schedule:
    """Check and build one schedule; arguments and errors as in `load_schedules`."""
    problems: list[Problem] = []
    head = _read(Head, {key: value for key, value in data.items() if key != "contacts"}, "", problems)
    rows = data.get("contacts")
    if not isinstance(rows, list) or not rows:
        problems.append(Problem("contacts", "List at least one contact."))
        rows = []
    read = [_read(ContactRow, row, _where(place, row), problems) for place, row in enumerate(rows)]
    contacts = tuple(contact.build() for contact in read if contact is not None)
    problems += _keys_twice(contacts)
    problems += _unknown_names(contacts, questions, texts)
    if head is not None:
        schedule = head.build(contacts)
        problems += _over_limits(schedule)
        if not problems:
            return schedule
    raise Invalid(problems)


def schedule_to(schedule: Schedule) -> dict[str, Any]:
    """Give the JSON body of an edition: what `schedule_from` reads, in the keys of the TOML files."""
    head = Head.of(schedule).model_dump(mode="json", by_alias=True, exclude_none=True)
    contacts = [
        ContactRow.of(spec).model_dump(mode="json", by_alias=True, exclude_defaults=True)
        for spec in schedule.contacts
    ]
    return {**head, "contacts": contacts}


def _read(part: type[_Part], data: object, where: str, problems: list[Problem]) -> _Part | None:
    """Check one part; add its faults to `problems`.

    TOML is read by way of JSON too, and strictly: the number 1350 is no time of day, the word "3" no number.
    """
    try:
        return part.model_validate_json(json.dumps(data, default=str))
    except ValidationError as error:
        for fault in error.errors():
            place = ".".join([*filter(None, [where]), *map(str, fault["loc"])])
            message = PLAIN.get(fault["type"]) or fault["msg"].removeprefix("Value error, ")
            problems.append(Problem(place, message))
        return None


def _where(place: int, row: object) -> str:
    key = row.get("key") if isinstance(row, Mapping) else None
    return f"contacts.{key if isinstance(key, str) else place}"


def _keys_twice(contacts: tuple[ContactSpec, ...]) -> list[Problem]:
    counts = Counter(spec.key for spec in contacts)
    return [
        Problem(f"contacts.{key}", "This key stands twice; give each contact its own.")
        for key, n in counts.items()
        if n > 1
    ]


def _unknown_names(
    contacts: tuple[ContactSpec, ...], questions: Set[str] | None, texts: Set[str] | None
) -> Iterator[Problem]:
    for spec in contacts:
        for question in (*spec.questions, *(each.ask for each in spec.also)):
            if questions is not None and question not in questions:
                yield Problem(f"contacts.{spec.key}.questions", f'There is no question "{question}".')
        if spec.text and texts is not None and spec.text not in texts:
            yield Problem(f"contacts.{spec.key}.text", f'There is no text "{spec.text}".')


def _over_limits(schedule: Schedule) -> Iterator[Problem]:
    for spec in schedule.contacts:
        where, asked = f"contacts.{spec.key}", len(spec.questions)
        early = spec.anchor is Anchor.birth and spec.days <= FIRST_WEEK
        if early and asked > schedule.max_questions_first_week:
            limit = schedule.max_questions_first_week
            yield Problem(f"{where}.questions", f"In the first week ask at most {limit} questions.")
        if asked > schedule.max_asking_a_day:
            yield Problem(f"{where}.questions", f"Ask at most {schedule.max_asking_a_day} questions a day.")
        times = [spec.at] if spec.at else [spec.window.start, spec.window.end] if spec.window else []
        if times and all(is_quiet(clock, schedule) for clock in times):
            yield Problem(where, "This time is in the quiet hours.")

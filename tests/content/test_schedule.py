"""Schedules as data: the shipped file, the round trip to an edition, and every fault of a bad one."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable
from copy import deepcopy
from dataclasses import replace
from datetime import time, timedelta
from itertools import pairwise
from typing import Any

import pytest

from bot.content.schedule import load_schedules, schedule_from, schedule_to
from bot.core.errors import Invalid
from bot.core.schedule import Anchor, ContactKind, Window
from tests.support.schedules import MESSAGES, the_standard_schedule

QUESTIONS = {"worry", "feeds", "wet_nappies", "dirty_nappies", "pain", "other_food"} | {
    "wound", "headache_or_sight", "mother_danger",
}  # fmt: skip


def the_file() -> dict[str, Any]:
    return tomllib.loads((MESSAGES / "schedules" / "standard.toml").read_text("utf-8"))


def faults(data: dict[str, Any], **names: Any) -> list[str]:
    with pytest.raises(Invalid) as refused:
        schedule_from(data, **names)
    return [str(problem) for problem in refused.value.problems]


def contact(data: dict[str, Any], key: str) -> dict[str, Any]:
    found: dict[str, Any] = next(row for row in data["contacts"] if row["key"] == key)
    return found


# ---------------------------------------------------------------- the shipped schedule


def test_the_standard_schedule_asks_only_known_questions_and_sends_only_known_texts():
    texts = {
        key for file in (MESSAGES / "texts").glob("*.toml") for key in tomllib.loads(file.read_text("utf-8"))
    }

    standard = load_schedules(MESSAGES, QUESTIONS, texts)["standard"]

    asked = {key for spec in standard.contacts for key in spec.questions}
    asked |= {also.ask for spec in standard.contacts for also in spec.also}
    assert {f"{words}-{question}" for question in asked for words in ("ask", "again")} <= texts


def test_worry_comes_first_and_wet_nappies_are_asked_at_every_check_in_of_the_first_week():
    checks = [each for each in the_standard_schedule().contacts if each.kind is ContactKind.check_in]

    assert all(each.questions[0] == "worry" for each in checks)
    of_birth = [each for each in checks if each.anchor is Anchor.birth and each.condition is None]
    first_week = {each.days: each.questions for each in of_birth if each.days <= 7}
    assert sorted(first_week) == [2, 3, 4, 5, 7]
    assert all("wet_nappies" in questions and len(questions) <= 3 for questions in first_week.values())
    for day, question in [(3, "pain"), (5, "dirty_nappies"), (7, "other_food")]:
        assert question in first_week[day]


def test_a_check_in_of_the_standard_schedule_is_over_before_the_next_one():
    checks = [each for each in the_standard_schedule().contacts if each.kind is ContactKind.check_in]
    checks = [each for each in checks if each.anchor is Anchor.birth]
    days = sorted((each.days + n * 7, each) for each in checks for n in range(4 if each.repeat else 1))

    for (day, spec), (following, _) in pairwise(days):
        assert spec.open_for < (following - day) * timedelta(days=1)


def test_each_contact_says_what_it_is_for_and_where_it_comes_from():
    assert all(each.meaning and each.source for each in the_standard_schedule().contacts)


# ---------------------------------------------------------------- there and back


def test_a_schedule_reads_back_from_the_body_of_its_edition():
    standard = the_standard_schedule()

    assert schedule_from(json.loads(json.dumps(schedule_to(standard)))) == standard


def test_an_edited_schedule_reads_back_too():
    standard = the_standard_schedule()
    first, *rest = standard.contacts
    changed = [
        replace(first, on=False, valid_for=timedelta(minutes=90)),
        *(replace(each, cover=False, window=Window(time(9, 30), time(12))) for each in rest if each.cover),
        *(each for each in rest if not each.cover),
    ]
    edited = replace(
        standard,
        edition=2,
        contacts=tuple(changed),
        quiet_from=time(19, 45),
        review=replace(standard.review, later_hours=96),
    )

    assert schedule_from(json.loads(json.dumps(schedule_to(edited)))) == edited


# ---------------------------------------------------------------- faults


Change = Callable[[dict[str, Any]], Any]


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        (lambda d: d.update(colour=1), "colour: There is no such key."),
        (lambda d: d.pop("dated"), "dated: This is missing."),
        (lambda d: d["quiet"].update({"from": 1350}), "quiet.from: Write a time of day, such as 08:30:00."),
        (lambda d: d["quiet"].pop("source"), "quiet.source: This is missing."),
        (
            lambda d: d["review"].update(latest_hours=24),
            "review: latest_hours can't come before target_hours.",
        ),
        (lambda d: d["review"].update(later_hours=24), "review: later_hours can't come before target_hours."),
        (lambda d: d.update(contacts=[]), "contacts: List at least one contact."),
        (lambda d: d["contacts"].insert(0, 3), "contacts.0: Input should be an object"),
        (
            lambda d: d["contacts"].append(contact(d, "day-2")),
            "contacts.day-2: This key stands twice; give each",
        ),
        (lambda d: contact(d, "day-2").update(colour=1), "contacts.day-2.colour: There is no such key."),
        (
            lambda d: contact(d, "day-2").update(days="2"),
            "contacts.day-2.days: Input should be a valid integer",
        ),
        (
            lambda d: contact(d, "day-2").update(valid_for_hours=0),
            "contacts.day-2.valid_for_hours: Write a number",
        ),
        (
            lambda d: contact(d, "day-2").update(valid_for_hours=True),
            "contacts.day-2.valid_for_hours: Write a",
        ),
        (lambda d: contact(d, "day-2").update(condition="rich"), "contacts.day-2.condition: Input should be"),
        (
            lambda d: contact(d, "day-2").update(at="09:00"),
            "contacts.day-2: Give one of at, window and cover",
        ),
        (
            lambda d: contact(d, "day-2").update(hours=3),
            "contacts.day-2: Give hours or a time of day, not both.",
        ),
        (
            lambda d: contact(d, "day-2").update(days=-1),
            "contacts.day-2: Only a contact anchored to the review",
        ),
        (
            lambda d: contact(d, "day-2").update(text="welcome"),
            "contacts.day-2: A check-in asks its questions",
        ),
        (lambda d: contact(d, "day-2").update(questions=[]), "contacts.day-2: A check-in needs questions."),
        (
            lambda d: contact(d, "day-2").update(questions=["worry", "worry"]),
            "contacts.day-2: A question stands",
        ),
        (
            lambda d: contact(d, "day-2")["questions"].append("pain"),
            "contacts.day-2.questions: In the first week ask at most 3 questions.",
        ),
        (
            lambda d: contact(d, "day-10")["questions"].extend(["pain", "other_food"]),
            "contacts.day-10.questions: Ask at most 4 questions a day.",
        ),
        (lambda d: contact(d, "welcome").pop("text"), "contacts.welcome: Name the text to send."),
        (lambda d: contact(d, "welcome").update(open_for_hours=3), "contacts.welcome: Only a check-in has"),
        (lambda d: contact(d, "welcome").update(meaning=""), "contacts.welcome.meaning: String should have"),
        (
            lambda d: contact(d, "finished").update(at="21:00"),
            "contacts.finished: This time is in the quiet hours.",
        ),
        (
            lambda d: contact(d, "advice-week-2").update(window={"start": "20:00", "end": "23:00"}),
            "contacts.advice-week-2: This time is in the quiet hours.",
        ),
        (
            lambda d: contact(d, "advice-week-2").update(window={"start": "12:00", "end": "09:00"}),
            "contacts.advice-week-2: The window ends before it starts.",
        ),
        (
            lambda d: contact(d, "advice-week-2")["window"].update(middle="10:00"),
            "contacts.advice-week-2.window.middle: There is no such key.",
        ),
        (
            lambda d: contact(d, "review-morning").update(repeat={"every_days": 1, "until_days": 3}),
            "contacts.review-morning: A contact anchored to the review or to coming home can't repeat.",
        ),
        (
            lambda d: contact(d, "small-weekly")["repeat"].update(every_days=0),
            "contacts.small-weekly: Repeat at least a day apart",
        ),
    ],
)
def test_a_fault_is_named_with_its_place(change: Change, fault: str) -> None:
    data = deepcopy(the_file())
    change(data)

    (found,) = faults(data)

    assert found.startswith(fault)


def test_all_faults_come_at_once():
    data = the_file()
    data["limits"]["asking_a_day"] = 0
    contact(data, "day-3")["kind"] = "song"
    contact(data, "day-4")["questions"].append("weather")
    contact(data, "finished")["text"] = "farewell"

    found = faults(
        data, questions=QUESTIONS, texts={row["text"] for row in the_file()["contacts"] if "text" in row}
    )

    assert [fault.split(":")[0] for fault in found] == [
        "limits.asking_a_day",
        "contacts.day-3.kind",
        "contacts.day-4.questions",
        "contacts.finished.text",
    ]


def test_faults_of_files_are_led_by_the_files_name(tmp_path):
    folder = tmp_path / "schedules"
    folder.mkdir()
    text = (MESSAGES / "schedules" / "standard.toml").read_text("utf-8")
    (folder / "broken.toml").write_text("name = ", "utf-8")
    (folder / "other.toml").write_text(text, "utf-8")
    (folder / "twice.toml").write_text(text.replace('"standard"', '"twice"') + "\ncolour = 1", "utf-8")

    with pytest.raises(Invalid) as refused:
        load_schedules(tmp_path)

    found = [str(problem) for problem in refused.value.problems]
    assert found[0].startswith("broken.toml: This is not TOML")
    assert found[1] == 'other.toml: name: Call it "other", like its file.'
    assert found[2] == "twice.toml: contacts.finished.colour: There is no such key."

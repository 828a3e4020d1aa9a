"""JSON lines in and out: the fixed interface that tools are built on."""

from __future__ import annotations

import json
import tomllib
from typing import Any

import pytest
from click.testing import CliRunner

from bot.cli import main
from bot.content.source import content_root

SITE = """
code = "lakeside"
name = "Lakeside Maternity"
zone = "Africa/Nairobi"
region = "KE"
open_days = ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday"]
opens = 08:00:00
closes = 16:00:00
[numbers]
text = "+447700900100"
call = "+447700900101"
hours = "8:00-16:00"
place = "Lakeside Hospital"
place_call = "+447700900102"
[[on_call]]
who = "Labour ward phone"
phone = "+447700900110"
"""
ENROLMENT = {
    "id": "p1",
    "now": "2026-03-03T15:00:00+03:00",
    "external_id": "L-1",
    "site": "lakeside",
    "mother": {"name": "Amina", "phone": "+447700900123", "language": "en"},
    "babies": [
        {"name": "Idris", "born_at": "2026-03-02T06:15:00+03:00", "sex": "male", "birth_weight_g": 3100}
    ],
    "discharged_at": "2026-03-03T14:00:00+03:00",
    "consent": True,
}


def run(*arguments: str, lines: list[Any]) -> tuple[int, list[dict[str, Any]]]:
    """Run a command on lines (objects, or text as it stands); give its exit code and what it wrote."""
    given = "\n".join(line if isinstance(line, str) else json.dumps(line) for line in lines)
    result = CliRunner().invoke(main, arguments, input=given + "\n")
    assert "Traceback" not in result.output
    return result.exit_code, [json.loads(line) for line in result.stdout.splitlines()]


def test_read_keeps_ids_and_gives_answers_as_bounds_or_truths() -> None:
    code, out = run(
        "read",
        "--jsonl",
        lines=[
            {"id": 1, "language": "en", "asking": "feeds", "age_days": 4, "text": "8 or 9"},
            {"id": "two", "language": "en", "asking": "feeds", "text": "8+"},
            {"id": None, "language": "en", "asking": "feeds", "text": "less than 6"},
            {"id": 4, "language": "en", "asking": ["worry"], "text": "no"},
            {"id": 5, "language": "en", "asking": "pain", "text": "2.5"},
            {"id": 6, "language": "ar", "asking": "none", "text": "ابني سخن نار"},
        ],
    )
    assert code == 0
    assert [line["id"] for line in out] == [1, "two", None, 4, 5, 6]
    assert [line["answers"] for line in out[:5]] == [
        {"feeds": {"low": 8, "high": 9}},
        {"feeds": {"low": 8, "high": None}},
        {"feeds": {"low": None, "high": 5}},
        {"worry": False},
        {"pain": {"low": 2.5, "high": 2.5}},
    ]
    assert (out[5]["danger_signs"], out[5]["needs_person"]) == (["baby_hot"], True)


def test_a_bad_line_is_told_the_rest_go_on_and_the_end_is_1() -> None:
    good = {"id": 9, "language": "en", "text": "thank you"}
    code, out = run(
        "read",
        "--jsonl",
        lines=[
            "{not json",
            "[1]",
            {"id": 3, "language": "xx", "text": 5},
            {"id": 4, "language": "en", "text": "8", "colour": "red"},
            {"id": 5, "language": "en"},
            {"id": 6, "language": "en", "asking": "weather", "text": "8"},
            "",
            good,
        ],
    )
    assert code == 1
    assert [line["id"] for line in out] == [None, None, 3, 4, 5, 6, 9]
    assert all("error" in line for line in out[:6])
    assert "language" in out[2]["error"]
    assert "text" in out[2]["error"], "every fault of a line is named at once"
    assert out[6]["intent"] == "thanks"


def test_triage_names_urgency_rule_reason_and_source() -> None:
    code, out = run(
        "triage",
        "--jsonl",
        lines=[
            {"id": 1, "facts": {"age_days": 7, "answers": {"feeds": 8, "wet_nappies": 6}}},
            {"id": 2, "facts": {"age_days": 7, "answers": {"feeds": {"low": 4, "high": 9}}}},
            {"id": 3, "facts": {"age_days": 10, "danger_signs": ["convulsions"]}},
            {"id": 4, "facts": {"age_days": 7, "answers": {"sleep": 3}, "danger_signs": ["tired"]}},
        ],
    )
    assert code == 1
    assert [line.get("urgency") for line in out] == ["none", "same_day", "go_now", None]
    finding = out[2]["findings"][0]
    assert {"rule", "urgency", "why", "source"} <= set(finding)
    assert "sleep" in out[3]["error"]
    assert "tired" in out[3]["error"]


def test_every_row_of_the_check_table_can_be_asked_on_the_command_line() -> None:
    table = content_root() / "messages" / "cases" / "triage.toml"
    cases = tomllib.loads(table.read_text("utf-8"))["case"]
    rows = [case for case in cases if "row" in case]
    code, out = run("triage", "--jsonl", lines=[{"id": c["says"], "facts": c["facts"]} for c in rows])
    assert code == 0
    told = {line["id"]: line["urgency"] for line in out}
    assert told == {case["says"]: case["urgency"] for case in rows}


# 3GPP TS 23.038, 6.2.1 (alphabet) and TS 23.040, 9.2.3.24.1 (153 and 67 units a part).
@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a" * 160, ("GSM-7", 160, 1)),
        ("a" * 161, ("GSM-7", 161, 2)),
        ("€" * 81, ("GSM-7", 162, 2)),
        ("a" * 152 + "€" + "a" * 152, ("GSM-7", 306, 3)),
        ("ا" * 71, ("UCS-2", 71, 2)),
        ("ا" * 66 + "👶" + "ا" * 66, ("UCS-2", 134, 3)),
        ("", ("GSM-7", 0, 1)),
    ],
)
def test_segments_counts_the_text_as_given(text: str, expected: tuple[str, int, int]) -> None:
    code, out = run("segments", "--jsonl", lines=[{"id": 1, "text": text}])
    assert code == 0
    assert (out[0]["encoding"], out[0]["units"]) == expected[:2]
    if text:
        assert out[0]["segments"] == expected[2]


def test_plan_prints_contacts_in_order_with_local_and_utc_time(tmp_path: Any) -> None:
    file = tmp_path / "site.toml"
    file.write_text(SITE, "utf-8")
    bad = ENROLMENT | {"id": "p2", "now": "tomorrow"}
    code, out = run("plan", "--jsonl", "--site", str(file), lines=[ENROLMENT, bad])
    assert code == 1
    contacts = out[0]["contacts"]
    assert [c["key"] for c in contacts[:3]] == ["welcome", "practise-attach", "day-2"]
    assert all({"key", "occurrence", "kind", "due_local", "due_at"} <= set(c) for c in contacts)
    assert [c["due_at"] for c in contacts] == sorted(c["due_at"] for c in contacts)
    assert "now" in out[1]["error"]


@pytest.mark.parametrize("command", sorted(main.commands))
def test_every_command_explains_itself(command: str) -> None:
    result = CliRunner().invoke(main, [command, "--help"])
    assert result.exit_code == 0
    assert len(result.output.splitlines()) > 3


def test_check_finds_nothing_wrong_with_what_ships() -> None:
    result = CliRunner().invoke(main, ["check"])
    assert result.exit_code == 0, result.output
    assert "monotone" in result.output


def test_no_language_is_called_ready_before_a_named_reviewer_has_signed_it() -> None:
    result = CliRunner().invoke(main, ["check", "--release"])
    assert result.exit_code == 1
    assert "NOT READY ar: words: nobody has signed them" in result.output
    assert "NOT READY en: texts" in result.output

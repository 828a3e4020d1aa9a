"""The commands about the record of one pair."""

from __future__ import annotations

import json
import stat
from pathlib import Path

import pytest
from sqlalchemy import select

from bot import settings, wiring
from bot.store import tables as t
from tests.cli.test_service import a_file, demo, dunnock, service

__all__ = ["demo", "service"]  # fixtures


def test_an_incident_is_written_for_its_maker_only_and_a_hold_stands_in_it(demo: Path) -> None:
    assert dunnock("enrol", str(a_file(demo, ["+447700900123"]))).exit_code == 0
    with wiring.build(settings.load()).store.read() as conn:
        enrolment = str(conn.scalar(select(t.enrolment.c.id)))
    assert "Held" in dunnock("hold", enrolment, "--why", "Letter 12 of the ministry.").output
    out = demo / "record"
    made = dunnock("incident", enrolment, "--out", str(out))
    assert made.exit_code == 0, made.output
    story = json.loads((out / f"incident-{enrolment}.json").read_text("utf-8"))
    assert story["legal_hold"]["why"] == "Letter 12 of the ministry."
    assert any(each["kind"] == "message" for each in story["story"])
    page = (out / f"incident-{enrolment}.html").read_text("utf-8")
    assert "<h1>Record of" in page
    assert "Letter 12" in page
    for path in out.iterdir():
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert "Lifted" in dunnock("hold", enrolment, "--release", "--why", "Closed.").output
    assert dunnock("hold", enrolment, "--release", "--why", "Closed.").exit_code == 1
    assert dunnock("incident", "nonsense").exit_code == 1


def test_a_hold_needs_a_reason_and_what_is_no_id_is_said_before_any_setting(
    demo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert dunnock("enrol", str(a_file(demo, ["+447700900123"]))).exit_code == 0
    with wiring.build(settings.load()).store.read() as conn:
        enrolment = str(conn.scalar(select(t.enrolment.c.id)))
    refused = dunnock("hold", enrolment, "--why", " ")
    assert (refused.exit_code, "who asked for it" in refused.output) == (2, True)
    with wiring.build(settings.load()).store.read() as conn:
        assert conn.scalar(select(t.legal_hold.c.enrolment)) is None
    monkeypatch.delenv("DUNNOCK_DATABASE_URL")
    assert "Give one ENROLMENT" in dunnock("erase", enrolment).output
    assert "is not the id" in dunnock("erase", "abc", "--why", "Letter 12.").output

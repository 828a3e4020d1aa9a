"""A manager tries a draft on invented mothers before publishing it."""

from __future__ import annotations

import json
import sys
import time
from datetime import timedelta
from html import unescape
from io import StringIO
from pathlib import Path

import pytest

from bot.cohort import trial
from bot.cohort.trial import Trial, begin, trial_of
from bot.content.factory import load_factory, rules_body
from bot.content.schedule import schedule_to
from bot.steps.content import publish_factory
from bot.store.viewer import Role
from tests.support.ward import Opening, Ward, csrf_of
from tests.web.test_manager import edit


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where trials are kept; few mothers live, for a few days."""
    monkeypatch.setattr(trial, "folder_of_user", lambda: tmp_path)
    monkeypatch.setattr(trial, "MOTHERS", 4)
    monkeypatch.setattr(trial, "DAYS", 3)
    return tmp_path


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The keys of the processes that would have been started."""
    keys: list[str] = []

    class Process:
        def __init__(self, command: list[str], **_: object) -> None:
            keys.append(command[-1])

        def communicate(self, _: bytes) -> None:
            pass

    monkeypatch.setattr("bot.cohort.trial.subprocess.Popen", Process)
    return keys


def request(**changes: object) -> dict[str, object]:
    body = schedule_to(load_factory().schedules["standard"])
    return {"standing": body, "drafted": body, "rules": rules_body(), "unsigned": [], **changes}


def test_one_trial_runs_at_a_time_and_the_same_is_not_begun_twice(folder: Path, started: list[str]) -> None:
    asked, other = request(), request(unsigned=["sw"])
    assert trial_of(asked) == Trial("none")
    assert [begin(asked).state, begin(asked).state, begin(other).state] == ["running", "running", "another"]
    assert len(started) == 1


def test_a_trial_that_was_given_up_can_be_begun_again(
    folder: Path, started: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    begin(request())
    monkeypatch.setattr(trial, "_LONGEST", -1)
    assert trial_of(request()) == Trial("none")
    begin(request())
    assert len(started) == 2


def test_what_was_lived_is_kept_under_what_was_asked(
    folder: Path, started: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    begin(request())
    monkeypatch.setattr(sys, "stdin", StringIO(json.dumps(request(mothers=4, days=3))))
    monkeypatch.setattr("bot.cohort.trial.os.nice", lambda _: 0)
    trial.main(Path(started[0]))
    found = trial_of(request())
    assert found.state == "done"
    assert found.outcomes[0] == found.outcomes[1]  # the draft changes nothing here
    assert trial_of(request(unsigned=["en"])) == Trial("none")


def test_a_trial_that_fails_says_so_and_can_be_begun_again(
    folder: Path, started: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = request(drafted={"name": "standard"})
    begin(asked)
    monkeypatch.setattr(sys, "stdin", StringIO(json.dumps({**asked, "mothers": 4, "days": 3})))
    monkeypatch.setattr("bot.cohort.trial.os.nice", lambda _: 0)
    trial.main(Path(started[0]))
    assert trial_of(asked) == Trial("failed")
    assert begin(asked) == Trial("running")


def test_a_manager_tries_a_draft_and_sees_both_side_by_side(ward: Ward, visit: Opening, folder: Path) -> None:
    publish_factory(ward.store, load_factory(), ward.now - timedelta(days=30))
    ward.add_staff("amara", "Amara", Role.manager, "lakeside")
    visitor = visit("amara")
    assert "There is no draft" in visitor.page("/schedule/trial")
    edit(visitor, "/schedule/contacts/day-28", on="")
    assert "/schedule/trial" in visitor.page("/schedule/publish")
    page = visitor.page("/schedule/trial")
    fields = {"csrf_token": csrf_of(page)}
    assert visitor.client.post("/schedule/trial", data=fields).status_code == 303
    until = time.monotonic() + 60
    while "They are living now" in (page := visitor.page("/schedule/trial")):
        assert time.monotonic() < until
        time.sleep(0.2)
    page = unescape(page)
    assert "As it stands" in page
    assert "Paid parts to each mother" in page
    assert page.count('scope="row"') > 20


def test_only_managers_try_drafts(ward: Ward, visit: Opening) -> None:
    visit("wairimu").page("/schedule/trial", status=403)

"""`dunnock gateway`: a profile tried on paper, and a text to ourselves through a stand-in over real HTTP."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from click.testing import CliRunner, Result
from flask import Flask

from bot import settings, wiring
from bot.cli import main
from bot.gateway.wire import shipped
from bot.store.intake import Intake
from bot.web.hooks import create_hooks
from tests.support.database import PHONE_KEY, SEAL_KEYS
from tests.support.standin import SECRET, TOKEN, running_standin, serving

PROVIDERS_PAGE = """\
HTTP/1.1 200 OK
Content-Type: application/json

{"texts": [{"id": 77, "status": "queued"}]}
"""


def dunnock(*arguments: str, given: str | None = None) -> Result:
    result = CliRunner().invoke(main, arguments, input=given)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.output
    return result


def test_every_shipped_profile_is_listed_with_what_it_is_for():
    listed = dunnock("gateway", "profiles").output
    assert all(name in listed for name in shipped())


@pytest.mark.parametrize("name", shipped())
def test_every_shipped_profile_can_be_tried_and_shows_no_secret(name):
    shown = dunnock("gateway", "try", name, "--example")
    assert shown.exit_code == 0
    assert "GSM-7" in shown.output
    assert "UCS-2" in shown.output
    assert "whsec_" not in shown.output


def test_what_a_providers_page_shows_is_read_as_the_profile_would():
    assert (
        "accepted; its name there is 77"
        in dunnock("gateway", "try", "batch", "--answer", "-", given=PROVIDERS_PAGE).output
    )
    refused = '{"texts": [{"status": "rejected"}]}'
    assert "this text is refused" in dunnock("gateway", "try", "batch", "--answer", "-", given=refused).output
    reply = '{"items": [{"id": 1, "from": "447700900123", "body": "8", "at_ms": 1772355600000}]}'
    read = dunnock("gateway", "try", "batch", "--reply", "-", given=reply).output
    assert "+447700900123" in read
    assert "2026-03-01T09:00:00+00:00" in read
    receipt = "https://host/hooks/x/receipts?ref=m-1&state=1"
    assert (
        "the text m-1 is delivered"
        in dunnock("gateway", "try", "query", "--receipt", "-", given=receipt).output
    )
    assert "can't be read" in dunnock("gateway", "try", "query", "--receipt", "-", given="hello").output


def test_the_profile_that_the_readme_writes_reads_what_its_provider_says(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    readme = (Path(__file__).parents[2] / "README.md").read_text("utf-8")
    written = readme[
        readme.index('    about = "Our provider"') : readme.index("`dunnock gateway try ./ours.toml")
    ]
    Path("ours.toml").write_text("\n".join(line[4:] for line in written.splitlines()), "utf-8")

    def tried(what: str, pasted: str) -> str:
        return dunnock("gateway", "try", "./ours.toml", what, "-", given=pasted).output

    assert '"recipient": "447700900123"' in dunnock("gateway", "try", "./ours.toml", "--example").output
    assert "its name there is 93" in tried("--answer", '201 {"ok": true, "tid": 93}')
    assert "the number is refused" in tried("--answer", '200 {"ok": false, "error": "bad recipient"}')
    assert "2026-03-01" in tried("--reply", "/h?msisdn=447700900123&body=8&ts=1772355600&mid=7")
    assert "the text 93 is undelivered" in tried("--receipt", "/h?tid=93&status=FAILED")


def test_a_profile_of_our_own_is_a_file_and_its_faults_are_all_named(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("ours.toml").write_text('about = "x"\n[send]\nmethod = "SEND"\n[answers]\n', "utf-8")
    shown = dunnock("gateway", "try", "./ours.toml")
    assert shown.exit_code == 1
    assert "send.method" in shown.output
    assert "answers" in shown.output


@pytest.fixture
def served(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """A database, a stand-in, and our hooks; the address of the stand-in."""
    monkeypatch.setenv("DUNNOCK_DATABASE_URL", f"sqlite:///{tmp_path}/service.db")
    monkeypatch.setenv("DUNNOCK_SECRET_KEY", "s" * 40)
    monkeypatch.setenv("DUNNOCK_SEAL_KEYS", SEAL_KEYS)
    monkeypatch.setenv("DUNNOCK_PHONE_KEY", PHONE_KEY)
    monkeypatch.setenv("DUNNOCK_CONFIG", str(tmp_path / "gateways.toml"))
    app = Flask(__name__)
    with serving(app) as address, running_standin(f"{address}/hooks/main") as standin:
        (tmp_path / "gateways.toml").write_text(
            f'[gateways.main]\nurl = "{standin}/messages"\nnumber = "+447700900001"\n'
            f'token = "{TOKEN}"\nsecret = ["{SECRET}"]\n',
            "utf-8",
        )
        assert dunnock("init").exit_code == 0
        program = wiring.build(settings.load())
        intake = Intake(program.store)
        app.register_blueprint(create_hooks(intake, program.profiles, program.clock))
        yield standin
        intake.close()
        program.store.close()


def test_a_text_to_ourselves_tells_what_works(served):
    checked = dunnock("gateway", "check", "main", "--wait", "15")
    assert checked.exit_code == 0
    assert checked.output.count("works") == 3
    assert "letter by letter" in checked.output


def test_what_does_not_work_is_named(served):
    httpx.post(f"{served}/faults", json={"reports": False}, trust_env=False)
    silent = dunnock("gateway", "check", "main", "--wait", "2")
    assert silent.exit_code == 1
    assert "FAILS  reports what became of it: nothing came within 2 s" in silent.output
    httpx.post(f"{served}/faults", json={"deny": True}, trust_env=False)
    denied = dunnock("gateway", "check", "main", "--wait", "2")
    assert denied.exit_code == 1
    assert "FAILS  takes a text: denied" in denied.output


def test_a_gateway_that_nobody_named_is_answered_with_those_that_are(served):
    unknown = dunnock("gateway", "check", "mian")
    assert unknown.exit_code == 1
    assert "main" in unknown.output

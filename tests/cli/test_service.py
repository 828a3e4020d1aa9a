"""Commands on a database (SQLite; the steps behind them are tested on both engines)."""

from __future__ import annotations

import csv
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from bot import settings, wiring
from bot.cli import main
from bot.clock import machine_now
from bot.store.values import mark_as_demo
from tests.cli.test_lines import SITE
from tests.support.database import PHONE_KEY, SEAL_KEYS

COLUMNS = """external_id site mother_name mother_phone mother_language
baby_name baby_born_at baby_sex baby_birth_weight_g discharged_at consent"""


@pytest.fixture
def demo(service: Path) -> Path:
    """The same for a demo: numbers kept free for fiction are taken there, and only there."""
    with wiring.build(settings.load()).store.write() as conn:
        mark_as_demo(conn)
    return service


@pytest.fixture
def service(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A database that `init` has made, with one site; the folder it stands in."""
    monkeypatch.setenv("DUNNOCK_DATABASE_URL", f"sqlite:///{tmp_path}/service.db")
    monkeypatch.setenv("DUNNOCK_SECRET_KEY", "s" * 40)
    monkeypatch.setenv("DUNNOCK_SEAL_KEYS", SEAL_KEYS)
    monkeypatch.setenv("DUNNOCK_PHONE_KEY", PHONE_KEY)
    (tmp_path / "site.toml").write_text(SITE, "utf-8")
    assert dunnock("init", "--login", "first").exit_code == 0
    assert dunnock("site", "add", str(tmp_path / "site.toml")).exit_code == 0
    return tmp_path


def dunnock(*arguments: str) -> Result:
    result = CliRunner().invoke(main, arguments)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.output
    return result


def a_file(folder: Path, phones: list[str]) -> Path:
    now = machine_now().astimezone(UTC)
    path = folder / "mothers.csv"
    with path.open("w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file)
        rows.writerow(COLUMNS.split())
        for number, phone in enumerate(phones):
            born, home = now - timedelta(hours=40), now - timedelta(hours=1)
            baby = ("Idris", _minutes(born), "male", "3100")
            rows.writerow([f"L-{number}", "lakeside", "Amina", phone, "en", *baby, _minutes(home), "true"])
    return path


def _minutes(instant: datetime) -> str:
    return instant.isoformat(timespec="minutes")


def test_without_settings_every_missing_one_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("DATABASE_URL", "SECRET_KEY", "SEAL_KEYS", "PHONE_KEY"):
        monkeypatch.delenv(f"DUNNOCK_{name}", raising=False)
    result = dunnock("audit")
    assert result.exit_code == 1
    for name in ("DATABASE_URL", "SECRET_KEY", "SEAL_KEYS", "PHONE_KEY"):
        assert f"DUNNOCK_{name}" in result.output


def test_init_is_safe_to_repeat_and_a_site_is_added_once(service: Path) -> None:
    assert dunnock("init").exit_code == 0
    again = dunnock("site", "add", str(service / "site.toml"))
    assert again.exit_code == 1
    assert "lakeside" in again.output


def test_a_file_is_enrolled_whole_or_refused_with_reasons_and_safe_to_repeat(demo: Path) -> None:
    path = a_file(demo, ["+12025550123", "12"])
    result = dunnock("enrol", str(path))
    assert result.exit_code == 1
    assert "1 enrolled now" in result.output
    assert "line 3" in result.output
    assert "1 enrolled before" in dunnock("enrol", str(path)).output


def test_audit_proves_that_each_pair_has_an_owner(demo: Path) -> None:
    dunnock("enrol", str(a_file(demo, ["+12025550123"])))
    result = dunnock("audit")
    assert result.exit_code == 0
    assert "exactly one owner" in result.output


def test_staff_and_tokens_are_made_with_secrets_shown_once(service: Path) -> None:
    made = dunnock("staff", "add", "njeri", "--name", "Njeri", "--role", "counsellor", "--site", "lakeside")
    assert "shown once" in made.output
    assert dunnock("staff", "add", "njeri", "--name", "N", "--role", "lead", "--site", "all").exit_code == 1
    assert "shown once" in dunnock("token", "registry", "--site", "lakeside").output
    assert dunnock("token", "registry").exit_code == 1


def test_only_a_demo_has_a_clock_that_moves(service: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    config = service / "gateways.toml"
    config.write_text(
        '[gateways.here]\nurl = "http://127.0.0.1:9/m"\nnumber = "+447700900100"\ntoken = "t"\n'
        'secret = ["whsec_c2VjcmV0c2VjcmV0c2VjcmV0c2VjcmV0"]\n',
        "utf-8",
    )
    monkeypatch.setenv("DUNNOCK_CONFIG", str(config))
    refused = dunnock("clock", "forward", "36h")
    assert refused.exit_code == 1
    assert "demo" in refused.output
    assert dunnock("clock", "forward", "soon").exit_code == 1


def test_an_unknown_reply_has_no_walk(service: Path) -> None:
    assert dunnock("trace", "0199aaaa-0000-7000-8000-000000000000").exit_code == 1
    assert dunnock("trace", "nonsense").exit_code == 1


def test_numbers_kept_free_for_fiction_are_refused_where_mothers_are_real(service: Path) -> None:
    result = dunnock("enrol", str(a_file(service, ["+12025550123"])))
    assert result.exit_code == 1
    assert "fiction" in result.output


def test_a_language_is_signed_by_name_and_listed_so(service: Path) -> None:
    assert "a person reads every reply" in dunnock("language", "list").output
    who = ("--name", "Dr A. Invented", "--role", "paediatrician", "--registration", "R-1")
    assert dunnock("language", "sign", "ar", *who).exit_code == 0
    listed = dunnock("language", "list").output
    assert "signed by Dr A. Invented, paediatrician, R-1" in listed
    unknown = dunnock("language", "sign", "tlh", *who)
    assert unknown.exit_code == 1
    assert "Known: am" in unknown.output


def test_a_site_s_own_thresholds_are_proved_shown_and_withdrawn(service: Path) -> None:
    file = service / "overlay.toml"
    file.write_text(
        '[thrush]\nurgency = "off"\nreason = "Seen at every visit."\n'
        'source = "District protocol 2026, section 3"\n',
        "utf-8",
    )
    made = dunnock("overlay", "set", "lakeside", str(file), "--why", "The clinical lead.")
    assert made.exit_code == 0, made.output
    assert "total, monotone" in made.output
    assert "MILDER than the common rules: thrush." in made.output
    shown = dunnock("overlay", "show")
    assert "The clinical lead." in shown.output
    assert "thrush: urgency off. Seen at every visit. Source: District protocol" in shown.output
    checked = dunnock("check", "--sites")
    assert checked.exit_code == 0, checked.output
    assert "lakeside: Rules: total, monotone" in checked.output
    assert dunnock("overlay", "withdraw", "lakeside", "--why", "Back.").exit_code == 0
    assert dunnock("overlay", "show").output == "The common rules hold at every site.\n"
    again = dunnock("overlay", "withdraw", "lakeside", "--why", "Back.")
    assert again.exit_code == 1
    assert "The common rules hold at lakeside" in again.output


def test_what_is_in_force_can_be_lived_by_invented_mothers_beside_a_change(service: Path) -> None:
    done = dunnock(
        "simulate", "--mothers", "3", "--days", "4", "--processes", "1", "--in-force",
        "--without", "feeds-under-8", "--json",
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    found = json.loads(done.stdout)
    assert found["now"]["run"]["rules"] == found["changed"]["run"]["rules"] + 1
    assert found["now"]["inbox"]["by_rule"]["language_unsigned"]["raised"] > 0

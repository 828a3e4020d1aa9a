"""What a clinical lead signs, and that real mothers are taken only while it stands signed."""

from __future__ import annotations

from pathlib import Path

import pytest

from bot.content import pack as pack_module
from tests.cli.test_service import a_file, dunnock, service

__all__ = ["service"]  # a fixture

REAL_SHAPED = "+254712345678"  # refused or taken by its shape alone: nothing is sent in this test
SIGN = ("pack", "--sign", "--name", "Dr A. Invented", "--registration", "R-1")


def test_the_pack_holds_ages_rows_rules_with_their_source_and_every_text(service: Path) -> None:
    shown = dunnock("pack", "--language", "en").output
    assert "| 7 | 8 |" in shown  # WHO 2009 Model Chapter p.74: 8 or more feeds
    assert "| 5 | UK" not in shown
    assert "### feeds-3-or-fewer: go_now" in shown
    assert "WHO PSBI definitions 2015" in shown
    assert "(common practice)" in shown
    assert "### advice-go-now" in shown
    assert "**differs**" not in shown
    assert "Nobody has signed it" in shown
    for row in range(1, 114):
        assert f"| {row} |" in shown
    assert dunnock("pack", "--language", "xx").exit_code == 1


def test_real_numbers_are_refused_until_it_is_signed_and_after_every_change(
    service: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = a_file(service, [REAL_SHAPED])
    refused = dunnock("enrol", str(file))
    assert refused.exit_code == 1
    assert "until a clinical lead has signed" in refused.output

    assert dunnock("pack", "--sign", "--name", "Dr A. Invented").exit_code == 1
    assert dunnock(*SIGN).exit_code == 0
    assert "Signed by Dr A. Invented, clinical lead, R-1" in dunnock("pack", "--language", "en").output
    assert dunnock("enrol", str(file)).exit_code == 0

    monkeypatch.setattr(pack_module, "files_digest", lambda root=None: "another")
    changed = dunnock("enrol", str(a_file(service, [REAL_SHAPED, "+254712345679"])))
    assert "until a clinical lead has signed" in changed.output
    assert "Changed since Dr A. Invented signed" in dunnock("pack", "--language", "en").output


def test_an_overlay_of_a_site_makes_the_signature_stale(service: Path) -> None:
    assert dunnock(*SIGN).exit_code == 0
    overlay = service / "overlay.toml"
    overlay.write_text(
        '[thrush]\nurgency = "off"\nreason = "Seen daily."\nsource = "Protocol 2026, section 3"\n', "utf-8"
    )
    assert dunnock("overlay", "set", "lakeside", str(overlay), "--why", "The lead.").exit_code == 0
    shown = dunnock("pack", "--language", "en").output
    assert "Changed since" in shown
    assert "Not in force at lakeside: thrush." in shown

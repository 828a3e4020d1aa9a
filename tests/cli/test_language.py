"""`dunnock language`: signing a language with each of its texts, and what goes back into the files."""

from __future__ import annotations

import tomllib
from datetime import UTC, datetime
from pathlib import Path
from uuid import UUID

from bot import settings, wiring
from bot.steps.words import WORDS
from bot.store import editions
from tests.cli.test_service import dunnock, service

__all__ = ["service"]  # a fixture

WORDS_BY = UUID(int=7)
SIGNED = ("--name", "N. Example", "--role", "midwife", "--registration", "RM-1")


def test_signing_a_language_signs_its_words_and_each_of_its_texts(service: Path) -> None:
    assert "texts hi: 0 of" in dunnock("language", "list").output
    done = dunnock("language", "sign", "hi", *SIGNED)
    assert done.exit_code == 0
    assert "hi is signed by N. Example" in done.output
    listed = dunnock("language", "list").output
    assert "signed by N. Example, midwife, RM-1" in listed
    total = listed.split("texts hi: ")[1].split(" of ")[0]
    assert f"texts hi: {total} of {total} signed" in listed
    assert "texts hi-Latn: 0 of" in listed

    done = dunnock("language", "sign", "hi-Latn", *SIGNED)
    assert "texts are signed" in done.output
    assert "texts hi-Latn: 0 of" not in dunnock("language", "list").output
    assert dunnock("language", "sign", "am-Latn", *SIGNED).exit_code == 1
    assert (
        dunnock("language", "sign", "hi", "--name", " ", "--role", " ", "--registration", " ").exit_code == 1
    )

    here = dunnock("check", "--release", "--site")
    assert "NOT READY hi" not in here.output
    assert "NOT READY ur: words" in here.output

    catalog = dunnock("language", "texts", "hi").output
    assert catalog.count("# reviewed: N. Example, midwife, RM-1") > 100
    assert "# reviewed:" not in dunnock("language", "texts", "ur").output.split('msgid ""', 2)[2]


def test_approved_words_are_written_for_the_language_file(service: Path) -> None:
    assert "No words were approved" in dunnock("language", "words", "sw").output
    program = wiring.build(settings.load())
    now = datetime(2026, 3, 1, tzinfo=UTC)
    entry = {"phrase": "kichwamoto", "means": "sign.baby_hot", "by": str(WORDS_BY), "at": now.isoformat()}
    with program.store.write() as conn:
        body = {"words": [entry | {"proposal": str(WORDS_BY)}]}
        editions.publish(conn, WORDS, "sw", body, at=now, effective_from=now)
    written = tomllib.loads(dunnock("language", "words", "sw").output)
    assert written["sign"][0]["say"] == ["kichwamoto"]
    assert "words approved here: 1" in dunnock("language", "list").output
    assert dunnock("language", "words", "xx").exit_code == 1

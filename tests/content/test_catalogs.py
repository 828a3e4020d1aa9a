"""The catalogs of the texts: the files in locales/ are current, and an update loses and mixes up nothing."""

from __future__ import annotations

import gettext
import io
import shutil
import subprocess
from pathlib import Path

import pytest
from babel import Locale
from babel.messages.frontend import CommandLineInterface
from babel.messages.pofile import read_po

from bot.content.catalogs import PLURAL_FORMS, files, template, updated, written
from bot.content.languages import native
from bot.content.source import content_root
from bot.content.text_files import load_texts

ROOT = content_root()
CATALOGS = sorted((ROOT / "locales").glob("*/LC_MESSAGES/texts.po"))
LANGUAGES = [path.parts[-3] for path in CATALOGS]
TEXT = '[greeting]\ntext = "{english}"\nnote = "Said first."\n'


def checkout(folder: Path, english: str) -> Path:
    """A checkout with one text."""
    (folder / "messages/texts").mkdir(parents=True, exist_ok=True)
    (folder / "messages/texts/a.toml").write_text(TEXT.replace("{english}", english), "utf-8")
    return folder


def test_the_catalogs_are_what_the_command_would_write() -> None:
    stale = [path.name for path, body in files(ROOT).items() if path.read_bytes() != body]
    assert stale == [], "run: python -m bot.content.catalogs"


def test_babel_finds_the_same_texts_through_its_mapping_file(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.chdir(ROOT)
    found = tmp_path / "found.pot"
    options = ["-F", "locales/texts.toml", "-k", "pgettext:1c,2", "-o", str(found)]
    CommandLineInterface().run(["pybabel", "-q", "extract", *options, "."])  # type: ignore[no-untyped-call]
    with found.open("rb") as file:
        ours = {(m.context, m.id, tuple(m.locations)) for m in template(ROOT) if m.id}
        assert {(m.context, m.id, tuple(m.locations)) for m in read_po(file) if m.id} == ours


def test_every_text_stands_in_the_template_with_its_line() -> None:
    for message in template(ROOT):
        if message.id:
            [(name, number)] = message.locations
            line = (ROOT / name).read_text("utf-8").splitlines()[number - 1]
            assert line.startswith(("text = ", "neutral = "))
            assert message.auto_comments
    assert {(m.context or "").split(".")[0] for m in template(ROOT) if m.id} == set(load_texts(ROOT).keys)


# Unicode CLDR 47 plural rules, through Babel; the order of forms is CLDR's.
@pytest.mark.parametrize("path", CATALOGS, ids=LANGUAGES)
def test_the_plural_header_agrees_with_cldr(path: Path) -> None:
    rule = Locale.parse(path.parts[-3], sep="-").plural_form
    forms = [tag for tag in ("zero", "one", "two", "few", "many", "other") if tag in {*rule.tags, "other"}]
    header = next(line for line in path.read_text("utf-8").splitlines() if "Plural-Forms" in line)
    assert f"nplurals={len(forms)};" in header
    chosen = gettext.c2py(header.split("plural=", 1)[1].split(";")[0])
    assert [forms[chosen(n)] for n in range(250)] == [rule(n) for n in range(250)]


@pytest.mark.parametrize("path", CATALOGS, ids=LANGUAGES)
@pytest.mark.skipif(shutil.which("msgfmt") is None, reason="GNU gettext is missing: msgfmt -c did NOT run")
def test_gnu_gettext_accepts_the_catalog(path: Path) -> None:
    result = subprocess.run(
        ["msgfmt", "-c", "-o", "/dev/null", str(path)], capture_output=True, text=True, timeout=30
    )
    faults = [line for line in result.stderr.splitlines() if "header field" not in line]
    assert (result.returncode, faults) == (0, [])


def test_changed_english_keeps_the_old_words_marked_and_takes_the_signature_away(tmp_path: Path) -> None:
    first = updated("ar", None, template(checkout(tmp_path, "Hello")))
    entry = first.get("Hello", context="greeting")
    assert entry is not None
    entry.string = "مرحبا"
    entry.user_comments.append("reviewed: N. Example, midwife, 2026-11-01")
    kept = updated("ar", written(first, "ar"), template(tmp_path)).get("Hello", context="greeting")
    assert kept is not None
    assert (kept.string, kept.fuzzy, len(kept.user_comments)) == ("مرحبا", False, 1)

    changed = updated("ar", written(first, "ar"), template(checkout(tmp_path, "Good day")))
    again = updated("ar", written(changed, "ar"), template(tmp_path))
    for catalog in (changed, again):
        moved = catalog.get("Good day", context="greeting")
        assert moved is not None
        assert (moved.string, moved.fuzzy, moved.user_comments) == ("مرحبا", True, [])
    assert '#| msgid "Hello"' in written(changed, "ar").decode()


def test_a_new_text_never_takes_the_words_of_one_that_reads_like_it(tmp_path: Path) -> None:
    first = updated("ar", None, template(checkout(tmp_path, "How many feeds?")))
    entry = first.get("How many feeds?", context="greeting")
    assert entry is not None
    entry.string = "كم رضعة؟"
    body = checkout(tmp_path, "How many feeds?").joinpath("messages/texts/a.toml")
    body.write_text(body.read_text("utf-8") + '[other]\ntext = "How many feeds now?"\nnote = "x"\n', "utf-8")
    added = updated("ar", written(first, "ar"), template(tmp_path))
    new = added.get("How many feeds now?", context="other")
    assert new is not None
    assert new.string == ""


def test_writing_twice_gives_the_same_bytes() -> None:
    for path in CATALOGS:
        language = path.parts[-3]
        once = written(updated(language, path.read_bytes(), template(ROOT)), language)
        assert written(updated(language, once, template(ROOT)), language) == once
        assert f"nplurals={read_po(io.BytesIO(once)).num_plurals};" in PLURAL_FORMS[native(language)]

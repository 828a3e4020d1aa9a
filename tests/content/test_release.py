"""A language is ready when a named reviewer has signed its words and each of its texts, and not before."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from bot.content.catalogs import reviewed_catalog
from bot.content.check import not_ready
from bot.content.source import content_root
from bot.content.text_files import load_texts

BY = "N. Example, midwife, 2026-11-01"


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """English, and Hindi that somebody has signed whole: words, texts, texts in Latin letters."""
    copy = tmp_path_factory.mktemp("content")
    shutil.copytree(content_root() / "messages", copy / "messages")
    for path in (copy / "messages/lexicons").glob("*.toml"):
        if path.stem not in ("en", "hi"):
            path.unlink()
    hindi = copy / "messages/lexicons/hi.toml"
    body = hindi.read_text("utf-8").replace('reviewed_by = ""', 'reviewed_by = "N. Example, midwife"')
    hindi.write_text(body.replace('reviewed_on = ""', 'reviewed_on = "2026-11-01"'), "utf-8")
    for tag in ("hi", "hi-Latn"):
        shutil.copytree(content_root() / "locales" / tag, copy / "locales" / tag)
        path = copy / "locales" / tag / "LC_MESSAGES/texts.po"
        path.write_bytes(reviewed_catalog(copy, tag, dict.fromkeys(load_texts(copy).keys, BY)))
    return copy


def hindi_of(root: Path) -> list[str]:
    return [str(problem) for problem in not_ready(root) if problem.field.startswith("hi")]


def test_a_language_signed_whole_is_ready_and_english_is_not(root: Path) -> None:
    assert hindi_of(root) == []
    assert {problem.field for problem in not_ready(root)} == {"en: words", "en: texts"}
    assert load_texts(root).review("ask-feeds", "hi-Latn")[1] == BY


@pytest.mark.parametrize(
    ("file", "old", "new", "fault"),
    [
        (
            "messages/lexicons/hi.toml",
            'reviewed_on = "2026-11-01"',
            'reviewed_on = ""',
            "hi: words: nobody has",
        ),
        ("locales/hi/LC_MESSAGES/texts.po", f"# reviewed: {BY}\n", "", "hi: texts: 1 of"),
        ("locales/hi-Latn/LC_MESSAGES/texts.po", f"# reviewed: {BY}\n", "", "hi-Latn: texts: 1 of"),
        ("messages/texts/check_in.toml", "Hello {mother}. Since", "Hi {mother}. Since", "hi: texts: 1 of"),
    ],
    ids=["words", "a text", "a text in Latin letters", "changed English"],
)
def test_one_signature_less_or_one_change_is_enough(
    root: Path, file: str, old: str, new: str, fault: str
) -> None:
    path = root / file
    whole = path.read_text("utf-8")
    assert old in whole
    try:
        path.write_text(whole.replace(old, new, 1), "utf-8")
        assert any(said.startswith(fault) for said in hindi_of(root)), hindi_of(root)
    finally:
        path.write_text(whole, "utf-8")


def test_what_was_signed_in_an_installation_counts_where_it_is_asked_for(root: Path) -> None:
    assert not_ready(root, {"en"}, lambda key, tag: True) == []
    assert [each.field for each in not_ready(root, {"en"}, lambda key, tag: key != "ask-feeds")] == [
        "en: texts", "hi: texts", "hi-Latn: texts",
    ]  # fmt: skip

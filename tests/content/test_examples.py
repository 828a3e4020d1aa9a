"""What texts tell her to write is understood in her language, and the check notices where it is not."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from bot.content.check_examples import check_examples
from bot.content.factory import load_factory
from bot.content.texts import Entry, Status, Texts, Translation

FACTORY = load_factory()


def found(key: str, words: str, language: str = "ar") -> list[str]:
    entry = Entry(text="English words", note="for a test")
    catalogs: Mapping[str, Mapping[str, Translation]] = {
        language: {key: Translation(words, Status.unreviewed)}
    }
    return [str(fault) for fault in check_examples(Texts({key: entry}, catalogs), FACTORY.lexicons)]


def test_everything_that_ships_is_understood():
    assert list(check_examples(FACTORY.texts, FACTORY.lexicons)) == []


@pytest.mark.parametrize(
    ("key", "words", "fault"),
    [
        ("ask-feeds", "كم مرة؟ مثلا 99", "shows 99 as an answer"),
        ("ask-pain-twins", "من 0 إلى 12", "shows 12 as an answer"),
        ("opt-out-done", "لن تصلك رسائل. أجيبي بكلمة قمر", "shows no words that begin"),
        ("opt-in-done", "ستصلك رسائل. أجيبي بكلمة قمر", "shows no words that end"),
    ],
)
def test_a_text_that_shows_what_the_reader_does_not_take_is_named(key, words, fault):
    assert any(fault in each for each in found(key, words))


def test_what_is_no_answer_is_left_alone():
    assert found("ask-worry", "في آخر 24 ساعة؟ أجيبي 0 أو 1") == []

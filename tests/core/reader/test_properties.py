"""What must hold for any text at all."""

from __future__ import annotations

import sys
import unicodedata
from typing import Literal

import pytest
import regex
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.content.factory import load_factory
from bot.content.lexicon import load_lexicons
from bot.content.source import content_root
from bot.core.reader import RETRIABLE, Reading, Reason, read
from bot.core.reader.report import from_json, to_json
from bot.core.reader.scan import scan
from tests.support.reading import reading_of

LEXICONS = load_factory().lexicons
LANGUAGES = st.sampled_from(sorted(LEXICONS))
QUESTIONS = st.lists(
    st.sampled_from(
        ["feeds", "wet_nappies", "pain", "other_food", "worry", "baby_danger", "mother_danger", "no such"]
    ),
    max_size=3,
    unique=True,
).map(" ".join)
WORDS = st.sampled_from(
    [w for lexicon in LEXICONS.values() for w in sorted(lexicon.symbols)]
    + [*"0123456789", "8-10", "?", ".", ",", "\n", "no", "not", "if", "38.5", "٨", "½", "2 1/2", "1)", "STOP"]
)
TEXTS = st.one_of(st.text(max_size=2000), st.lists(WORDS, max_size=25).map(" ".join))
DANGERS = [
    ("en", "The baby is having convulsions", "convulsions"),
    ("en", "My baby is very hot", "baby_hot"),
    ("ar", "البيبي عنده تشنجات", "convulsions"),
    ("ar", "ابني سخن نار", "baby_hot"),
]


@settings(max_examples=300, deadline=None)
@given(TEXTS, QUESTIONS, LANGUAGES)
def test_reading_never_raises_and_is_whole(text: str, asking: str, language: str) -> None:
    reading = reading_of(text, *asking.split(), language=language)
    assert reading.needs_person == bool(reading.reasons)
    assert list(reading.danger_signs) == sorted(set(reading.danger_signs))
    assert all(0 <= m.start < m.end <= len(text) for m in reading.matches)
    assert from_json(to_json(reading)) == reading


@settings(max_examples=200, deadline=None)
@given(TEXTS, QUESTIONS, LANGUAGES)
def test_composed_and_decomposed_letters_read_the_same(text: str, asking: str, language: str) -> None:
    def core(form: Literal["NFC", "NFD"]) -> Reading:
        return reading_of(unicodedata.normalize(form, text)[:2000], *asking.split(), language=language)

    if len(unicodedata.normalize("NFD", text)) > 2000:
        return
    composed, decomposed = core("NFC"), core("NFD")
    assert composed.answers == decomposed.answers
    assert composed.danger_signs == decomposed.danger_signs
    assert composed.reasons == decomposed.reasons
    assert composed.intent == decomposed.intent


@settings(max_examples=200, deadline=None)
@given(TEXTS, QUESTIONS, st.sampled_from(DANGERS))
def test_a_danger_added_as_a_sentence_is_always_heard(
    text: str, asking: str, danger: tuple[str, str, str]
) -> None:
    language, phrase, sign = danger
    reading = reading_of(f"{text}. {phrase}.", *asking.split(), language=language)
    assert sign in reading.danger_signs
    assert reading.needs_person


@pytest.mark.parametrize("language", ["en", "ar"])
def test_the_work_grows_no_faster_than_the_text(language: str) -> None:
    text = "no he is not very hot but if the baby has a bad fever ما عنده حرارة ولا تشنج "
    lengths = [len(scan(text * n, LEXICONS[language]).found) for n in (5, 10, 20)]
    assert lengths[2] - lengths[1] <= 2 * (lengths[1] - lengths[0]) + 1


def test_what_one_language_makes_of_a_word_is_nothing_to_another() -> None:
    """The English phrases stand behind all, but a word such as 'no' need not stand for the same."""
    texts = ["no latch", "no suck", "baby no open mouth", "no le doy latch", "hai fever hot"]
    for code in LEXICONS:
        new = load_lexicons(content_root() / "messages")
        alone = [read(text, ["worry"], 3, new[code]) for text in texts]
        among = load_lexicons(content_root() / "messages")
        for other in among:
            found = [read(text, ["worry"], 3, among[other]) for text in texts]
            assert other != code or found == alone


def test_retriable_reasons_are_those_that_a_simpler_question_may_settle() -> None:
    assert Reason.VAGUE in RETRIABLE
    assert Reason.DANGER_SIGN not in RETRIABLE
    assert set(reading_of("a few times").reasons) <= RETRIABLE


def test_no_digit_or_fraction_of_any_script_makes_it_fail() -> None:
    """`regex` knows newer scripts than this Python does; what has no value here is no number."""
    signs = [chr(at) for at in range(sys.maxunicode + 1) if regex.match(r"\p{N}", chr(at))]
    assert len(signs) > 1000
    for sign in signs:
        for text in (sign, f"8{sign}", f"{sign}8", f"{sign}.{sign}", f"8/{sign}"):
            reading_of(text, "feeds")

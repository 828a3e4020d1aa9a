"""Words of another script typed in Latin letters. Common practice, no source; the Arabic is not reviewed."""

from __future__ import annotations

import pytest

from bot.core.reader.sounds import Sounds
from tests.support.reading import bounds_of, reading_of

TYPED = {
    "ا": ["a", "e", "^i"], "ب": ["b"], "ت": ["t"], "ح": ["7", "h"], "ر": ["r"], "ن": ["n"], "ش": ["sh"],
    "ه": ["h", "a$", "o$", "$"], "س": ["s"], "ص": ["s"], "خ": ["kh", "5"], "ي": ["y", "i"], "ز": ["z"],
    "ف": ["f"], "ظ": ["z"], "ل": ["l"],
}  # fmt: skip
WORDS = ["حراره", "سخن", "نزيف", "نظيف", "بنت", "اسخن"]


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("7arara", ["حراره"]),
        ("hararah", ["حراره"]),
        ("7arrara", ["حراره"]),
        ("el7arara", ["حراره"]),
        ("so5n", ["سخن"]),
        ("sokhn", ["سخن"]),
        ("isokhn", ["اسخن"]),
        ("nazif", ["نزيف", "نظيف"]),
        ("bent", ["بنت"]),
        ("bantshen", []),
        ("bn", []),
        ("", []),
    ],
)
def test_a_word_is_known_by_its_sound(typed: str, meant: list[str]) -> None:
    sounds = Sounds(TYPED)
    sounds.add(WORDS, ["ال"])
    assert sounds.meant(typed) == meant


def test_a_number_and_a_danger_are_heard_in_latin_letters_that_no_list_holds() -> None:
    reading = reading_of("tamaniyyah marrat bas 3andoh s5oniyya", "feeds", language="ar")
    assert (bounds_of(reading, "feeds"), reading.danger_signs) == ((8, 8), ("baby_hot",))


@pytest.mark.parametrize("text", ["5ml", "9 feeds 3 wet"])
def test_a_digit_before_a_word_that_stands_alone_stays_a_digit(text: str) -> None:
    assert not reading_of(text, "feeds", language="ar").danger_signs

"""Folding: what people write in several ways and mean as one, by script. Common practice, no source."""

from __future__ import annotations

import pytest

from bot.core.reader.text import fold, fold_words
from tests.support.reading import bounds_of, reading_of

SAME = [
    ("ሕፃን", "ህጻን"),
    ("ኃይል", "ሀይል"),
    ("ሃኪም", "ሐኪም"),
    ("ሠላም", "ሰላም"),
    ("ዓይን", "አይን"),
    ("ነዉ", "ነው"),
    ("पाँच", "पांच"),
    ("साढ़े", "साढे"),
    ("ज़्यादा", "ज्यादा"),
    ("পাঁচ", "পাচ"),
    ("উৎসব", "উত্সব"),
    ("کیا", "كيا"),
    ("ہاں", "هان"),
    ("ﺣﺮﺍﺭﺓ", "حرارة"),
]


@pytest.mark.parametrize(("written", "meant"), SAME)
def test_letters_written_in_several_ways_are_one(written: str, meant: str) -> None:
    assert fold_words(written) == fold_words(meant)


@pytest.mark.parametrize(
    ("text", "folded"),
    [("፰፡፡፮", "፰.፮"), ("አዎ።", "አዎ."), ("፰፣፮", "፰,፮"), ("ደህና፡ነው", "ደህና ነው"), ("ለምን፧", "ለምን?")],
)
def test_ethiopic_punctuation_is_punctuation(text: str, folded: str) -> None:
    result = fold(text)
    assert result.text == folded
    assert result.ends[-1] == len(text)
    assert len(result.starts) == len(result.ends) == len(folded)


@pytest.mark.parametrize(("text", "number"), [("፲፪", 12), ("፳፩", 21), ("፲", 10), ("፰", 8), ("፲፪ ጊዜ", 12)])
def test_ethiopic_numbers_add_up(text: str, number: float) -> None:
    assert bounds_of(reading_of(text, "feeds", language="am"), "feeds") == (number, number)


def test_two_ethiopic_digits_are_two_answers() -> None:
    reading = reading_of("፰፮", "feeds", "wet_nappies", language="am")
    assert (bounds_of(reading, "feeds"), bounds_of(reading, "wet_nappies")) == ((8, 8), (6, 6))

"""Times of day in replies, by clocks that count from six: none is an answer to how many. That such times are
told so is common knowledge of both languages; the phrases are from memory."""

from __future__ import annotations

import pytest

from bot.core.reader import Amount
from tests.support.reading import reading_of


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("sw", "saa mbili asubuhi"),
        ("sw", "alinyonya saa tatu"),
        ("sw", "nitakuja saa nne"),
        ("sw", "saa 2"),
        ("am", "ሁለት ሰዓት"),
        ("am", "ጠዋት ሁለት ሰዓት ላይ"),
        ("am", "2 ሰዓት"),
    ],
)
def test_a_time_by_itself_is_no_count_and_a_person_or_a_second_question_settles_it(
    language: str, text: str
) -> None:
    found = reading_of(text, "feeds", language=language)
    assert found.answers == {}
    assert found.needs_person


@pytest.mark.parametrize(
    ("language", "text"),
    [("sw", "mara 8, mara ya mwisho saa mbili usiku"), ("am", "8 ጊዜ, የመጨረሻው ሦስት ሰዓት")],
)
def test_a_time_beside_a_count_does_not_change_it(language: str, text: str) -> None:
    assert reading_of(text, "feeds", language=language).answers == {"feeds": Amount(8, 8)}


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("en", "2am 4am 7am 9am 12 2pm"),
        ("en", "at 6, 9 and 12"),
        ("id", "jam 6, 9, 12"),
        ("ha", "da karfe shida na safe, karfe tara, da sha biyu"),
    ],
)
def test_a_bare_number_in_a_list_of_times_is_a_time(language: str, text: str) -> None:
    reading = reading_of(text, "feeds", language=language)
    assert ("feeds" not in reading.answers, reading.needs_person) == (True, True)


def test_a_count_beside_a_list_of_times_stays_a_count() -> None:
    assert reading_of("8 times, at 6, 9 and 12", "feeds").answers["feeds"] == Amount(8, 8)

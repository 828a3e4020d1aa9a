"""The languages of mothers: their names, how they are asked for, and clocks that count from six."""

from __future__ import annotations

from datetime import time

import pytest

from bot.content.languages import load_languages
from bot.content.source import content_root
from bot.core.errors import Invalid

LANGUAGES = load_languages(content_root() / "messages")


@pytest.mark.parametrize(
    ("code", "at", "said"),
    [
        # 8:00 is saa mbili (two) asubuhi and two in the morning of the Amharic clock: several public sources.
        ("sw", time(8), "08:00 (saa 2 asubuhi)"),
        ("am", time(8), "08:00 (ከጠዋቱ 2 ሰዓት)"),
        ("sw", time(9, 30), "09:30 (saa 3:30 asubuhi)"),
        ("sw", time(12), "12:00 (saa 6 mchana)"),
        ("sw", time(13), "13:00 (saa 7 mchana)"),
        ("sw", time(18), "18:00 (saa 12 jioni)"),
        ("sw", time(19), "19:00 (saa 1 usiku)"),
        ("sw", time(0), "00:00 (saa 6 usiku)"),
        ("am", time(6), "06:00 (ከጠዋቱ 12 ሰዓት)"),
        ("am", time(14), "14:00 (ከቀኑ 8 ሰዓት)"),
    ],
)
def test_a_clock_that_counts_from_six_shows_both_counts(code, at, said):
    clock = LANGUAGES[code].clock
    assert clock is not None
    assert clock.say(at, f"{at:%H:%M}") == said


TWO = """
[aa]
name = "A"
english = "A"
asked_as = ["x"]
[bb]
name = "B"
english = "B"
asked_as = ["x"]
"""


def test_the_same_words_ask_for_one_language_only(tmp_path):
    (tmp_path / "languages.toml").write_text(TWO, "utf-8")
    with pytest.raises(Invalid, match="asks for aa already"):
        load_languages(tmp_path)


def test_every_fault_of_the_file_is_named(tmp_path):
    (tmp_path / "languages.toml").write_text(TWO + '[cc]\nname = "C"\ncolour = 1\n', "utf-8")
    with pytest.raises(Invalid) as refused:
        load_languages(tmp_path)
    places = {problem.field for problem in refused.value.problems}
    assert {f"languages.toml: cc.{name}" for name in ("english", "asked_as", "colour")} <= places

"""'Reply 0 for no, 1 for yes' stands in the texts, so a bare figure answers a question of that kind."""

from __future__ import annotations

import pytest

from bot.content.lexicon import load_lexicons
from bot.content.source import content_root
from bot.core.reader import Intent, read

LEXICONS = load_lexicons(content_root() / "messages")


@pytest.mark.parametrize("question", ["worry", "other_food", "review_coming"])
@pytest.mark.parametrize("language", ["en", "ar"])
@pytest.mark.parametrize(
    ("text", "truth"), [("0", False), ("1", True), ("٠", False), ("١", True), (" 0 ", False)]
)
def test_nought_is_no_and_one_is_yes(question: str, language: str, text: str, truth: bool) -> None:
    reading = read(text, [question], 3, LEXICONS[language])
    assert reading.intent is Intent.ANSWER
    assert reading.answers == {question: truth}


@pytest.mark.parametrize("text", ["2", "10", "0 or 1", "0-1", "100"])
def test_any_other_figure_is_no_answer_to_yes_or_no(text: str) -> None:
    assert "worry" not in read(text, ["worry"], 3, LEXICONS["en"]).answers

"""Readings of invented replies, by the words that ship with the program."""

from __future__ import annotations

from bot.content.factory import load_factory
from bot.core.reader import Amount, Reading, read


def reading_of(text: str, *asking: str, language: str = "en") -> Reading:
    """Read one reply while these questions are open, in the order asked."""
    return read(text, asking, 5, load_factory().lexicons[language])


def bounds_of(reading: Reading, question: str) -> tuple[float | None, float | None] | bool | None:
    """What was understood for a question: (low, high), yes or no, or None."""
    answer = reading.answers.get(question)
    return (answer.low, answer.high) if isinstance(answer, Amount) else answer

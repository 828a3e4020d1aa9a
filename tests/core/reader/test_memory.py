"""What was read before changes nothing: languages share the automaton of English, and the same word stands
for other things in each."""

from __future__ import annotations

from bot.core.reader.phrases import Builder, Found, parse


def test_a_word_that_means_something_else_in_another_language_is_not_taken_from_memory():
    phrases = Builder()
    phrases.add(parse("<not> hot", {"not": ["no"]}), "denied")
    shared = phrases.build()
    denies, means_else = ("no", ("<not>",)), ("no", ("no",))
    hot = ("hot", ("hot",))
    assert shared.find([denies, hot]) == [Found(0, 2, "denied")]
    assert shared.find([means_else, hot]) == []
    assert shared.find([denies, hot]) == [Found(0, 2, "denied")]

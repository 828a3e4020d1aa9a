"""A compiled Lexicon as plain JSON and back, so that a language need not be compiled at every start.

What English holds too is left out: it stands behind every other language. Reading it back runs nothing.
"""

from array import array
from base64 import b64decode, b64encode
from collections.abc import Mapping
from typing import Any

from bot.core.reader.lexicon import Lexicon, Question
from bot.core.reader.phrases import Automaton

_PLAIN = (
    "language",
    "reviewed_by",
    "reviewed_on",
    "about",
    "unsure_after",
    "typed",
    "only_after",
    "units_before_tens",
    "pairs_are_ranges",
)
_NUMBERS = ("numbers", "tens", "sounds_like")
_SETS = ("lasting", "whoever", "splittable", "guessed_numbers")
_ROWS = ("joined_before", "dropped_before", "dropped_after", "around")
_ARRAYS = ("symbols", "follows", "begins", "members", "first")


def pack(lexicon: Lexicon) -> dict[str, Any]:
    """Everything but the questions and English."""
    behind = lexicon.fallback
    automaton = lexicon.automata[0]
    packed: dict[str, Any] = {name: getattr(lexicon, name) for name in (*_PLAIN, *_NUMBERS, *_ROWS)}
    for name in _SETS:
        packed[name] = sorted(getattr(lexicon, name) - (getattr(behind, name) if behind else frozenset()))
    packed["not_english"] = lexicon.not_english
    packed["own_words"] = sorted(lexicon.own_words)
    packed["keywords"] = {name: sorted(words) for name, words in lexicon.keywords.items()}
    symbols = _own(lexicon.symbols, behind.symbols if behind else {})
    packed["alone"] = sorted(word for word, stands_for in symbols.items() if stands_for == (word,))
    packed["symbols"] = {word: found for word, found in symbols.items() if found != (word,)}
    packed["beginnings"] = _own(lexicon.beginnings, behind.beginnings if behind else {})
    packed["guessable"] = _own(lexicon.guessable, behind.guessable if behind else {})
    packed["names"] = automaton.names
    packed["automaton"] = {name: _text(getattr(automaton, name)) for name in _ARRAYS}
    return packed


def unpack(packed: Mapping[str, Any], questions: Mapping[str, Question], fallback: Lexicon | None) -> Lexicon:
    """What `pack` was given. Raises KeyError, TypeError or ValueError on anything else."""
    given: dict[str, Any] = {name: packed[name] for name in (*_PLAIN, *_NUMBERS)}
    given |= {name: tuple(packed[name]) for name in _ROWS}
    for name in _SETS:
        given[name] = frozenset(packed[name]) | (getattr(fallback, name) if fallback else frozenset())
    given["around"] = tuple(map(tuple, packed["around"]))
    given["not_english"] = {word: tuple(found) for word, found in packed["not_english"].items()}
    given["own_words"] = frozenset(packed["own_words"])
    given["keywords"] = {name: frozenset(words) for name, words in packed["keywords"].items()}
    for name in ("symbols", "beginnings", "guessable"):
        own = {word: tuple(found) for word, found in packed[name].items()}
        given[name] = {**(getattr(fallback, name) if fallback else {}), **own}
    given["symbols"].update((word, (word,)) for word in packed["alone"])
    arrays = {name: _array(packed["automaton"][name]) for name in _ARRAYS}
    automaton = Automaton(names=tuple(packed["names"]), **arrays)
    automata = (automaton, *(fallback.automata if fallback else ()))
    return Lexicon(questions=questions, automata=automata, fallback=fallback, **given)


def _own(
    all_of: Mapping[str, tuple[str, ...]], behind: Mapping[str, tuple[str, ...]]
) -> dict[str, tuple[str, ...]]:
    return {word: found for word, found in all_of.items() if behind.get(word) != found}


def _text(numbers: "array[int]") -> str:
    return b64encode(numbers.tobytes()).decode("ascii")


def _array(text: str) -> "array[int]":
    numbers = array("I")
    numbers.frombytes(b64decode(text, validate=True))
    return numbers

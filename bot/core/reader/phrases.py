"""Phrases of a language, written by its speakers, matched word by word in one pass.

In goes a list of phrases in a small notation, out comes an automaton over words:

    baby is hot            these words in this order
    (hot|burning up)       one of these
    very?                  may be missing, also after a bracket: (at all)?
    <baby>                 any word or phrase of the list [words] baby
    convuls*               any word that begins so
    ..2                    up to two words of any kind
    <n>                    any number

Matching is by states made on first use and kept, so the time is linear in the number of words: a phrase has
no loops, and from each word the automaton looks no further than its longest phrase.
"""

from array import array
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import accumulate
from typing import NamedTuple

import regex

from bot.core.reader.text import fold_words

ANY = "\0any"
_FINAL = "\1"  # before the label of a final node
_NOWHERE: frozenset[int] = frozenset()
NUMBER = "<n>"
_PIECE = regex.compile(
    r"\s*(?:(?P<gap>\.\.[1-9])|(?P<list><[a-z_]+>)|(?P<sign>[()|?])|(?P<word>[^\s()|?<>]+))"
)
_RUN_ON = regex.compile(r"[?*][\p{L}\p{M}]")
_SEVERAL = regex.compile(r"[ ()|?<>]")
_MOST_STATES = 50_000


class PhraseError(ValueError):
    """A phrase that cannot be read; says which and why."""


class Found(NamedTuple):
    """A phrase found from word `start` up to, not including, word `end`."""

    start: int
    end: int
    label: str


# A phrase as a tree: ("word", symbol), ("seq", parts), ("alt", parts), ("opt", part).
Tree = tuple[str, object]


def parse(phrase: str, lists: Mapping[str, Sequence[str]], _depth: int = 0) -> Tree:
    """Read one phrase. `lists` gives the members of each <list>; raises PhraseError."""
    if _depth > 4:
        raise PhraseError(f"'{phrase}': lists name each other in a circle")
    pieces = list(_pieces(phrase))
    tree, rest = _alternatives(pieces, 0, phrase, lists, _depth)
    if rest != len(pieces):
        raise PhraseError(f"'{phrase}': a bracket is closed that was not opened")
    return tree


def _pieces(phrase: str) -> Iterable[tuple[str, str]]:
    at = 0
    text = phrase.strip()
    if _RUN_ON.search(text):
        raise PhraseError(f"'{phrase}': after '?' and '*', which end a word, a space is missing")
    while at < len(text):
        m = _PIECE.match(text, at)
        if not m or m.end() == at:
            raise PhraseError(f"'{phrase}': cannot read '{text[at:]}'")
        yield str(m.lastgroup), m.group(str(m.lastgroup))
        at = m.end()


def _alternatives(
    pieces: list[tuple[str, str]], at: int, phrase: str, lists: Mapping[str, Sequence[str]], depth: int
) -> tuple[Tree, int]:
    choices: list[Tree] = []
    parts: list[Tree] = []
    while at < len(pieces) and pieces[at] != ("sign", ")"):
        kind, text = pieces[at]
        at += 1
        if (kind, text) == ("sign", "|"):
            choices.append(("seq", parts))
            parts = []
        elif (kind, text) == ("sign", "?"):
            if not parts:
                raise PhraseError(f"'{phrase}': '?' follows nothing")
            parts[-1] = ("opt", parts[-1])
        elif (kind, text) == ("sign", "("):
            inner, at = _alternatives(pieces, at, phrase, lists, depth)
            if at >= len(pieces):
                raise PhraseError(f"'{phrase}': a bracket is not closed")
            at += 1
            parts.append(inner)
        else:
            parts.append(_leaf(kind, text, phrase, lists, depth))
    choices.append(("seq", parts))
    if any(not part for _, part in choices):
        raise PhraseError(f"'{phrase}': an empty alternative; write '?' for words that may be missing")
    return (choices[0] if len(choices) == 1 else ("alt", choices)), at


def _leaf(kind: str, text: str, phrase: str, lists: Mapping[str, Sequence[str]], depth: int) -> Tree:
    if kind == "gap":
        tree: Tree = ("opt", ("word", ANY))
        for _ in range(int(text[2:]) - 1):
            tree = ("opt", ("seq", [("word", ANY), tree]))
        return tree
    if kind == "word":
        words = _folded(text)
        return ("seq", [("word", w) for w in words]) if len(words) > 1 else ("word", "".join(words))
    if text == NUMBER:
        return ("word", NUMBER)
    if text[1:-1] not in lists:
        raise PhraseError(f"'{phrase}': there is no list {text}")
    # One-word members are matched by the name of the list, which every language may add to.
    longer = [parse(m, lists, depth + 1) for m in lists[text[1:-1]] if not is_one_word(m)]
    return ("alt", [("word", text), *longer]) if longer else ("word", text)


def is_one_word(phrase: str) -> bool:
    """Whether a member of a list is a plain word, with or without a final *."""
    return _SEVERAL.search(phrase) is None and len(_folded(phrase)) == 1


@lru_cache(maxsize=1 << 16)  # most words stand in many phrases
def _folded(text: str) -> tuple[str, ...]:
    return tuple(fold_words(text).split())


class _State:
    """A set of places in the phrases; `moves` fills up as words are met."""

    __slots__ = ("by_symbol", "labels", "moves")

    def __init__(self, by_symbol: dict[str, list[int]], labels: tuple[str, ...]):
        self.by_symbol = by_symbol
        self.labels = labels
        # By what a word can stand for, not by the word: languages share the automaton of English, and the
        # same word stands for other things in each.
        self.moves: dict[tuple[str, ...], _State | None] = {}


@dataclass(slots=True)
class Builder:
    """Phrases on their way into an automaton. Nodes from which the same follows are kept once."""

    words: set[str] = field(default_factory=set)  # every word some phrase names
    beginnings: set[str] = field(default_factory=set)  # every 'begin*'
    _nodes: dict[tuple[str, frozenset[int]], int] = field(default_factory=dict)
    _first: set[int] = field(default_factory=set)

    def add(self, tree: Tree, label: str) -> None:
        """Add one parsed phrase; label is what finding it means."""
        final = self._node(_FINAL + label, _NOWHERE)
        first = self._enter(tree, frozenset({final}))
        if final in first:
            raise PhraseError(f"a phrase for {label} may be empty: it would match everywhere")
        self._first |= first

    def _node(self, symbol: str, follow: frozenset[int]) -> int:
        return self._nodes.setdefault((symbol, follow), len(self._nodes))

    def _enter(self, tree: Tree, follow: frozenset[int]) -> frozenset[int]:
        """The nodes at which `tree` begins, when `follow` comes after it."""
        kind, part = tree
        if kind == "word":
            return frozenset({self._node(self._known(str(part)), follow)})
        if kind == "opt":
            return self._enter(part, follow) | follow  # type: ignore[arg-type]
        if kind == "alt":
            return frozenset().union(*(self._enter(p, follow) for p in part))  # type: ignore[attr-defined]
        for p in reversed(part):  # type: ignore[call-overload]
            follow = self._enter(p, follow)
        return follow

    def _known(self, symbol: str) -> str:
        if symbol.endswith("*"):
            self.beginnings.add(symbol[:-1])
        elif symbol != ANY and not symbol.startswith("<"):
            self.words.add(symbol)
        return symbol

    def build(self) -> "Automaton":
        """Everything added so far, in the flat form that is matched and kept."""
        names = {symbol: n for n, symbol in enumerate(dict.fromkeys(symbol for symbol, _ in self._nodes))}
        sets = {follow: n for n, follow in enumerate(dict.fromkeys(follow for _, follow in self._nodes))}
        begins = array("I", [0, *accumulate(map(len, sets))])
        return Automaton(
            names=tuple(names),
            symbols=array("I", (names[symbol] for symbol, _ in self._nodes)),
            follows=array("I", (sets[follow] for _, follow in self._nodes)),
            begins=begins,
            members=array("I", (node for follow in sets for node in sorted(follow))),
            first=array("I", sorted(self._first)),
        )


@dataclass(slots=True)
class Automaton:
    """All phrases of one language. Reading changes only its memory of states, never what it matches.

    names     every symbol, and every label behind a mark
    symbols   of each node: the place in `names` of what leads out of it, or of the label found there
    follows   of each node: the number of the set of nodes after it
    begins    of each set: where it begins in `members`; one more at the end
    first     the nodes at which phrases begin
    """

    names: tuple[str, ...]
    symbols: "array[int]"
    follows: "array[int]"
    begins: "array[int]"
    members: "array[int]"
    first: "array[int]"
    _start: _State | None = field(default=None, init=False)
    _states: dict[frozenset[int], _State] = field(default_factory=dict, init=False)

    def find(self, words: Sequence[tuple[str, tuple[str, ...]]]) -> list[Found]:
        """Every phrase in a row of (key, symbols of that word); a word with key '' ends all phrases."""
        if self._start is None:
            self._start = self._made(self.first)
        found: list[Found] = []
        count = len(words)
        for at in range(count):
            state: _State | None = self._start
            here = at
            while here < count:
                key, symbols = words[here]
                if not key:
                    break
                assert state is not None
                before = state
                try:
                    state = before.moves[symbols]
                except KeyError:
                    state = self._move(before, symbols)
                if state is None:
                    break
                here += 1
                for label in state.labels:
                    found.append(Found(at, here, label))
        return found

    def _move(self, state: _State, symbols: tuple[str, ...]) -> _State | None:
        sets = {self.follows[node] for symbol in {*symbols, ANY} for node in state.by_symbol.get(symbol, ())}
        following = frozenset(n for s in sets for n in self.members[self.begins[s] : self.begins[s + 1]])
        result = self._state(following) if following else None
        if len(state.moves) < _MOST_STATES:
            state.moves[symbols] = result
        return result

    def _state(self, nodes: frozenset[int]) -> _State:
        state = self._states.get(nodes)
        if state is None:
            state = self._made(nodes)
            if len(self._states) > _MOST_STATES:
                self._states.clear()
            self._states[nodes] = state
        return state

    def _made(self, nodes: Iterable[int]) -> _State:
        by_symbol: dict[int, list[int]] = {}
        for node in nodes:
            by_symbol.setdefault(self.symbols[node], []).append(node)
        named = {self.names[symbol]: found for symbol, found in by_symbol.items()}
        labels = sorted(name[1:] for name in named if name.startswith(_FINAL))
        return _State(named, tuple(labels))

"""A word typed in Latin letters, sounded out in the letters of its own language.

In go the words of a language and how each of its letters is typed ("ش" as sh or ch, "ح" as 7 or h), out
come the words that a typed word may stand for: '7arara' is حرارة. Vowels that the script leaves unwritten may
stand anywhere, and a consonant may be doubled.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

_VOWELS = frozenset("aeiou")
_VOWEL, _SILENT, _PARTICLE = 1, 2, 1  # what a vowel added, a letter left out, a particle count against a word
_LEAST, _MOST = 3, 20  # letters of a typed word that is worth a try
_MOST_STEPS = 4_000


@dataclass(slots=True)
class _Node:
    children: dict[str, "_Node"] = field(default_factory=dict)
    word: str = ""  # the word that ends here
    joins: bool = False  # a particle ends here: a word may follow


_Place = tuple[_Node, int, int, int]  # in the words; letters typed so far; their cost; vowels passed in a row


@dataclass(slots=True)
class Sounds:
    """The words of a language by their letters.

    typed      letter -> how it is typed: '^' before or '$' after, only where the word begins, or ends;
               '$' alone, not at all where the word ends
    particles  what is written onto the next word, such as 'the'
    """

    typed: Mapping[str, Sequence[str]]
    _words: _Node = field(default_factory=_Node)
    _particles: _Node = field(default_factory=_Node)

    def add(self, words: Iterable[str], particles: Iterable[str] = ()) -> None:
        """Add what is written wholly in letters of the language."""
        for word in filter(self._is_own, words):
            self._enter(self._words, word).word = word
        for particle in filter(self._is_own, particles):
            self._enter(self._particles, particle).joins = True

    def _is_own(self, word: str) -> bool:
        return all(letter in self.typed for letter in word)

    def _enter(self, node: _Node, word: str) -> _Node:
        for letter in word:
            node = node.children.setdefault(letter, _Node())
        return node

    def meant(self, word: str) -> list[str]:
        """Give the words that fit best, all of one cost, in order; none where none fits. Short words are left
        out: they are too easily hit by chance."""
        if not _LEAST <= len(word) <= _MOST or not word.isascii():
            return []
        costs: dict[str, int] = {}
        places: list[_Place] = [(self._words, 0, 0, 0), (self._particles, 0, _PARTICLE, 0)]
        for _ in range(_MOST_STEPS):
            if not places:
                break
            node, at, cost, passed = places.pop()
            if at == len(word) and node.word and len(word) + len(node.word) >= 2 * _LEAST:
                costs[node.word] = min(cost, costs.get(node.word, cost))
            if node.joins:
                places.append((self._words, at, cost, 0))
            places += self._next(node, word, at, cost, passed)
        least = min(costs.values(), default=0)
        return sorted(found for found, cost in costs.items() if cost == least)

    def _next(self, node: _Node, word: str, at: int, cost: int, passed: int) -> Iterable[_Place]:
        if 0 < at < len(word):
            if word[at] in _VOWELS and passed < 2:
                yield node, at + 1, cost + _VOWEL, passed + 1
            elif word[at] == word[at - 1] and word[at] not in _VOWELS:
                yield node, at + 1, cost, passed
        for letter, child in node.children.items():
            for spelling in self.typed[letter]:
                plain = spelling.strip("^$")
                end = at + len(plain)
                outside = (spelling[0] == "^" and at) or (spelling[-1] == "$" and end < len(word))
                if word.startswith(plain, at) and not outside:
                    yield child, end, cost + (0 if plain else _SILENT), 0

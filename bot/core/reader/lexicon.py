"""What a language file says, made ready for reading.

In goes a LexiconFile (the checked content of messages/lexicons/*.toml), out comes a Lexicon. English stands
behind every language as its `fallback`: its words, numbers and phrases always work, and are compiled once.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from bot.core.reader.phrases import NUMBER, Automaton, Builder, PhraseError, is_one_word, parse
from bot.core.reader.sounds import Sounds
from bot.core.reader.text import fold_words

Subject = Literal["baby", "mother"]


@dataclass(frozen=True, slots=True)
class Question:
    """What the reader must know of a question.

    kind           count (whole, 0 up), scale (0 up, halves allowed), yes_no, any (any answer counts)
    max_plausible  the largest number that can be true; above it the reply is read as impossible
    feeding        a bare local word for 'stop' may mean here that the baby stopped feeding
    """

    id: str
    kind: Literal["count", "scale", "yes_no", "any"]
    subject: Subject
    max_plausible: float = 0
    feeding: bool = False


@dataclass(frozen=True, slots=True)
class SignPhrases:
    """One danger as it is said. `about` names the sign for each person who may have it."""

    name: str
    about: Mapping[str, str]
    say: Sequence[str]
    unless: Sequence[str] = ()
    lasting: bool = False  # counts even when it is over by now
    whoever: bool = False  # whom the words name does not matter: only one person can have it
    unsure_after: Sequence[str] = ()  # questions after which it may be an answer, when nobody is named
    only_after: Sequence[str] = ()  # the only questions after which these words mean this danger; none: any


@dataclass(frozen=True, slots=True)
class LexiconFile:
    """One language file, checked in form but not compiled. messages/lexicons/en.toml explains each field."""

    language: str
    reviewed_by: str
    reviewed_on: str
    numbers: Mapping[str, float]
    tens: Mapping[str, float]
    units_before_tens: bool
    pairs_are_ranges: bool  # 'two three times' is from two to three
    sounds_like: Mapping[str, float]
    never_numbers: Sequence[str]
    joined_before: Sequence[str]
    dropped_before: Sequence[str]
    dropped_after: Sequence[str]
    around: Sequence[tuple[str, str, str]]  # 'not' written before and after a verb, and the word for it
    not_english: Sequence[str]  # words of this language that look English and mean something else
    typed: Mapping[str, Sequence[str]]  # how each letter of the language is typed in Latin letters
    lists: Mapping[str, Sequence[str]]
    phrases: Mapping[str, Sequence[str]]  # label such as 'amounts.about' -> phrases
    signs: Sequence[SignPhrases]


@dataclass(slots=True)
class Lexicon:
    """A compiled language. Treat it as frozen: reading fills only its memories of words and states."""

    language: str
    reviewed_by: str
    reviewed_on: str
    questions: Mapping[str, Question]
    about: Mapping[str, Mapping[str, str]]  # danger -> person -> sign id
    lasting: frozenset[str]  # dangers that count even when over
    whoever: frozenset[str]  # dangers of one person, whomever the words name
    unsure_after: Mapping[str, Sequence[str]]  # danger -> questions after which it may be a mere answer
    only_after: Mapping[str, Sequence[str]]  # danger -> the only questions after which its words mean it
    numbers: Mapping[str, float]
    tens: Mapping[str, float]
    units_before_tens: bool
    pairs_are_ranges: bool  # 'two three times' is from two to three
    sounds_like: Mapping[str, float]
    joined_before: tuple[str, ...]
    dropped_before: tuple[str, ...]
    dropped_after: tuple[str, ...]
    around: tuple[tuple[str, str, str], ...]
    typed: Mapping[str, Sequence[str]]  # letter -> how it is typed in Latin letters
    not_english: Mapping[str, tuple[str, ...]]  # word -> what it stands for when English may not read it
    own_words: frozenset[str]  # every word this language knows by itself; kept where `not_english` is used
    keywords: Mapping[str, frozenset[str]]  # 'opt_out', 'opt_in' -> whole messages of this language
    symbols: Mapping[str, tuple[str, ...]]  # word -> what it can stand for in a phrase
    beginnings: Mapping[str, tuple[str, ...]]  # 'begin' of 'begin*' -> what it can stand for
    splittable: frozenset[str]  # words that may follow a digit, or another word, without a space
    guessable: Mapping[str, tuple[str, ...]]  # first letter -> words worth a guess at a misspelling
    guessed_numbers: frozenset[str]
    automata: tuple[Automaton, ...]
    fallback: "Lexicon | None" = None
    edition: int = 0  # of the words that one installation added to the file; 0: none
    memory: dict[str, tuple[object, ...]] = field(default_factory=dict)
    _sounds: Sounds | None = None

    @property
    def sounds(self) -> Sounds:
        """The words of this language by their sound; made when the first Latin word asks for it."""
        if self._sounds is None:
            self._sounds = Sounds(self.typed)
            self._sounds.add((*self.symbols, *self.beginnings), (*self.joined_before, *self.dropped_before))
        return self._sounds


def compile_lexicon(
    data: LexiconFile, questions: Mapping[str, Question], fallback: Lexicon | None = None
) -> Lexicon:
    """Compile one language upon English (`fallback`, None for English). Raises PhraseError: all faults."""
    lists = {name: tuple(members) for name, members in data.lists.items()}
    phrases = _phrases(data, lists)
    numbers = {**(fallback.numbers if fallback else {}), **_folded(data.numbers)}
    tens = {**(fallback.tens if fallback else {}), **_folded(data.tens)}
    own, own_beginnings = _vocabulary(phrases, lists, data)
    symbols = _with_english(own, fallback.symbols if fallback else {})
    beginnings = _with_english(own_beginnings, fallback.beginnings if fallback else {})
    guessable = _guessable(data, phrases, symbols)
    return Lexicon(
        language=data.language,
        reviewed_by=data.reviewed_by,
        reviewed_on=data.reviewed_on,
        questions=questions,
        about={**(fallback.about if fallback else {}), **{s.name: s.about for s in data.signs}},
        whoever=frozenset(s.name for s in data.signs if s.whoever)
        | (fallback.whoever if fallback else frozenset()),
        lasting=frozenset(s.name for s in data.signs if s.lasting)
        | (fallback.lasting if fallback else frozenset()),
        unsure_after={
            **(fallback.unsure_after if fallback else {}),
            **{s.name: s.unsure_after for s in data.signs},
        },
        only_after={
            **(fallback.only_after if fallback else {}),
            **{s.name: s.only_after for s in data.signs if s.only_after},
        },
        numbers=numbers,
        tens=tens,
        units_before_tens=data.units_before_tens,
        pairs_are_ranges=data.pairs_are_ranges,
        sounds_like={**_unclaimed(fallback, own), **_folded(data.sounds_like)},
        joined_before=tuple(fold_words(p) for p in data.joined_before),
        dropped_before=tuple(sorted((fold_words(p) for p in data.dropped_before), key=len, reverse=True)),
        dropped_after=tuple(sorted((fold_words(p) for p in data.dropped_after), key=len, reverse=True)),
        around=tuple((fold_words(b), fold_words(a), fold_words(n)) for b, a, n in data.around),
        typed=data.typed,
        not_english=_not_english(data, own, own_beginnings),
        own_words=frozenset(own) if data.not_english else frozenset(),
        keywords={
            k: frozenset(fold_words(w) for w in data.phrases.get(f"keywords.{k}", ()))
            for k in ("opt_out", "opt_in")
        },
        symbols=symbols,
        beginnings=beginnings,
        splittable=_splittable(data) | (fallback.splittable if fallback else frozenset()),
        guessable=_by_letter(guessable, fallback),
        guessed_numbers=frozenset(numbers | tens),
        automata=(phrases.build(), *(fallback.automata if fallback else ())),
        fallback=fallback,
    )


def _folded(words: Mapping[str, float]) -> dict[str, float]:
    return {fold_words(word): value for word, value in words.items()}


def _phrases(data: LexiconFile, lists: Mapping[str, Sequence[str]]) -> Builder:
    """All phrases by label: each list as 'list.<name>', each danger as 'sign.' and 'unless.'."""
    phrases_of_all = Builder()
    faults: list[str] = []
    groups: list[tuple[str, Sequence[str]]] = [*data.phrases.items()]
    groups += [(f"list.{name}", members) for name, members in lists.items()]
    groups.append(("ordinary.words", data.not_english))
    for sign in data.signs:
        groups += [(f"sign.{sign.name}", sign.say), (f"unless.{sign.name}", sign.unless)]
    for label, phrases in groups:
        for phrase in phrases:
            try:
                phrases_of_all.add(parse(phrase, lists), label)
            except PhraseError as fault:
                faults.append(f"{label}: {fault}")
    if faults:
        raise PhraseError("\n".join(faults))
    return phrases_of_all


Symbols = dict[str, set[str]]


def _vocabulary(
    named: Builder, lists: Mapping[str, Sequence[str]], data: LexiconFile
) -> tuple[Symbols, Symbols]:
    """What the words of this language, and beginnings of words, stand for in phrases."""
    words: Symbols = {w: {w} for w in named.words}
    begins: Symbols = {b: {b + "*"} for b in named.beginnings}
    for name, members in lists.items():
        for member in filter(is_one_word, members):
            word = fold_words(member)
            target = (begins, word[:-1]) if word.endswith("*") else (words, word)
            target[0].setdefault(target[1], set()).add(f"<{name}>")
    for word in (*data.numbers, *data.tens):
        words.setdefault(fold_words(word), set()).add(NUMBER)
    for word in (*data.sounds_like, *data.never_numbers):
        words.setdefault(fold_words(word), set())
    return words, begins


def _unclaimed(fallback: Lexicon | None, own: Symbols) -> dict[str, float]:
    """What English hears as a number, less what is a word of this language ('to' is 'well' in Hausa)."""
    heard = fallback.sounds_like if fallback else {}
    return {word: value for word, value in heard.items() if word not in own}


def _with_english(own: Symbols, english: Mapping[str, tuple[str, ...]]) -> dict[str, tuple[str, ...]]:
    return {**english, **{w: tuple(sorted(s.union(english.get(w, ())))) for w, s in own.items()}}


def _not_english(data: LexiconFile, own: Symbols, begins: Symbols) -> dict[str, tuple[str, ...]]:
    result = {}
    for word in map(fold_words, data.not_english):
        begun = (begins.get(word[:n], set()) for n in range(2, len(word) + 1))
        result[word] = tuple(sorted(own.get(word, set()).union(*begun)))
    return result


_GLUED = ("amounts.", "units.", "nouns.", "answers.no", "answers.yes", "dayparts.", "frame.not")


def _splittable(data: LexiconFile) -> frozenset[str]:
    """Plain words that people write without a space after a number: 8times, 6wet, nopain."""
    words = {
        fold_words(p)
        for label, phrases in data.phrases.items()
        if label.startswith(_GLUED)
        for p in phrases
        if is_one_word(p)
    }
    return frozenset({w for w in words if not w.endswith("*")} | {fold_words(w) for w in data.numbers})


def _guessable(data: LexiconFile, named: Builder, symbols: Mapping[str, tuple[str, ...]]) -> set[str]:
    """Words whose one-letter slip is forgiven: numbers of four letters up, words of danger of five up."""
    danger: set[str] = set()
    for sign in data.signs:
        for phrase in sign.say:
            danger.update(w for w in fold_words(_plain(phrase)).split() if len(w) >= 5 and w in named.words)
    nouns = {
        fold_words(p)
        for label, phrases in data.phrases.items()
        if label.startswith(("nouns.", "keywords.", "intents.", "amounts."))
        for q in phrases
        for p in _plain(q).split()
        if len(p) >= 5
    }
    numbers = {fold_words(w) for w in (*data.numbers, *data.tens) if len(w) >= 4}
    return {w for w in danger | nouns | numbers if w in symbols and not w.endswith("*")}


def _plain(phrase: str) -> str:
    return "".join(" " if c in "()|?" else c for c in phrase)


def _by_letter(words: set[str], fallback: Lexicon | None) -> dict[str, tuple[str, ...]]:
    letters: dict[str, set[str]] = {}
    for word in words:
        letters.setdefault(word[0], set()).add(word)
    if fallback:
        for letter, found in fallback.guessable.items():
            letters.setdefault(letter, set()).update(found)
    return {letter: tuple(sorted(found)) for letter, found in letters.items()}

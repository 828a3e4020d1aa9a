"""Whether a word may join a language in one installation: the words that stand and the new one come in, every
fault goes out. The same checks as of a language file, and that nothing read well before is read otherwise.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any

from bot.content.check_examples import check_examples
from bot.content.lexicon import FALLBACK, load_lexicons, load_signs, raw_language
from bot.content.local_words import MEANINGS, NUMBER, SIGN, Local, LocalWord, Raw
from bot.content.texts import Texts
from bot.core.errors import Invalid, Problem
from bot.core.reader import Amount, Intent, Lexicon, Reading, Reason, read
from bot.core.reader.text import fold_words

LONGEST = 80
MOST_NUMBER = 60
_NOTATION = re.compile(r"[()|?<>*]|\.\.\d")
# What stands open when the language's own words are read again: each brings other readings of short answers.
_ASKED = ((), ("feeds",), ("baby_danger",))
_WISHES = {intent.value: intent for intent in (
    Intent.OPT_OUT, Intent.OPT_IN, Intent.CALL_ME, Intent.WRONG_NUMBER, Intent.BEREAVED, Intent.THANKS,
)}  # fmt: skip
_NOUNS = ("feeds", "wet_nappies", "dirty_nappies")
# Of these a person sees every reply, as of what is not known: there is nothing to try.
_UNTRIED = frozenset(("remedy", "not_yet", "dont_know"))
_HARMLESS = frozenset(("ordinary", "thanks"))
_SHOWN = 3  # of the words that would be misread
_HEAT = ("hot", "cold")  # lists that phrases of danger are made of


@dataclass(frozen=True, slots=True)
class _Tried:
    """A language with the new word and without it."""

    word: LocalWord
    before: Lexicon
    after: Lexicon


def check_word(root: Path, texts: Texts, standing: Local, language: str, word: LocalWord) -> list[Problem]:
    """Name every fault of adding a word to a language. `root` holds messages/; `standing` stays as it is."""
    problems = list(_form(root, word))
    if problems:
        return problems
    if any(fold_words(word.phrase) == fold_words(each.phrase) for each in standing.get(language, ())):
        return [Problem(word.phrase, "is approved already; take it out first to give it another meaning")]
    messages = root / "messages"
    added = {**standing, language: (*standing.get(language, ()), word)}
    try:
        after = load_lexicons(messages, local=added)
    except Invalid as refused:
        return list(refused.problems)
    before = load_lexicons(messages, local=standing)
    files = [raw_language(messages, code) for code in dict.fromkeys((language, FALLBACK))]
    tried = _Tried(word, before[language], after[language])
    problems += _unmoved(tried)
    problems += _hides(word, files)
    problems += _otherwise(tried, files[0])
    # English stands behind every language: its words may change how any is read.
    concerned = list(after) if language == FALLBACK else [language]
    known = _shown_faults(texts, before, concerned)
    return problems + [each for each in _shown_faults(texts, after, concerned) if each not in known]


def _shown_faults(texts: Texts, lexicons: Mapping[str, Lexicon], languages: Sequence[str]) -> list[Problem]:
    """The answers that texts show and that are not read as such."""
    return list(check_examples(texts, {code: lexicons[code] for code in languages}))


def _form(root: Path, word: LocalWord) -> Iterator[Problem]:
    phrase, value = word.phrase, word.means.removeprefix(NUMBER)
    if not fold_words(phrase).strip():
        yield Problem("", "Write the words.")
    if len(phrase) > LONGEST:
        yield Problem(phrase, "is too long; only the words that carry the meaning")
    if any(sign.isdigit() for sign in phrase):
        yield Problem(phrase, "holds a figure; figures are read in every language already")
    if word.means.startswith(NUMBER):
        if not (value.isascii() and value.isdecimal() and int(value) <= MOST_NUMBER):
            yield Problem(value, "is no number that a word can stand for here; 0 to 60")
        if len(phrase.split()) > 1 or _NOTATION.search(phrase):
            yield Problem(phrase, "must be a single word without brackets to be a number word")
    elif word.means not in MEANINGS and (
        word.means.removeprefix(SIGN) not in load_signs(root / "messages") or not word.means.startswith(SIGN)
    ):
        yield Problem("", "Choose what it means.")


def _unmoved(tried: _Tried) -> Iterator[Problem]:
    """A word that changes nothing would be believed to work. A phrase with brackets is taken at its word."""
    word = tried.word
    if _NOTATION.search(word.phrase) or word.means in _UNTRIED:
        return
    if not _says(word, tried.after):
        yield Problem(
            word.phrase, "is not read as that, even when added: other words of the language cover it"
        )
    elif _says(word, tried.before):
        yield Problem(word.phrase, "is read as that already")
    elif any(_is_plain(read(word.phrase, asked, 5, tried.before)) for asked in _ASKED):
        yield Problem(word.phrase, "is read as something else already")


def _is_plain(reading: Reading) -> bool:
    """Tell whether words are read as an answer, a danger or a wish."""
    return bool(reading.answers or reading.danger_signs) or reading.intent in _WISHES.values()


def _says(word: LocalWord, lexicon: Lexicon) -> bool:
    """Tell whether the phrase alone is read as what it shall mean."""
    if word.means.startswith(SIGN):
        return word.means.removeprefix(SIGN) in read(word.phrase, (), 5, lexicon).danger_signs
    if word.means.startswith(NUMBER):
        n = int(word.means.removeprefix(NUMBER))
        found = read(word.phrase, ("feeds",), 5, lexicon)
        return found.answers.get("feeds") == Amount(n, n) and not found.needs_person
    if word.means in _WISHES:
        return read(word.phrase, (), 5, lexicon).intent is _WISHES[word.means]
    if word.means in ("yes", "no"):
        return read(word.phrase, ("worry",), 5, lexicon).answers.get("worry") is (word.means == "yes")
    if word.means == "none":
        return read(word.phrase, ("feeds",), 5, lexicon).answers.get("feeds") == Amount(0, 0)
    if word.means == "illness":
        return Reason.DANGER_UNSURE in read(word.phrase, (), 5, lexicon).reasons
    if word.means in _NOUNS:
        return not read(f"5 {word.phrase}", (word.means,), 5, lexicon).needs_person
    return not read(f"5 {word.phrase}", ("feeds",), 5, lexicon).needs_person  # ordinary


def _hides(word: LocalWord, files: Sequence[Raw]) -> Iterator[Problem]:
    """A word of danger must not become an ordinary one: beside a number nobody would look at it any more."""
    if word.means not in _HARMLESS:
        return
    grave: set[str] = set()
    plain: set[str] = set()
    for raw in files:
        lists = raw.get("lists", {})
        said = [*(sign["say"] for sign in raw.get("sign", ())), *raw.get("concern", {}).values()]
        said += [raw.get("local", {}).get("illness", ()), *(lists.get(name, ()) for name in _HEAT)]
        grave |= {each for phrases in said for phrase in phrases for each in _words(phrase)}
        plain |= {each for phrase in raw.get("ordinary", {}).get("words", ()) for each in _words(phrase)}
    for each in sorted(_words(word.phrase) & grave - plain):
        yield Problem(each, "stands among the words of danger, and can't be made harmless")


def _words(phrase: str) -> set[str]:
    return set(fold_words(_NOTATION.sub(" ", phrase)).split())


def _otherwise(tried: _Tried, raw: Mapping[str, Any]) -> Iterator[Problem]:
    """The language's own words must be read as before: the first few that are not."""
    own = fold_words(tried.word.phrase)
    changed = (
        phrase
        for phrase in sorted(set(_plain_phrases(raw)))
        if fold_words(phrase) != own and any(_differs(tried, phrase, asked) for asked in _ASKED)
    )
    for phrase in islice(changed, _SHOWN):
        yield Problem(phrase, "would be read otherwise than now")


def _differs(tried: _Tried, text: str, asked: tuple[str, ...]) -> bool:
    return _gist(read(text, asked, 5, tried.before)) != _gist(read(text, asked, 5, tried.after))


def _gist(reading: Reading) -> tuple[object, ...]:
    return (reading.intent, reading.answers, reading.danger_signs, reading.needs_person)


def _plain_phrases(raw: Any) -> Iterator[str]:
    """Every phrase of a language file that people could write as it stands."""
    if isinstance(raw, str):
        if not _NOTATION.search(raw):
            yield raw
    elif isinstance(raw, Mapping):
        for name, each in raw.items():
            if name not in ("language", "reviewed_by", "reviewed_on", "typed", "about", "name"):
                yield from _plain_phrases(each)
    elif isinstance(raw, list):
        for each in raw:
            yield from _plain_phrases(each)

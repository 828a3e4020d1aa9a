"""What a text tells her to write, the reader must understand: texts and words go in, faults come out."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from bot.content.languages import native
from bot.content.texts import NEUTRAL, Texts
from bot.core.errors import Problem
from bot.core.reader import Amount, Intent, Lexicon, read

_FIELD = re.compile(r"\{\w*\}")
_NUMBER = re.compile(r"(?<![\w:.,/])\d{1,2}(?![\w:.,/%]\d?)")
_MOST_WORDS = 4
_STOPS = ".,;:!?\"'()«»“”،؛।۔።፡፣"
# Texts that name the words by which she stops or starts them, and what those must mean.
_WISHES: Mapping[str, Intent] = {
    "opt-out-ask": Intent.OPT_OUT,
    "opt-in-done": Intent.OPT_OUT,
    "opt-in-done-alone": Intent.OPT_OUT,
    "opt-out-done": Intent.OPT_IN,
    "opt-out-done-alone": Intent.OPT_IN,
}
_ASKING = re.compile(r"(?:ask|again)-(?P<question>[a-z_]+?)(?:-twins)?")


def check_examples(texts: Texts, lexicons: Mapping[str, Lexicon]) -> Iterator[Problem]:
    """Name every number shown as an answer that is not read as one, and every text about stopping or starting
    that shows no words for it, in each language that has both texts and words, and in Latin letters."""
    for tag in texts.tags:
        lexicon = lexicons.get(native(tag))
        if lexicon is None:
            continue
        for key in texts.keys_of(tag):
            for words in _variants(texts, key, tag):
                yield from _answers(tag, key, words, lexicon)
                yield from _wishes(tag, key, words, lexicon)


def _variants(texts: Texts, key: str, tag: str) -> Iterator[str]:
    found = {texts.words(key, tag)[0], texts.words(key, tag, neutral=True)[0]}
    yield from (_FIELD.sub(" ", words) for words in sorted(found))


def _answers(tag: str, key: str, words: str, lexicon: Lexicon) -> Iterator[Problem]:
    """Every small number in a question stands there as a possible answer."""
    asking = _ASKING.fullmatch(key.removesuffix(NEUTRAL))
    question = lexicon.questions.get(asking["question"]) if asking else None
    if question is None:
        return
    for shown in sorted(set(_NUMBER.findall(words))):
        given = read(shown, [question.id], 5, lexicon).answers.get(question.id)
        n = int(shown)
        if question.kind == "yes_no" and n > 1:
            continue  # 'the last 24 hours' is no answer
        wanted = bool(n) if question.kind == "yes_no" else Amount(n, n)
        if given != wanted:
            yield Problem(f"{tag}: {key}", f"shows {shown} as an answer, and it is not read as one")


def _wishes(tag: str, key: str, words: str, lexicon: Lexicon) -> Iterator[Problem]:
    wanted = _WISHES.get(key)
    if wanted is None:
        return
    if not any(read(each, [], 5, lexicon).intent is wanted for each in _shown(words)):
        what = "end" if wanted is Intent.OPT_OUT else "begin"
        yield Problem(f"{tag}: {key}", f"shows no words that {what} the texts in this language")


def _shown(words: str) -> list[str]:
    """What a text may show as the words to write: those in capitals, where the script has them."""
    pieces = words.split()
    runs = (pieces[at : at + n] for n in range(1, _MOST_WORDS + 1) for at in range(len(pieces) - n + 1))
    shown = [" ".join(run).strip(_STOPS) for run in runs]
    loud = [each for each in shown if each.isupper() and len(each) > 1]
    return [max(loud, key=len)] if loud else [each for each in shown if each]

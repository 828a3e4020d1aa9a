"""Whether the texts are fit to send: texts and languages come in, every fault goes out.

Run before an edition is published and by the tests, so that nothing is found out while sending.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta

from bot.content.languages import is_latin, native
from bot.content.texts import NEUTRAL, SOURCE, Entry, Status, Texts, fields_of, is_right_to_left
from bot.core.errors import Problem
from bot.core.segments import count, sendable

# Longer than most, so that a budget that holds for these holds for nearly all.
_SAMPLE = {
    "mother": "Amina Yusuf",
    "baby": "Khadija",
    "site": "Rosewater District Hospital",
    "call": "+447700900123",
    "hours": "8:00-17:00",
    "place": "Rosewater District Hospital",
    "place_call": "+447700900145",
    "transport": "+447700900146",
    "count": "3",
    "phone": "+447700900147",
    "age": "12",
    "ref": "4f09ac",
    "link": "https://dunnock.example/a/0123456789abcdef",
    "text": "+447700900100",
    "day": "2026-11-25",  # a Wednesday, the longest weekday in English
    "at": "09:30",
    "n": "3",
}
_SAMPLE_RIGHT_TO_LEFT = _SAMPLE | {
    "mother": "أمينة يوسف",
    "baby": "خديجة",
    "site": "مستشفى وادي الورد العام",
    "place": "مستشفى وادي الورد العام",
}

# Curly quotes, dashes, dots in one sign and hard spaces: one of them doubles the price of a text. Marks for
# the direction of writing are put in where the text is made, never by hand.
_TYPOGRAPHIC = re.compile(
    "[\u2010-\u201f\u2026\u2032\u2033\u00a0\u202f\u2009\u200e\u200f\u061c\u202a-\u202e\u2066-\u2069]"
)
_STRAY_BRACE = re.compile(r"[{}]")
_FIELD = re.compile(r"\{\w*\}")
_QUESTIONS = ("ask-", "again-")


def sample_values(tag: str) -> Mapping[str, str]:
    """Give invented values of realistic length in the script of a language. Numbers are Ofcom's for drama."""
    return _SAMPLE_RIGHT_TO_LEFT if is_right_to_left(tag) else _SAMPLE


def check_texts(
    texts: Texts, tags: Sequence[str], used: Mapping[str, Sequence[str]] | None = None
) -> list[Problem]:
    """Name every fault of every text in the languages given, or in Latin letters.

    used  keys that somebody sends, by who does ('schedule standard': [..]): each must exist, with a budget
    """
    problems = [problem for key in texts.keys for problem in _faults(texts, key, tags)]
    problems += [
        Problem(f"languages.toml: {native(tag)}", "has a clock, and none for its texts in Latin letters")
        for tag in tags
        if is_latin(tag) and texts.counts_from_six(native(tag)) and not texts.counts_from_six(tag)
    ]
    problems += [problem for tag in tags if texts.is_gsm7(tag) for problem in _day_faults(texts, tag)]
    for user, keys in (used or {}).items():
        for key in keys:
            if key not in texts.keys:
                problems.append(Problem(user, f"names the text '{key}', which does not exist"))
            elif texts.entry(key).max_segments is None:
                problems.append(Problem(user, f"sends '{key}', which is only a piece: it has no budget"))
    return problems


def _day_faults(texts: Texts, tag: str) -> Iterator[Problem]:
    """A Saturday or an August must not double the price of a text."""
    for n in range(365):
        day = date(2026, 1, 1) + timedelta(days=n)
        words = texts.day_words(tag, day)
        if count(sendable(words)).encoding != "GSM-7":
            yield Problem(f"{tag}: format-day", f"'{words}' ({day}) holds a letter outside GSM-7")
            return


def _faults(texts: Texts, key: str, tags: Sequence[str]) -> Iterator[Problem]:
    entry = texts.entry(key)
    if entry.neutral is None and "mother" in fields_of(entry.text):
        yield Problem(key, "names the mother and has no neutral words for a shared phone; add `neutral`")
    if entry.neutral is not None and "mother" in fields_of(entry.neutral):
        yield Problem(key + NEUTRAL, "names the mother, which a neutral text must not")
    for language in (tag for tag in tags if key in texts.keys_of(tag)):
        status = texts.status(key, language)
        if status is Status.missing:
            yield Problem(f"{language}: {key}", f"is not translated; {texts.words(key, language)[1]} is sent")
            continue
        if status is Status.stale:
            yield Problem(f"{language}: {key}", "the English has changed; translate it again")
        for variant in entry.variants():
            for message in _word_faults(texts, key, language, variant):
                yield Problem(f"{language}: {key}{variant}", message)


def _word_faults(texts: Texts, key: str, language: str, variant: str) -> Iterator[str]:
    entry, neutral = texts.entry(key), bool(variant)
    words, _ = texts.words(key, language, neutral=neutral)
    english = fields_of(entry.variants()[variant])
    if language != SOURCE and fields_of(words) != english:
        yield f"holds {_names(fields_of(words))}, the English {_names(english)}; use the same values"
    if _STRAY_BRACE.search(_FIELD.sub("", words)):
        yield "has a brace that is no value; write {name}, or leave it out"
    if found := sorted(set(_TYPOGRAPHIC.findall(words))):
        yield f"holds {', '.join(f'U+{ord(sign):04X}' for sign in found)}; write plain signs"
    if key.startswith(_QUESTIONS) and sum(words.count(mark) for mark in "?؟") != 1:
        yield "must ask one question, with one question mark"
    yield from _caution_faults(key, entry, words)
    if fields_of(words) == english:
        yield from _budget_faults(texts, key, language, neutral)


def _caution_faults(key: str, entry: Entry, words: str) -> Iterator[str]:
    """A text with clinical content says where to go; one that asks nothing also gives a number to call."""
    if not entry.caution:
        return
    if "place" not in fields_of(words):
        yield "must say where to go: {place}"
    if not key.startswith(_QUESTIONS) and not fields_of(words) & {"call", "place_call"}:
        yield "must give a number: {call} or {place_call}"


def _budget_faults(texts: Texts, key: str, language: str, neutral: bool) -> Iterator[str]:
    budget = texts.entry(key).max_segments
    if budget is None:
        return
    cost = count(sendable(texts.render(key, language, sample_values(language), neutral=neutral)))
    if texts.is_gsm7(language) and cost.encoding != "GSM-7":
        yield "holds a letter outside GSM-7, which halves the room of a text"
    most = budget.gsm7 if cost.encoding == "GSM-7" else budget.ucs2
    if cost.segments > most:
        yield f"costs {cost.segments} segments ({cost.units} units, {cost.encoding}); at most {most}"


def _names(fields: frozenset[str]) -> str:
    return ", ".join(f"{{{name}}}" for name in sorted(fields)) or "no values"

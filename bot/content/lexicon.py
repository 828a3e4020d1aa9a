"""messages/ as the reader needs it: questions.toml, signs.toml and lexicons/*.toml in, compiled Lexicons out.

The models below are the schema of a language file; what each field means to a speaker stands as comments in
messages/lexicons/en.toml. Unknown keys are refused, and all faults of all files are named at once.
"""

import json
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import astuple
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from bot.content.lexicon_cache import keep, key_of, recall
from bot.content.local_words import Local, LocalWord, Raw, with_words
from bot.core.errors import Invalid, Problem
from bot.core.reader import Lexicon, LexiconFile, Question, compile_lexicon
from bot.core.reader.lexicon import SignPhrases
from bot.core.reader.phrases import PhraseError
from bot.core.reader.text import fold_words

FALLBACK = "en"
Phrases = list[str]


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class _Numbers(_Strict):
    words: dict[float, Phrases] = Field(default_factory=dict)
    tens: dict[float, Phrases] = Field(default_factory=dict)
    units_before_tens: bool = False
    pairs_are_ranges: bool = False
    phrases: dict[float, Phrases] = Field(default_factory=dict)
    about: dict[float, Phrases] = Field(default_factory=dict)
    hours: dict[float, Phrases] = Field(default_factory=dict)
    sounds_like: dict[float, Phrases] = Field(default_factory=dict)
    never: Phrases = Field(default_factory=list)
    not_here: Phrases = Field(default_factory=list)
    doubtful: Phrases = Field(default_factory=list)
    before_doubtful: Phrases = Field(default_factory=list)


class _Letters(_Strict):
    joined_before: Phrases = Field(default_factory=list)
    dropped_before: Phrases = Field(default_factory=list)
    dropped_after: Phrases = Field(default_factory=list)
    around: list[tuple[str, str, str]] = Field(default_factory=list)
    not_english: Phrases = Field(default_factory=list)
    typed: dict[str, Phrases] = Field(default_factory=dict)


def _section(name: str, fields: str) -> type[_Strict]:
    """A section of phrase lists, each of which may be left out."""
    from pydantic import create_model

    spec: dict[str, Any] = {f: (Phrases, Field(default_factory=list)) for f in fields.split()}
    return create_model(name, __base__=_Strict, **spec)


_Lists = _section(
    "_Lists",
    "baby pronoun mother possessive mother_named other other_child messages very breast milk not be feed "
    "fed hot cold person food",
)
_Amounts = _section(
    "_Amounts",
    "about about_after more_than at_least or_more and_more less_than at_most or_less and_less between to or "
    "and plus out_of and_half times every every_slash every_hour hourly per_hour than_before "
    "clock_before clock_after day_number old temperature weight money "
    "money_after scale no_amount than",
)
_Units = _section("_Units", "hour minute day weight volume temperature fahrenheit other")
_Nouns = _section("_Nouns", "feeds wet_nappies dirty_nappies nappies pain other_food")
_Answers = _section("_Answers", "yes yes_last no no_last plain_no none not_yet vague dont_know")
_Dayparts = _section("_Dayparts", "day night morning afternoon evening since before today left right")
_Frame = _section(
    "_Frame",
    "not no after_no not_think not_after not_last free_of transparent if if_after asks asks_after past "
    "over for_mother and but verb reports tends correction presumes like like_after",
)
_Harmless = _section("_Harmless", "figurative baby_is_well")
_Concern = _section("_Concern", "danger content other_day")
_Intents = _section("_Intents", "bereaved wrong_number call_me opt_out opt_out_unsure opt_in")
_Keywords = _section("_Keywords", "opt_out opt_in beside")
_Thanks = _section("_Thanks", "thanks courtesy")
_Ordinary = _section("_Ordinary", "words")
# Names that people of a place have for illnesses (a person reads) and for what is given or done at home.
_Local = _section("_Local", "illness remedy")


class _Says(_Strict):
    yes: Phrases = Field(default_factory=list)
    no: Phrases = Field(default_factory=list)


class _Sign(_Strict):
    name: str
    about: dict[Literal["baby", "mother"], str]
    say: Phrases
    unless: Phrases = Field(default_factory=list)
    lasting: bool = False
    whoever: bool = False
    unsure_after: Phrases = Field(default_factory=list)
    only_after: Phrases = Field(default_factory=list)


class _Language(_Strict):
    language: str
    reviewed_by: str
    reviewed_on: str
    numbers: _Numbers = Field(default_factory=_Numbers)
    letters: _Letters = Field(default_factory=_Letters)
    lists: _Lists = Field(default_factory=_Lists)  # type: ignore[valid-type]
    amounts: _Amounts = Field(default_factory=_Amounts)  # type: ignore[valid-type]
    units: _Units = Field(default_factory=_Units)  # type: ignore[valid-type]
    nouns: _Nouns = Field(default_factory=_Nouns)  # type: ignore[valid-type]
    answers: _Answers = Field(default_factory=_Answers)  # type: ignore[valid-type]
    dayparts: _Dayparts = Field(default_factory=_Dayparts)  # type: ignore[valid-type]
    says: dict[str, _Says] = Field(default_factory=dict)
    frame: _Frame = Field(default_factory=_Frame)  # type: ignore[valid-type]
    harmless: _Harmless = Field(default_factory=_Harmless)  # type: ignore[valid-type]
    concern: _Concern = Field(default_factory=_Concern)  # type: ignore[valid-type]
    intents: _Intents = Field(default_factory=_Intents)  # type: ignore[valid-type]
    not_intents: _Intents = Field(default_factory=_Intents)  # type: ignore[valid-type]
    keywords: _Keywords = Field(default_factory=_Keywords)  # type: ignore[valid-type]
    thanks: _Thanks = Field(default_factory=_Thanks)  # type: ignore[valid-type]
    ordinary: _Ordinary = Field(default_factory=_Ordinary)  # type: ignore[valid-type]
    local: _Local = Field(default_factory=_Local)  # type: ignore[valid-type]
    sign: list[_Sign] = Field(default_factory=list)


class _QuestionEntry(_Strict):
    id: str
    kind: Literal["count", "scale", "yes_no", "any"]
    subject: Literal["baby", "mother"]
    unit: str
    max_plausible: float
    stop_may_mean_stopped_feeding: bool = False
    source: str
    meaning: str


class _Questions(_Strict):
    question: list[_QuestionEntry]


class _SignEntry(_Strict):
    id: str
    subject: Literal["baby", "mother"]
    meaning: str


class _Signs(_Strict):
    sign: list[_SignEntry]


_SECTIONS = (
    "amounts", "units", "nouns", "answers", "dayparts", "frame", "harmless", "concern", "intents",
    "not_intents",    "keywords", "thanks", "ordinary",
)  # fmt: skip


def load_questions(root: Path) -> Mapping[str, Question]:
    """The questions of messages/questions.toml by id. `root` is the folder messages/. Raises Invalid."""
    loaded: _Questions = _checked(root / "questions.toml", _Questions)
    return {
        q.id: Question(q.id, q.kind, q.subject, q.max_plausible, q.stop_may_mean_stopped_feeding)
        for q in loaded.question
    }


def load_signs(root: Path) -> Mapping[str, _SignEntry]:
    """The danger signs of messages/signs.toml by id: subject and meaning. Raises Invalid."""
    loaded: _Signs = _checked(root / "signs.toml", _Signs)
    return {s.id: s for s in loaded.sign}


def load_lexicons(
    root: Path, *, anew: bool = False, local: Local = MappingProxyType({})
) -> Mapping[str, Lexicon]:
    """Every language of messages/lexicons/ by its code, English first. `root` is the folder messages/.

    A language that was compiled before is taken as it was kept, unless `anew`; only one without a fault is
    ever kept. Raises Invalid with every fault of every file.

    local  words approved in this installation, by language: they stand beside those of the files
    """
    questions, signs = load_questions(root), load_signs(root)
    beside = [(root / name).read_bytes() for name in ("questions.toml", "signs.toml")]
    paths = sorted((root / "lexicons").glob("*.toml"), key=lambda p: (p.stem != FALLBACK, p.stem))
    problems: list[Problem] = []
    lexicons: dict[str, Lexicon] = {}
    for path in paths:
        fallback = lexicons.get(FALLBACK)
        whole = not anew and (fallback is not None or path.stem == FALLBACK)
        key = _key(path, [*beside, *_as_bytes(local, path.stem)]) if whole else ""
        kept = recall(path.stem, key, questions, fallback) if key else None
        try:
            lexicon = kept or _compiled(path, questions, signs, fallback, local.get(path.stem, ()))
        except Invalid as fault:
            problems += fault.problems
            continue
        lexicons[path.stem] = lexicon
        if key and not kept:
            keep(path.stem, key, lexicon)
    if problems:
        raise Invalid(problems)
    return lexicons


def raw_language(root: Path, code: str) -> Raw:
    """The content of one language file as it stands, unchecked. Raises Invalid where it is not TOML."""
    return _parsed(root / "lexicons" / f"{code}.toml")


def _as_bytes(local: Local, code: str) -> list[bytes]:
    """Local words as a part of what a kept language is made from; English stands behind each."""
    words = [[astuple(word) for word in local.get(each, ())] for each in (FALLBACK, code)]
    return [json.dumps(words).encode()] if any(words) else []


def _key(path: Path, beside: Sequence[bytes]) -> str:
    """What a kept language is known by; empty where its file, or the code, cannot be read."""
    try:
        english = path.with_name(f"{FALLBACK}.toml").read_bytes()
        return key_of([*beside, english, path.read_bytes()])
    except OSError:
        return ""


def _compiled(
    path: Path,
    questions: Mapping[str, Question],
    signs: Mapping[str, _SignEntry],
    fallback: Lexicon | None,
    words: Sequence[LocalWord] = (),
) -> Lexicon:
    """One language from its file. Raises Invalid with every fault of it."""
    raw = _parsed(path)
    if words:
        subjects = {id: sign.subject for id, sign in signs.items()}
        raw = with_words(raw, words, subjects, _parsed(path.with_name(f"{FALLBACK}.toml")))
    entry: _Language = _valid(path, _Language, raw)
    problems = _faults(path, entry, questions, signs)
    try:
        lexicon = compile_lexicon(_as_file(entry), questions, fallback)
    except PhraseError as fault:
        problems += [Problem(path.name, line) for line in str(fault).splitlines()]
    if problems:
        raise Invalid(problems)
    return lexicon


def _checked(path: Path, model: type[Any]) -> Any:
    return _valid(path, model, _parsed(path))


def _parsed(path: Path) -> Raw:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, tomllib.TOMLDecodeError) as fault:
        raise Invalid([Problem(path.name, f"cannot be read: {fault}")]) from fault


def _valid(path: Path, model: type[Any], raw: Raw) -> Any:
    try:
        return model.model_validate(raw)
    except ValidationError as fault:
        raise Invalid(
            [Problem(f"{path.name}: {'.'.join(map(str, e['loc']))}", e["msg"]) for e in fault.errors()]
        ) from fault


def _faults(
    path: Path, entry: _Language, questions: Mapping[str, Question], signs: Mapping[str, _SignEntry]
) -> list[Problem]:
    """What the shape alone cannot show: unknown questions and signs, a sign under the wrong person."""
    problems = [
        Problem(f"{path.name}: says.{q}", "no such question in questions.toml")
        for q in entry.says
        if q not in questions
    ]
    for word, values in _values_by_word(entry.numbers).items():
        if len(values) > 1:
            both = " and ".join(f"{value:g}" for value in sorted(values))
            problems.append(Problem(f"{path.name}: numbers", f"'{word}' stands for {both}; keep one"))
    if entry.language != path.stem:
        problems.append(Problem(f"{path.name}: language", f"must be '{path.stem}', like the file's name"))
    for sign in entry.sign:
        for person, sign_id in sign.about.items():
            if sign_id not in signs:
                problems.append(
                    Problem(f"{path.name}: sign {sign.name}", f"'{sign_id}' is not in signs.toml")
                )
            elif signs[sign_id].subject != person:
                problems.append(
                    Problem(f"{path.name}: sign {sign.name}", f"'{sign_id}' is not a sign of the {person}")
                )
    return problems


def _values_by_word(numbers: _Numbers) -> Mapping[str, set[float]]:
    values: dict[str, set[float]] = {}
    for group in (numbers.words, numbers.tens):
        for value, words in group.items():
            for word in words:
                values.setdefault(fold_words(word), set()).add(value)
    return values


def _as_file(entry: _Language) -> LexiconFile:
    phrases: dict[str, list[str]] = {}
    for section in _SECTIONS:
        for name, members in getattr(entry, section).model_dump().items():
            phrases[f"{section}.{name}"] = members
    for question, says in entry.says.items():
        phrases[f"says.{question}.yes"] = says.yes
        phrases[f"says.{question}.no"] = says.no
    local = entry.local
    phrases["concern.danger"] = [*phrases["concern.danger"], *local.illness]  # type: ignore[attr-defined]
    phrases["concern.content"] = [*phrases["concern.content"], *local.remedy]  # type: ignore[attr-defined]
    lists = entry.lists.model_dump()  # type: ignore[attr-defined]
    lists["food"] = [*lists["food"], *local.remedy]  # type: ignore[attr-defined]
    n = entry.numbers
    phrases |= {f"number.{value:g}": members for value, members in n.phrases.items()}
    phrases |= {f"number_about.{value:g}": members for value, members in n.about.items()}
    phrases |= {f"number_hours.{value:g}": members for value, members in n.hours.items()}
    phrases |= {"numbers.not_here": n.not_here, "numbers.doubtful": n.doubtful}
    phrases |= {"numbers.before_doubtful": n.before_doubtful}
    return LexiconFile(
        language=entry.language,
        reviewed_by=entry.reviewed_by,
        reviewed_on=entry.reviewed_on,
        numbers=_by_word(n.words),
        tens=_by_word(n.tens),
        units_before_tens=n.units_before_tens,
        pairs_are_ranges=n.pairs_are_ranges,
        sounds_like=_by_word(n.sounds_like),
        never_numbers=n.never,
        joined_before=entry.letters.joined_before,
        dropped_before=entry.letters.dropped_before,
        dropped_after=entry.letters.dropped_after,
        around=entry.letters.around,
        not_english=entry.letters.not_english,
        typed=entry.letters.typed,
        lists=lists,
        phrases=phrases,
        signs=[
            SignPhrases(
                s.name,
                {str(k): v for k, v in s.about.items()},
                s.say,
                s.unless,
                s.lasting,
                s.whoever,
                s.unsure_after,
                s.only_after,
            )
            for s in entry.sign
        ],
    )


def _by_word(values: Mapping[float, Phrases]) -> dict[str, float]:
    return {word: value for value, words in values.items() for word in words}

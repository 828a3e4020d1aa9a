"""The content that ships with the program, loaded and checked once."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from copy import deepcopy
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from bot.content.languages import Language, asked_as, load_languages
from bot.content.lexicon import load_lexicons, load_questions
from bot.content.rules import OCCASIONS, load_occasions, load_rules, rules_from
from bot.content.schedule import load_schedules
from bot.content.source import content_root
from bot.content.text_files import load_texts
from bot.content.texts import Texts
from bot.core.errors import Invalid, Problem
from bot.core.reader import Lexicon
from bot.core.reader.language import folded_names
from bot.core.reader.lexicon import Question
from bot.core.schedule import Schedule
from bot.core.triage_rules import Occasion, RuleSet

_CHANGED = "changed.toml"


@dataclass(frozen=True, slots=True)
class Factory:
    texts: Texts
    lexicons: Mapping[str, Lexicon]
    languages: Mapping[str, Language]
    language_names: Mapping[str, str]  # folded, by which a mother may ask for a language -> its code
    questions: Mapping[str, Question]
    rules: RuleSet
    occasions: Mapping[str, Occasion]
    schedules: Mapping[str, Schedule]


@cache
def load_factory(root: Path | None = None) -> Factory:
    """Load everything from `root` (default: where this installation keeps it). Raises Invalid with all faults
    of the first part that has any."""
    root = root or content_root()
    messages = root / "messages"
    texts, questions = load_texts(root), load_questions(messages)
    lexicons, languages = load_lexicons(messages), load_languages(messages)
    return Factory(
        texts=texts,
        lexicons=lexicons,
        languages=languages,
        language_names=folded_names(asked_as(languages, lexicons)),
        questions=questions,
        rules=load_rules(root),
        occasions=load_occasions(root),
        schedules=load_schedules(messages, set(questions), set(texts.keys)),
    )


def rules_body(root: Path | None = None) -> dict[str, Any]:
    """The rules as an edition keeps them: the parsed files, by name."""
    messages = (root or content_root()) / "messages"
    files = {path.name: _parsed(path) for path in sorted((messages / "rules").glob("*.toml"))}
    files.pop(OCCASIONS)
    return {"facts": _parsed(messages / "facts.toml"), "files": files}


def rules_of(body: Mapping[str, Any]) -> RuleSet:
    """The rules of an edition. Raises Invalid with every fault."""
    rules, problems = rules_from(body["facts"], body["files"])
    if problems:
        raise Invalid(problems)
    return rules


def changed_body(body: Mapping[str, Any], text: str, without: Iterable[str] = ()) -> dict[str, Any]:
    """The rules of an edition with a change, as the body of an edition.

    text      TOML as in messages/rules: a rule with a standing id takes its place, others are added
    without   ids of rules that are left out
    Raises    Invalid with every fault
    """
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise Invalid([Problem("", f"This is not TOML: {error}")]) from error
    files = {name: dict(rules) for name, rules in deepcopy(dict(body["files"])).items()}
    known = {id for rules in files.values() for id in rules}
    unknown = [Problem(id, "There is no such rule to leave out.") for id in without if id not in known]
    if unknown:
        raise Invalid(unknown)
    for rules in files.values():
        for id in (*tables, *without):
            rules.pop(id, None)
    found = {**body, "files": files | {_CHANGED: tables}}
    rules_of(found)
    return found


def _parsed(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text("utf-8"))

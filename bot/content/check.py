"""Every fault of messages/ and locales/ at once: words, texts, schedules, and the rules by enumeration."""

from __future__ import annotations

from collections.abc import Callable, Container, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from bot.content.check_examples import check_examples
from bot.content.check_rules import NOT_COVERED, prove
from bot.content.check_texts import check_texts
from bot.content.hazards import load_hazards
from bot.content.languages import native
from bot.content.lexicon import load_lexicons, load_questions
from bot.content.rules import load_occasions, load_rules
from bot.content.schedule import load_schedules
from bot.content.text_files import load_texts
from bot.content.texts import Status
from bot.core.errors import Invalid, Problem
from bot.core.schedule import Schedule

# A question has two texts: the first asking and the simpler one.
ASKING = ("ask", "again")


@dataclass(slots=True)
class Report:
    """`lines` say what was looked at; `problems` is empty when all is well."""

    lines: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)


def check_everything(root: Path) -> Report:
    """Check the content in `root`, the folder with messages/ and locales/. Never raises for bad content."""
    report = Report()
    for part in (_words, _texts_and_schedules, _rules):
        try:
            report.lines += part(root, report.problems)
        except Invalid as fault:
            report.problems += fault.problems
    return report


def not_ready(
    root: Path, words_signed: Container[str] = (), text_signed: Callable[[str, str], bool] | None = None
) -> list[Problem]:
    """Say of each language what keeps it from a release: words or texts that no named reviewer has signed.

    words_signed  languages whose words were signed in this installation, as they stand
    text_signed   tells by key and tag whether a text is; by default what its file says
    """
    texts, found = load_texts(root), []
    signed = text_signed or (lambda key, tag: texts.status(key, tag) is Status.reviewed)
    for code, lexicon in load_lexicons(root / "messages").items():
        if not (lexicon.reviewed_by and lexicon.reviewed_on) and code not in words_signed:
            found.append(Problem(f"{code}: words", "nobody has signed them (reviewed_by, reviewed_on)"))
        tags = [tag for tag in texts.tags if native(tag) == code]
        if not tags:
            found.append(Problem(f"{code}: texts", "there are none"))
        for tag in tags:
            keys = texts.keys_of(tag)
            unsigned = [key for key in keys if not signed(key, tag)]
            if unsigned:
                few = ", ".join(unsigned[:3])
                words = f"{len(unsigned)} of {len(keys)} are not reviewed ({few} ...)"
                found.append(Problem(f"{tag}: texts", words))
    return found


def _words(root: Path, problems: list[Problem]) -> Iterator[str]:
    lexicons = load_lexicons(root / "messages", anew=True)
    questions = load_questions(root / "messages")
    yield f"Words: {', '.join(sorted(lexicons))}; {len(questions)} questions."


def _texts_and_schedules(root: Path, problems: list[Problem]) -> Iterator[str]:
    texts = load_texts(root)
    schedules = load_schedules(root / "messages", set(load_questions(root / "messages")), set(texts.keys))
    used = {f"schedule {name}": _sent_by(schedule) for name, schedule in schedules.items()}
    problems += check_texts(texts, texts.tags, used)
    problems += check_examples(texts, load_lexicons(root / "messages"))
    yield f"Texts: {len(texts.keys)} in {', '.join(texts.tags)}. Schedules: {', '.join(schedules)}."


def _sent_by(schedule: Schedule) -> list[str]:
    """The keys of all texts that a schedule may send."""
    advice = {contact.text for contact in schedule.contacts if contact.text}
    asked = {
        key for spec in schedule.contacts for key in (*spec.questions, *(also.ask for also in spec.also))
    }
    return sorted(advice | {f"{word}-{key}" for key in asked for word in ASKING})


def _rules(root: Path, problems: list[Problem]) -> Iterator[str]:
    texts = load_texts(root)
    untold = {
        key: [code for code in texts.languages if texts.status(key, code) is Status.missing]
        for key in texts.keys
    }
    rules = load_rules(root)
    proof = prove(rules, set(texts.keys), untold)
    problems += proof.problems
    yield proof.line
    yield NOT_COVERED
    shadow = [rule.id for rule in rules.rules if rule.shadow]
    if shadow:
        yield f"In the shadow, counted but not acted on: {', '.join(shadow)}."
    yield f"Occasions that need a person: {len(load_occasions(root))}."
    yield f"Hazards, each with its control and the tests that show it: {len(load_hazards(root))}."

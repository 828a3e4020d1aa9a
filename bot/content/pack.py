"""What a clinical lead signs: everything that decides what mothers are asked, told and escalated for, as one
page of plain text, and the hash over what it was made from.

Content comes in, Markdown goes out. A change of one word or number in any of it makes another hash.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from hashlib import sha256
from pathlib import Path

from bot.content.cases import load_cases
from bot.content.hazards import load_hazards
from bot.content.source import content_root
from bot.content.texts import Texts
from bot.core.expected import least_expected, most_expected
from bot.core.schedule import ContactSpec, Schedule
from bot.core.segments import count, sendable
from bot.core.triage import facts_from_json, triage
from bot.core.triage_rules import Occasion, Rule, RuleSet

AGES = (1, 2, 3, 4, 5, 6, 7, 10, 14, 21, 28, 42)
# The counts of the age table: heading, axis, and whether fewer is worse.
_COUNTS = (
    ("feeds at least", "feeds_few", True),
    ("wet nappies at least", "wet_nappies", True),
    ("dirty nappies at least", "dirty_nappies", True),
    ("pain at most", "pain", False),
)
# Words that replies are read by are signed language by language: see `signing`.
_SIGNED = (
    *(f"messages/{folder}" for folder in ("texts", "guides", "rules", "schedules", "cases")),
    "locales",
)


@cache
def files_digest(root: Path | None = None) -> str:
    """Give the SHA-256 over every file that is signed; read once, for content does not change under a run."""
    root, found = root or content_root(), sha256()
    files = sorted(
        file
        for folder in _SIGNED
        for file in (root / folder).rglob("*")
        if file.suffix in (".toml", ".po") and file.name != "staff.po"
    )
    files += sorted((root / "messages").glob("*.toml"))
    for file in files:
        found.update(f"{file.relative_to(root)}\0".encode() + file.read_bytes() + b"\0")
    return found.hexdigest()


def pack_digest(editions: Iterable[str], root: Path | None = None) -> str:
    """Give what is signed: the files, and the hashes of the editions that are in force in this service."""
    return sha256("\n".join([files_digest(root), *sorted(editions)]).encode()).hexdigest()


def pack(
    rules: RuleSet,
    local: Mapping[str, RuleSet],
    occasions: Mapping[str, Occasion],
    schedule: Schedule,
    texts: Texts,
    languages: Iterable[str],
    root: Path | None = None,
) -> Iterator[str]:
    """Give the page, line by line. `local` are the rules of sites whose protocol differs, by code."""
    root = root or content_root()
    yield from _ages(rules)
    yield from _rows(rules, root)
    yield from _rules("Rules, with thresholds", rules.rules)
    for site, its in sorted(local.items()):
        common = {rule.id: rule for rule in rules.rules}
        differs = [rule for rule in its.rules if common.get(rule.id) != rule]
        yield from _rules(f"Rules that differ at {site}", differs)
        gone = sorted(common.keys() - {rule.id for rule in its.rules})
        yield from ["", f"Not in force at {site}: {', '.join(gone) or 'none'}."]
    yield from _occasions(occasions)
    yield from _contacts(schedule)
    yield from _hazards(root)
    for code in languages:
        yield from _texts(texts, code)


def _ages(rules: RuleSet) -> Iterator[str]:
    yield from ["## What is expected, by day of life", ""]
    yield "| day | " + " | ".join(name for name, _, _ in _COUNTS) + " |"
    yield "|" + " --- |" * (len(_COUNTS) + 1)
    for k in AGES:
        cells = [
            least_expected(rules, axis, k) if fewer else most_expected(rules, axis, k)
            for _, axis, fewer in _COUNTS
        ]
        yield f"| {k} | " + " | ".join("-" if cell is None else f"{cell:g}" for cell in cells) + " |"


def _rows(rules: RuleSet, root: Path) -> Iterator[str]:
    yield from ["", "## Check rows, each with its outcome under these rules", ""]
    yield from ["| row | case | outcome | its source says | source |", "| --- | --- | --- | --- | --- |"]
    for case in load_cases(root):
        found = triage(facts_from_json(case.facts, rules.vocabulary), rules).urgency
        differs = "" if found is case.urgency else " **differs**"
        row = case.row or "-"
        yield f"| {row} | {case.says} | {found.name}{differs} | {case.urgency.name} | {case.source} |"


def _rules(title: str, rules: Iterable[Rule]) -> Iterator[str]:
    yield from ["", f"## {title}"]
    for rule in sorted(rules, key=lambda rule: (-rule.urgency, rule.id)):
        every = [comparison.text for comparison in rule.all]
        some = [comparison.text for comparison in rule.any]
        when = " and ".join([*every, *(["any of: " + "; ".join(some)] if some else [])])
        yield from [
            "",
            f"### {rule.id}: {rule.urgency.name}{', tried out only' if rule.shadow else ''}",
            f"- Why: {rule.why}",
            f"- When: {when}; {_window(rule)}",
            f"- Source: {rule.source}",
            f"- Text to her: {rule.advice}. Ask: {rule.ask}",
        ]


def _window(rule: Rule) -> str:
    window = rule.window
    until = "on" if window.k_to is None else f"to day {window.k_to}"
    hours = "" if window.hours_under is None else f", under {window.hours_under:g} hours"
    since = "" if not window.hours_from else f", from {window.hours_from:g} hours"
    return f"from day {window.k_from} {until}{since}{hours}"


def _occasions(occasions: Mapping[str, Occasion]) -> Iterator[str]:
    yield from ["", "## What needs a person without a clinical rule", ""]
    for each in sorted(occasions.values(), key=lambda one: (-one.urgency, one.id)):
        yield f"- {each.id}: {each.urgency.name}. {each.why} Source: {each.source}"


def _contacts(schedule: Schedule) -> Iterator[str]:
    yield from ["", f"## Schedule {schedule.name}", ""]
    for spec in schedule.contacts:
        if spec.on:
            yield f"- {spec.key}: {_when(spec)}. {', '.join(spec.questions) or spec.text}. {spec.meaning}"


def _when(spec: ContactSpec) -> str:
    clock = f" at {spec.at:%H:%M}" if spec.at else ""
    only = f", only {spec.condition.value}" if spec.condition else ""
    return f"{spec.kind.value}, {spec.anchor.value} {spec.days:+d} days{clock}{only}"


def _hazards(root: Path) -> Iterator[str]:
    yield from ["", "## Hazards and their controls", ""]
    for id, each in load_hazards(root).items():
        left = f" Not covered: {each.left}" if each.left else ""
        yield f"- {id}: {each.hazard} Cause: {each.cause} Control: {each.control}{left}"


def _texts(texts: Texts, code: str) -> Iterator[str]:
    yield from ["", f"## Every text in {code}"]
    for key in texts.keys_of(code):
        yield from ["", f"### {key} ({texts.status(key, code).value})"]
        for neutral in (False, True)[: 2 if texts.entry(key).neutral is not None else 1]:
            words, _ = texts.words(key, code, neutral=neutral)
            counted = count(sendable(words))
            shared = "for a shared phone: " if neutral else ""
            yield f"- {shared}{words} ({counted.encoding}, {counted.units} units before names are filled in)"

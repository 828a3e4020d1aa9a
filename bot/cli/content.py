"""Commands about content, which need no database: read, triage, segments, check (but for --sites)."""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from functools import cache
from typing import Any

import click

from bot import settings, wiring
from bot.cli import jsonl
from bot.content.check import Report, check_everything, not_ready
from bot.content.lexicon import load_lexicons
from bot.content.rules import load_rules
from bot.content.source import content_root
from bot.core import segments as sms
from bot.core.cover import lacks
from bot.core.errors import Invalid, Problem
from bot.core.reader import Lexicon, read
from bot.core.reader.report import to_json as reading_to_json
from bot.core.triage import RuleSet, facts_from_json, triage
from bot.core.triage import to_json as verdict_to_json
from bot.steps.languages import unsigned
from bot.steps.overlays import prove_sites
from bot.steps.text_reviews import text_reviews
from bot.steps.words import word_faults
from bot.store.sites import all_sites

_JSONL = click.option("--jsonl", "as_lines", is_flag=True, help="Read JSON lines from standard input.")


@cache
def _lexicons() -> Mapping[str, Lexicon]:
    return load_lexicons(content_root() / "messages")


@cache
def _rules() -> RuleSet:
    return load_rules(content_root())


def _read_one(request: Mapping[str, Any]) -> Mapping[str, Any]:
    language = request["language"]
    problems = []
    if language not in _lexicons():
        problems.append(Problem("language", f"is not one of {', '.join(sorted(_lexicons()))}"))
    if not isinstance(request["text"], str):
        problems.append(Problem("text", "must be a text"))
    asking = request.get("asking", "none")
    asked = [asking] if isinstance(asking, str) else asking
    if not isinstance(asked, list) or not all(isinstance(key, str) for key in asked):
        problems.append(Problem("asking", "must be a question id, none, or a list of ids"))
    age = request.get("age_days")
    if age is not None and (not isinstance(age, int) or isinstance(age, bool) or age < 0):
        problems.append(Problem("age_days", "must be a whole number, 0 on the day of birth"))
    if problems:
        raise Invalid(problems)
    lexicon = _lexicons()[language]
    unknown = [key for key in asked if key != "none" and key not in lexicon.questions]
    if unknown:
        raise Invalid([Problem("asking", f"unknown question {key}") for key in unknown])
    return reading_to_json(read(request["text"], [k for k in asked if k != "none"], age, lexicon))


@click.command("read")
@_JSONL
@click.option("--language", default="en", show_default=True)
@click.option("--asking", multiple=True, help="Question id that is open; repeat in the order asked.")
@click.option("--age-days", type=int, default=None)
@click.argument("text", required=False)
def read_command(
    as_lines: bool, language: str, asking: tuple[str, ...], age_days: int | None, text: str | None
) -> None:
    """Show what the program understands in a reply.

    With --jsonl: {"id","language","asking","age_days","text"} a line. The reading alone is reported; until a
    language's words are signed by a clinician who speaks it, a person reads every reply as well.
    """
    if as_lines:
        jsonl.run(
            _read_one,
            allowed=frozenset({"language", "asking", "age_days", "text"}),
            required=frozenset({"language", "text"}),
        )
        return
    if text is None:
        raise click.UsageError("Give a text, or --jsonl.")
    request = {"language": language, "asking": list(asking) or "none", "age_days": age_days, "text": text}
    _show(_read_one(request))


def _triage_one(request: Mapping[str, Any]) -> Mapping[str, Any]:
    if not isinstance(request["facts"], dict):
        raise Invalid([Problem("facts", "must be an object")])
    return verdict_to_json(triage(facts_from_json(request["facts"], _rules().vocabulary), _rules()))


@click.command("triage")
@_JSONL
@click.option("--facts", "show_facts", is_flag=True, help="List every fact that may be given, with its unit.")
def triage_command(as_lines: bool, show_facts: bool) -> None:
    """Judge facts about one baby and its mother.

    With --jsonl: {"id","facts":{...}} a line. Follow your local protocol and licensed practice.
    """
    if show_facts:
        for line in _rules().describe_facts():
            click.echo(line)
        return
    if not as_lines:
        raise click.UsageError("Give --jsonl or --facts.")
    jsonl.run(_triage_one, allowed=frozenset({"facts"}), required=frozenset({"facts"}))


def _segments_one(request: Mapping[str, Any]) -> Mapping[str, Any]:
    if not isinstance(request["text"], str):
        raise Invalid([Problem("text", "must be a text")])
    counted = sms.count(request["text"])
    return {"encoding": counted.encoding, "units": counted.units, "segments": counted.segments}


@click.command("segments")
@_JSONL
@click.argument("text", required=False)
def segments_command(as_lines: bool, text: str | None) -> None:
    """Count what a text costs: alphabet, units and parts (3GPP TS 23.038 and 23.040)."""
    if as_lines:
        jsonl.run(_segments_one, allowed=frozenset({"text"}), required=frozenset({"text"}))
        return
    if text is None:
        raise click.UsageError("Give a text, or --jsonl.")
    _show(_segments_one({"text": text}))


@click.command("check")
@click.option(
    "--release",
    is_flag=True,
    help="Also say which languages no named reviewer has signed; with --site, here counts too.",
)
@click.option(
    "--site", "--sites", "sites", is_flag=True, help="Also what each site lacks, and its own rules."
)
def check_command(release: bool, sites: bool) -> None:
    """Validate messages/, locales/ and the rules; every fault is listed, exit 1 if there is any.

    The proof of the rules covers what it says; it does not cover whether a threshold is clinically right, nor
    how answers become facts, nor one age beside another: see bot/content/check_rules.py.
    """
    report = check_everything(content_root())
    if sites:
        _check_sites(report)
    for line in report.lines:
        click.echo(line)
    for problem in report.problems:
        click.echo(f"FAULT {problem}", err=True)
    open_languages = _not_ready(sites) if release else []
    for problem in open_languages:
        click.echo(f"NOT READY {problem}", err=True)
    if report.problems or open_languages:
        sys.exit(1)


def _not_ready(here: bool) -> list[Problem]:
    """`here`: what was signed in this installation counts as well as what its files say."""
    if not here:
        return not_ready(content_root())
    program = wiring.build(settings.load())
    with program.store.read() as conn:
        reviews = text_reviews(conn, program.factory.texts)
        unsigned_words = unsigned(conn, program.factory.lexicons)
    signed_words = program.factory.lexicons.keys() - unsigned_words
    return not_ready(content_root(), signed_words, lambda key, tag: reviews(key, tag).is_signed)


def _check_sites(report: Report) -> None:
    program = wiring.build(settings.load())
    with program.store.read() as conn:
        report.problems += word_faults(conn, program.clock.now())
        for each in all_sites(conn):
            missing = lacks(each)
            report.lines.append(f"{each.code}: {'may not go live' if missing else 'ready to go live'}.")
            report.problems += [Problem(each.code, words) for words in missing]
        for site, proof in prove_sites(conn, program.clock.now()):
            report.lines.append(f"{site}: {proof.line}")
            report.problems += [Problem(f"{site}: {each.field}", each.message) for each in proof.problems]


def _show(result: Mapping[str, Any]) -> None:
    click.echo(json.dumps(result, ensure_ascii=False, indent=2))


COMMANDS = (read_command, triage_command, segments_command, check_command)

"""The command simulate: what comes of a schedule and rules with invented mothers; words, JSON or a page."""

from __future__ import annotations

import json
import os
import sys
from dataclasses import replace
from pathlib import Path

import click

from bot import settings, wiring
from bot.cohort.assumed import default_text
from bot.cohort.figures import lines
from bot.cohort.outcome import Outcome, outcome
from bot.cohort.page import page
from bot.cohort.programme import read_schedule, shipped, world_of
from bot.cohort.run import run
from bot.cohort.world import World
from bot.content.factory import changed_body, rules_body, rules_of
from bot.core.errors import DunnockError
from bot.core.follow import Content
from bot.core.triage_rules import RuleSet
from bot.steps.backtest import changed_rules

_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)
_NEW = click.Path(dir_okay=False, path_type=Path)


@click.command("simulate")
@click.option("--mothers", type=click.IntRange(1), default=1000, show_default=True)
@click.option("--days", type=click.IntRange(1, 366), default=42, show_default=True, help="Of each mother.")
@click.option("--seed", type=int, default=1, show_default=True, help="The same seed gives the same run.")
@click.option("--counsellors", type=click.IntRange(1, 10_000), help="In every shift; else as assumed.")
@click.option("--assume", type=_FILE, help="TOML file with what you assume otherwise.")
@click.option("--show-assumed", is_flag=True, help="Print every assumption, with its meaning, and stop.")
@click.option("--schedule", type=_FILE, help="A changed schedule, beside the standing one.")
@click.option(
    "--rules", type=_FILE, help="Changed rules, as for `dunnock backtest`, beside the standing ones."
)
@click.option("--without", multiple=True, metavar="RULE", help="Leave a rule out, likewise; repeatable.")
@click.option("--in-force", is_flag=True, help="What the database has in force stands, not what ships.")
@click.option("--processes", type=click.IntRange(1), default=os.cpu_count() or 1, show_default=True)
@click.option("--json", "as_json", is_flag=True, help="Print everything as JSON.")
@click.option("--html", type=_NEW, help="Write a page with drawings and tables to this file.")
def simulate_command(
    mothers: int,
    days: int,
    seed: int,
    counsellors: int | None,
    assume: Path | None,
    show_assumed: bool,
    schedule: Path | None,
    rules: Path | None,
    without: tuple[str, ...],
    in_force: bool,
    processes: int,
    as_json: bool,
    html: Path | None,
) -> None:
    """Let invented mothers live through the programme on a virtual clock, and count what comes of it.

    What the program does is the program itself: schedule, texts, reader, rules, inbox. How mothers, phones
    and counsellors behave is assumed: compare runs, and take no figure for how real mothers are.

    With --schedule, --rules or --without the same mothers live twice, as things stand and as changed, and
    both are shown side by side. Nothing is changed or sent. A clinical lead decides whether a change is safe.
    """
    if show_assumed:
        click.echo(default_text(), nl=False)
        return
    contents = _contents(_text(schedule), _text(rules), without, in_force)
    worlds = [world_of(each, _text(assume), days, seed) for each in contents]
    found = [_one(world, mothers, counsellors, processes) for world in worlds]
    if html:
        html.write_text(page(found, _text(assume)), "utf-8")
        click.echo(f"Written to {html}.", err=as_json)
    if as_json:
        result = {"now": found[0], "changed": found[1]} if len(found) > 1 else found[0]
        click.echo(json.dumps(result, ensure_ascii=False, indent=2, sort_keys=True))
    elif not html:
        click.echo("\n".join(lines(found)))


def _contents(schedule: str, rules: str, without: tuple[str, ...], in_force: bool) -> list[Content]:
    """What stands, and beside it what was changed, if anything was. Raises Invalid with every fault."""
    find = _in_force if in_force else _shipped
    standing, judging = find(rules, without)
    changed = standing
    if schedule:
        changed = replace(changed, schedule=read_schedule(schedule))
    if rules or without:
        changed = replace(changed, rules=judging)
    return [standing] if changed is standing else [standing, changed]


def _shipped(rules: str, without: tuple[str, ...]) -> tuple[Content, RuleSet]:
    return shipped(), rules_of(changed_body(rules_body(), rules, without))


def _in_force(rules: str, without: tuple[str, ...]) -> tuple[Content, RuleSet]:
    program = wiring.build(settings.load())
    with program.store.read() as conn:
        body = changed_rules(conn, rules, without, program.clock.now())
    return program.content(), rules_of(body)


def _one(world: World, mothers: int, counsellors: int | None, processes: int) -> Outcome:
    with click.progressbar(length=mothers, label="Mothers", file=sys.stderr) as bar:
        tally = run(world, mothers, processes, bar.update)
    return outcome(world, tally, mothers, counsellors or world.assumed.staff.counsellors)


def _text(path: Path | None) -> str:
    try:
        return path.read_text("utf-8") if path else ""
    except UnicodeDecodeError:
        raise DunnockError(f"{path} is not UTF-8 text.") from None


COMMANDS = (simulate_command,)

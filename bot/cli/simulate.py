"""The command `simulate`: options come in, a run of the cohort goes out, as JSON, as words or as a page."""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path

import click

from bot.cohort.assumed import default_text
from bot.cohort.figures import lines
from bot.cohort.outcome import Outcome, outcome
from bot.cohort.page import page
from bot.cohort.programme import changed, shipped, world_of
from bot.cohort.run import run
from bot.cohort.world import World
from bot.core.errors import DunnockError

_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command("simulate")
@click.option("--mothers", type=click.IntRange(1), default=1000, show_default=True)
@click.option(
    "--days", type=click.IntRange(1, 366), default=42, show_default=True, help="Each is followed so long."
)
@click.option("--seed", type=int, default=1, show_default=True, help="The same seed gives the same run.")
@click.option("--counsellors", type=click.IntRange(1, 10_000), help="In every shift; else as assumed.")
@click.option("--assume", type=_FILE, help="TOML file with what you assume otherwise; see --show-assumed.")
@click.option("--show-assumed", is_flag=True, help="Print every assumption, with its meaning, and stop.")
@click.option("--schedule", type=_FILE, help="A changed schedule, beside the one that ships.")
@click.option("--rules", "overlay", type=_FILE, help="Changed rules, in the form of `dunnock overlay set`.")
@click.option("--processes", type=click.IntRange(1), default=os.cpu_count() or 1, show_default=True)
@click.option("--json", "as_json", is_flag=True, help="Print everything as JSON.")
@click.option(
    "--html", type=click.Path(dir_okay=False, path_type=Path), help="Write a page with plots there."
)
def simulate_command(
    mothers: int,
    days: int,
    seed: int,
    counsellors: int | None,
    assume: Path | None,
    show_assumed: bool,
    schedule: Path | None,
    overlay: Path | None,
    processes: int,
    as_json: bool,
    html: Path | None,
) -> None:
    """Let invented mothers live through the programme on a virtual clock, and count what comes of it.

    What the program does is the program itself: schedule, texts, reader, rules, inbox. How mothers, phones
    and counsellors behave is assumed, so compare runs with each other; no figure here says how real mothers
    are. With --schedule or --rules the same mothers live twice, as the programme ships and as changed, side
    by side."""
    if show_assumed:
        click.echo(default_text())
        return
    contents = [shipped()]
    if schedule or overlay:
        contents.append(changed(contents[0], _text(schedule), _text(overlay)))
    worlds = [world_of(content, _text(assume), days, seed) for content in contents]
    found = [_one(world, mothers, counsellors, processes) for world in worlds]
    if html:
        html.write_text(page(found, _text(assume)), "utf-8")
        click.echo(f"Written to {html}.", err=as_json)
    if as_json:
        result = found[0] if len(found) == 1 else {"now": found[0], "changed": found[1]}
        click.echo(json.dumps(result, ensure_ascii=False, indent=2, sort_keys=True))
    elif not html:
        click.echo("\n".join(lines(found)))


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

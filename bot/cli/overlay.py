"""Commands about the thresholds of one site: overlay set, show, withdraw."""

from __future__ import annotations

from pathlib import Path

import click

from bot import settings, wiring
from bot.content.overlay import read_overlay
from bot.core.errors import DunnockError
from bot.steps import overlays as steps

_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)
_WHY = click.option("--why", required=True, help="Who decided this, and why; kept for good.")


@click.group("overlay")
def overlay_group() -> None:
    """Where the protocol of a site differs from the common rules."""


@overlay_group.command("set")
@click.argument("site")
@click.argument("file", type=_FILE)
@_WHY
def overlay_set(site: str, file: Path, why: str) -> None:
    """Make the overlay in a TOML FILE hold at SITE from now on, in the place of the one before.

    A table for each rule that differs: urgency (routine, same_day, go_now or off), thresholds, why, and
    always reason and source. The rules as they would hold are proved first; nothing changes if that fails.
    """
    program = wiring.build(settings.load())
    try:
        overlay = read_overlay(file.read_text("utf-8"))
    except UnicodeDecodeError:
        raise DunnockError(f"{file} is not UTF-8 text.") from None
    proof, milder = steps.put_overlay(program.store, site, overlay, why, program.clock.now())
    click.echo(f"{proof.line}\nHolds at {site} from now on: {', '.join(sorted(overlay))}.")
    if milder:
        click.echo(f"MILDER than the common rules: {', '.join(milder)}. A clinical lead must answer for it.")


@overlay_group.command("show")
def overlay_show() -> None:
    """Say where the common rules do not hold, since when, and why."""
    program = wiring.build(settings.load())
    with program.store.read() as conn:
        found = steps.overlays(conn, program.clock.now())
    for edition in found:
        click.echo(f"{edition.name}, edition {edition.number} of {edition.at:%Y-%m-%d}: {edition.why}")
        for rule, entry in sorted(edition.body.items()):
            what = ", ".join(f"{key} {value}" for key, value in entry.items() if key in _CHANGES)
            click.echo(f"  {rule}: {what}. {entry['reason']} Source: {entry['source']}")
    if not found:
        click.echo("The common rules hold at every site.")


@overlay_group.command("withdraw")
@click.argument("site")
@_WHY
def overlay_withdraw(site: str, why: str) -> None:
    """Make the common rules hold at SITE again."""
    program = wiring.build(settings.load())
    steps.withdraw_overlay(program.store, site, why, program.clock.now())
    click.echo(f"The common rules hold at {site} from now on.")


_CHANGES = ("urgency", "thresholds")
COMMANDS = (overlay_group,)

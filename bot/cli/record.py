"""Commands about the record of one pair: incident, hold."""

from __future__ import annotations

import json
import os
from pathlib import Path
from uuid import UUID

import click
from jinja2 import Environment, FileSystemLoader

from bot import settings, wiring
from bot.core.errors import DunnockError
from bot.steps.incident import incident
from bot.store.record import hold, note_taken_out, release
from bot.store.sites import all_sites
from bot.store.viewer import Role, Viewer

_OPERATOR, _NOBODY = "operator", UUID(int=0)


@click.command("incident")
@click.argument("enrolment")
@click.option("--out", type=click.Path(file_okay=False, path_type=Path), default=Path(), help="Folder.")
def incident_command(enrolment: str, out: Path) -> None:
    """Write the whole story of one ENROLMENT, in order, as one HTML and one JSON file.

    Messages with their times at the gateway and here, readings, facts and editions of each decision with its
    replay, alerts, who opened what, the state of worker and gateways. The files hold what she wrote: they can
    be read by you alone, and that they were made stands in the audit.
    """
    wanted, program = _id(enrolment), wiring.build(settings.load())
    now = program.clock.now()
    with program.store.write() as conn:
        sites = frozenset(site.id for site in all_sites(conn))
        found = incident(conn, Viewer(_NOBODY, Role.admin, sites, is_token=True), wanted, now)
        note_taken_out(conn, wanted, _OPERATOR, now)
    out.mkdir(parents=True, exist_ok=True)
    here = FileSystemLoader(Path(__file__).parent)
    page = Environment(loader=here, autoescape=True).get_template("incident.html").render(it=found)
    for ending, text in (("json", json.dumps(found, ensure_ascii=False, indent=1)), ("html", page)):
        path = out / f"incident-{wanted}.{ending}"
        _write(path, text)
        click.echo(path)


@click.command("hold")
@click.argument("enrolment")
@click.option("--why", required=True, help="Who asked for it, and the reference.")
@click.option("--release", "lift", is_flag=True, help="Lift the hold that stands.")
def hold_command(enrolment: str, why: str, lift: bool) -> None:
    """Put an ENROLMENT under a legal hold: nothing of it may be removed, however old, until it is lifted."""
    wanted, program = _id(enrolment), wiring.build(settings.load())
    with program.store.write() as conn:
        (release if lift else hold)(conn, wanted, why.strip(), program.clock.now())
    click.echo("Lifted." if lift else "Held: nothing of it is removed until the hold is lifted.")


def _id(text: str) -> UUID:
    try:
        return UUID(text)
    except ValueError:
        raise DunnockError(f"{text} is not the id of an enrolment; it looks like 0199....-....") from None


def _write(path: Path, text: str) -> None:
    """For its owner only, from the first byte on."""
    with os.fdopen(
        os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w", encoding="utf-8"
    ) as file:
        file.write(text)


COMMANDS = (incident_command, hold_command)

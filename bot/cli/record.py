"""Commands about the record of pairs: incident, hold, erase."""

from __future__ import annotations

import json
import os
from datetime import timedelta
from pathlib import Path
from uuid import UUID

import click
from jinja2 import Environment, FileSystemLoader

from bot import settings, wiring
from bot.core.errors import DunnockError
from bot.steps.erasing import erase_old, erase_one
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
    if not why.strip():
        raise click.UsageError("Say with --why who asked for it, and the reference.")
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


@click.command("erase")
@click.argument("enrolment", required=False)
@click.option("--why", default="", help="Who asked for it, and the reference; without a name.")
@click.option("--old", is_flag=True, help="All that [retention] no longer keeps, at once.")
def erase_command(enrolment: str | None, why: str, old: bool) -> None:
    """Take every name, number, text and note of an ENROLMENT out of the database, for good.

    Only after the end of the follow-up, with nothing open and no legal hold. States, dates and numbers stay
    under ids, for reports. The worker does the same for all whose time is over, where the configuration says
    how long records are kept: [retention] days.
    """
    if bool(enrolment) == old or (enrolment and not why.strip()):
        raise click.UsageError("Give one ENROLMENT with --why, or --old.")
    wanted = _id(enrolment) if enrolment else None
    program = wiring.build(settings.load())
    if wanted:
        erase_one(program.store, wanted, why.strip(), program.clock.now())
        click.echo("Erased.")
        return
    if program.config.retention is None:
        raise DunnockError("The configuration does not say how long records are kept: [retention] days = ...")
    keep, total = timedelta(days=program.config.retention.days), 0
    while done := erase_old(program.store, keep, program.clock.now(), program.config.limits.batch):
        total += done
    click.echo(f"Erased: {total} records of pairs and replies of strangers.")


COMMANDS = (incident_command, hold_command, erase_command)

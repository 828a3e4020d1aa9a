"""The command that prints a pair's plan: what she will be sent, when, in her site's time."""

from __future__ import annotations

import os
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

import click

from bot import settings, wiring
from bot.cli import jsonl
from bot.clock import machine_now
from bot.content.factory import load_factory
from bot.content.site import read_site
from bot.core.enrolment import Terms, examine
from bot.core.errors import DunnockError, Invalid, Problem
from bot.core.follow import Content, follow
from bot.core.follow.events import Enrolled
from bot.core.pair import Site
from bot.core.plan import planned
from bot.store.sites import all_sites

_ENROLMENT = frozenset(
    {
        "external_id", "site", "mother", "babies", "discharged_at", "consent", "preferred_hour",
        "follow_up_by", "second_contact", "lives_at", "nearest_facility", "feeding_plan", "confirmed",
    }
)  # fmt: skip


@click.command("plan")
@click.option("--jsonl", "as_lines", is_flag=True, help="Read JSON lines from standard input.")
@click.option(
    "--site",
    "files",
    multiple=True,
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="TOML file of a site, as for `dunnock site add`; repeat. Without it: the sites of the database.",
)
def plan_command(as_lines: bool, files: tuple[Path, ...]) -> None:
    """Print the contacts of an enrolment, with each local and UTC time.

    With --jsonl: an enrolment, as for the API, and `now` (a time with its offset) a line. Contacts whose time
    is over at `now` are left out.
    """
    if not as_lines:
        raise click.UsageError("Give --jsonl.")
    sites = {site.code: site for site in _sites(files)}
    jsonl.run(
        lambda request: _plan_one(request, sites),
        allowed=_ENROLMENT | {"now"},
        required=frozenset({"now", "site", "mother", "babies", "discharged_at"}),
    )


def _sites(files: tuple[Path, ...]) -> list[Site]:
    if files:
        return [read_site(path.read_text("utf-8"), machine_now()) for path in files]
    if "DUNNOCK_DATABASE_URL" not in os.environ:
        raise DunnockError("Name the site with --site FILE.toml, or set DUNNOCK_DATABASE_URL.")
    program = wiring.build(settings.load())
    with program.store.read() as conn:
        return all_sites(conn)


def _plan_one(request: Mapping[str, Any], sites: Mapping[str, Site]) -> Mapping[str, Any]:
    factory = load_factory()
    now = _instant(request["now"])
    enrolment = {key: value for key, value in request.items() if key not in ("now", "id")}
    enrolment.setdefault("external_id", str(request.get("id") or "plan"))
    examined = examine(enrolment, Terms(sites, tuple(factory.lexicons), demo=True), now)
    if examined.pair is None:
        raise Invalid([Problem(fault.field, fault.message) for fault in examined.faults])
    content = Content(
        factory.schedules["standard"], factory.rules, factory.occasions, frozenset(factory.questions)
    )
    pair, _ = follow(examined.pair, Enrolled(bedside=True), content, now)
    contacts = [each for each in planned(pair, content.schedule) if each.valid_until > now]
    return {
        "contacts": [
            {
                "key": each.key,
                "occurrence": each.occurrence,
                "kind": each.kind.value,
                "due_local": each.due_local.isoformat(),
                "due_at": each.due_at.isoformat(),
                "questions": list(each.questions),
            }
            for each in contacts
        ]
    }


def _instant(text: object) -> datetime:
    try:
        found = datetime.fromisoformat(str(text))
        if found.tzinfo is not None:
            return found
    except ValueError:
        pass
    raise Invalid([Problem("now", "write a time with its offset, such as 2026-03-02T08:30:00+03:00")])


COMMANDS = (plan_command,)

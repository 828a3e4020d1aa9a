"""Commands about sites, staff and enrolments: site add, staff add, token, enrol."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import click

from bot import settings, wiring
from bot.clock import machine_now
from bot.content.site import read_site
from bot.core.cover import lacks
from bot.core.errors import DunnockError
from bot.core.pair import Site
from bot.steps.accounts import EVERY_SITE, new_account
from bot.steps.enrolment_file import Report, enrol_csv
from bot.store.sites import add_site, all_sites, change_site, site_by_code
from bot.store.tokens import add_token
from bot.store.values import is_demo
from bot.store.viewer import Role

_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)
_ROLES = click.Choice([role.value for role in Role])


@click.command("enrol")
@click.argument("file", type=_FILE)
def enrol_command(file: Path) -> None:
    """Enrol every mother of a CSV file, one row a baby.

    Each external_id is stored whole or refused whole, every bad row is told with its reason, and the file can
    be given again: who is enrolled already is left as she stands.
    """
    program = wiring.build(settings.load())
    with program.store.read() as conn:
        demo = is_demo(conn)
    report = enrol_csv(
        program.store,
        program.content(),
        file,
        languages=tuple(program.factory.lexicons),
        demo=demo,
        now=program.clock.now,
        progress=_progress,
    )
    for line in report.lines:
        click.echo(line, err=True)
    click.echo(report.summary)
    if report.refused:
        sys.exit(1)


def _progress(report: Report) -> None:
    if sys.stderr.isatty():
        click.echo(f"\r{report.rows} rows read", err=True, nl=False)


@click.group("site")
def site_group() -> None:
    """The facilities: their zones, opening days and numbers."""


@site_group.command("add")
@click.argument("file", type=_FILE)
def site_add(file: Path) -> None:
    """Add a site from a TOML file: zone, opening days, numbers, cover, whom a danger wakes, places."""
    program = wiring.build(settings.load())
    site = read_site(_text_of(file), program.clock.now())
    with program.store.write() as conn:
        add_site(conn, site)
    click.echo(f"Added {site.name} ({site.code}), {site.zone}.")
    _say_what_lacks(site)


@site_group.command("change")
@click.argument("file", type=_FILE)
def site_change(file: Path) -> None:
    """Take over the whole TOML file for the site whose code it names."""
    program = wiring.build(settings.load())
    given = read_site(_text_of(file), program.clock.now())
    with program.store.write() as conn:
        stands = site_by_code(conn, given.code)
        site = change_site(conn, replace(given, id=stands.id, revision=stands.revision))
    click.echo(f"Changed {site.name} ({site.code}), revision {site.revision}.")
    _say_what_lacks(site)


def _text_of(file: Path) -> str:
    try:
        return file.read_text("utf-8")
    except UnicodeDecodeError:
        raise DunnockError(f"{file} is not UTF-8 text.") from None


def _say_what_lacks(site: Site) -> None:
    """Mothers can't be enrolled there yet; whoever adds the site must hear it now."""
    for words in lacks(site):
        click.echo(f"Not ready to follow mothers: {words}.", err=True)


@click.group("staff")
def staff_group() -> None:
    """The accounts of the people who work with the pages."""


@staff_group.command("add")
@click.argument("login")
@click.option("--name", required=True)
@click.option("--role", type=_ROLES, required=True)
@click.option("--site", "sites", multiple=True, help=f"Code of a site; repeat, or '{EVERY_SITE}'.")
@click.option("--language", default="en", show_default=True, help="Of the pages.")
def staff_add(login: str, name: str, role: str, sites: tuple[str, ...], language: str) -> None:
    """Add an account; its password is shown once."""
    program = wiring.build(settings.load())
    password = new_account(program.store, login, name, Role(role), language, sites, machine_now())
    click.echo(f"Added {login}.\nPassword, shown once: {password}")


@click.command("token")
@click.argument("name")
@click.option("--role", type=_ROLES, default=Role.counsellor.value, show_default=True)
@click.option("--site", "sites", multiple=True, help=f"Code of a site; repeat, or '{EVERY_SITE}'.")
def token_command(name: str, role: str, sites: tuple[str, ...]) -> None:
    """Make a token for another system that calls the API; it is shown once and stored hashed."""
    program = wiring.build(settings.load())
    with program.store.write() as conn:
        chosen = all_sites(conn) if EVERY_SITE in sites else [site_by_code(conn, code) for code in sites]
        if not chosen:
            raise DunnockError("Name at least one site with --site; a token without sites can do nothing.")
        token = add_token(conn, name, Role(role), [site.id for site in chosen], machine_now())
    click.echo(f"Token of {name}, shown once: {token}")


COMMANDS = (enrol_command, site_group, staff_group, token_command)

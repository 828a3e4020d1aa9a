"""The command pack: what a clinical lead reads and signs before real mothers are enrolled."""

from __future__ import annotations

import click

from bot import settings, wiring
from bot.core.errors import Invalid, Problem
from bot.steps.approval import approve, pack_lines


@click.command("pack")
@click.option("--language", "languages", multiple=True, help="Only the texts of this language; repeatable.")
@click.option("--sign", is_flag=True, help="Record that the named clinical lead approves all of it.")
@click.option("--name", default="", help="The clinical lead who has read it.")
@click.option("--role", default="clinical lead", show_default=True)
@click.option("--registration", default="", help="Number in the register of the profession.")
def pack_command(languages: tuple[str, ...], sign: bool, name: str, role: str, registration: str) -> None:
    """Print what a clinical lead signs: age tables, check rows with their outcome, rules with thresholds,
    source and mark, schedule, hazards, every text.

    Until it is signed, and whenever anything in it has changed since, numbers of real mothers are refused;
    numbers in a demo are always taken.
    """
    program = wiring.build(settings.load())
    now = program.clock.now()
    unknown = sorted(set(languages) - set(program.factory.texts.languages))
    if unknown:
        known = ", ".join(program.factory.texts.languages)
        raise Invalid(
            [Problem("--language", f"there are no texts in '{each}'. Known: {known}.") for each in unknown]
        )
    if sign:
        with program.store.write() as conn:
            given = approve(conn, name, role, registration, program.clock.machine().date(), now)
        click.echo(f"Signed by {given.by}, {given.role}, {given.registration}, over {given.sha256[:12]}.")
        return
    with program.store.read() as conn:
        for line in pack_lines(conn, program.factory, program.content(), languages, now):
            click.echo(line)


COMMANDS = (pack_command,)

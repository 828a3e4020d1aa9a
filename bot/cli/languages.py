"""Commands about languages: how far each is, and signing one."""

from __future__ import annotations

import click

from bot import settings, wiring
from bot.core.errors import Invalid, Problem
from bot.steps.languages import sign, signature_of


@click.group("language")
def language_group() -> None:
    """The languages of mothers: which are signed by a clinician who speaks them."""


@language_group.command("list")
def list_command() -> None:
    """Say of each language who signed its words and texts. Until somebody has, a person reads every reply."""
    program = wiring.build(settings.load())
    with program.store.read() as conn:
        for code, language in program.factory.languages.items():
            if code not in program.factory.lexicons:
                continue
            signature, current = signature_of(conn, code)
            if signature is None:
                state = "not signed: a person reads every reply"
            elif not current:
                state = f"changed since {signature.by} signed on {signature.on}: a person reads every reply"
            else:
                state = (
                    f"signed by {signature.by}, {signature.role}, {signature.registration}, {signature.on}"
                )
            click.echo(f"{code}  {language.english:12} {state}")


@language_group.command("sign")
@click.argument("code")
@click.option("--name", required=True, help="The clinician who speaks the language and has read all of it.")
@click.option("--role", required=True)
@click.option("--registration", required=True, help="Number in the register of the profession.")
def sign_command(code: str, name: str, role: str, registration: str) -> None:
    """Record that a clinician who speaks CODE approved its words and texts as they stand. A later change of
    any of them makes the signature stale."""
    program = wiring.build(settings.load())
    if code not in program.factory.lexicons:
        known = ", ".join(sorted(program.factory.lexicons))
        raise Invalid([Problem("CODE", f"there are no words for '{code}'. Known: {known}.")])
    with program.store.write() as conn:
        signature = sign(conn, code, name, role, registration, program.clock.machine().date())
    click.echo(f"{code} is signed by {signature.by} over {signature.sha256[:12]}.")


COMMANDS = (language_group,)

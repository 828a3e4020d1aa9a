"""Commands for whoever runs the service: audit, trace, and a demo's clock."""

from __future__ import annotations

import re
import sys
from datetime import timedelta
from uuid import UUID

import click

from bot import settings, wiring
from bot.core.errors import DunnockError, Invalid, Problem
from bot.steps.forward import forward
from bot.store.audit import audit
from bot.store.gateways import denials
from bot.store.tracing import trace

_SPAN = re.compile(r"(?:(\d+)d)?(?:(\d+)h)?(?:(\d+)m)?")


@click.command("audit")
def audit_command() -> None:
    """Prove that nobody is lost: list every pair without exactly one owner, and all that is late or stuck.

    Prints ids only. Exit 1 if there is anything to list.
    """
    program = wiring.build(settings.load())
    with program.store.read() as conn:
        found = audit(conn, program.clock.now(), program.clock.machine())
        denied = denials(conn)
    for denial in denied:
        since = denial.since.isoformat(timespec="seconds")
        click.echo(f"the gateway {denial.gateway} denies us ({denial.reason}) since {since}")
    for fault in found:
        since = fault.since.isoformat(timespec="seconds") if fault.since else "-"
        click.echo(f"{fault.what}: {fault.table} {fault.id} since {since}")
    if found or denied:
        click.echo(f"{len(found) + len(denied)} to look at.")
        sys.exit(1)
    click.echo("Every pair has exactly one owner; nothing is late or stuck.")


@click.command("trace")
@click.argument("reply")
def trace_command(reply: str) -> None:
    """Show one reply's walk through the program, room by room. REPLY is its id."""
    try:
        wanted = UUID(reply)
    except ValueError:
        raise DunnockError(f"{reply} is not the id of a reply; it looks like 0199....-....") from None
    program = wiring.build(settings.load())
    with program.store.read() as conn:
        for line in trace(conn, wanted):
            click.echo(line)


@click.group("clock")
def clock_group() -> None:
    """The programme time of a demo database."""


@clock_group.command("forward")
@click.argument("span")
def clock_forward(span: str) -> None:
    """Move a demo's clock by SPAN, such as 36h or 2d12h, doing at each moment what is due there."""
    program = wiring.build(settings.load())
    until = program.clock.now() + _span(span)
    senders = wiring.senders(program)
    try:
        for moment, done in forward(program.store, program.clock, wiring.passes(program, senders), until):
            if done:
                click.echo(f"{moment:%a %d %b %H:%M} UTC  {done} done")
    finally:
        for sender in senders:
            sender.close()
    click.echo(f"Programme time is now {program.clock.now():%a %d %b %Y %H:%M} UTC.")


def _span(text: str) -> timedelta:
    found = _SPAN.fullmatch(text.strip())
    if not found or not any(found.groups()):
        raise Invalid([Problem("SPAN", "write days, hours or minutes, such as 36h, 2d or 1d12h30m")])
    days, hours, minutes = (int(part or 0) for part in found.groups())
    return timedelta(days=days, hours=hours, minutes=minutes)


COMMANDS = (audit_command, trace_command, clock_group)

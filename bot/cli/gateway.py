"""Commands about gateways: try a profile on paper, check a gateway with a text to ourselves."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import TextIO

import click

from bot import settings, wiring
from bot.clock import machine_now
from bot.core.errors import DunnockError
from bot.core.outbox import OutboundText
from bot.core.segments import count
from bot.gateway.incoming import e164, read_replies, read_reports
from bot.gateway.outgoing import outcome_of, request_for, too_long
from bot.gateway.pasted import pasted_answer, pasted_hook
from bot.gateway.profile import Profile, make_profile
from bot.gateway.wire import Wire, load_wire, shipped
from bot.steps.looping import loop, told

_ID = "019a0000-0000-7000-8000-000000000001"
_OURS, _MOTHER = "+447700900001", "+447700900123"  # from numbers kept free for drama
_EXAMPLES = ("8 feeds + 6 wet: well done!", "كم مرة رضع اليوم؟")


@click.group("gateway")
def gateway_group() -> None:
    """The services that carry texts: which profiles there are, what they say, whether a gateway works."""


@gateway_group.command("profiles")
def profiles_command() -> None:
    """List the profiles that ship. Copy the one whose shape is nearest to your provider's page."""
    for name in shipped():
        click.echo(f"{name:8} {load_wire(name).about}")


@gateway_group.command("try")
@click.argument("profile")
@click.option(
    "--example", is_flag=True, help="Print the exact request that a text would make, in both alphabets."
)
@click.option("--answer", type=click.File("r", "utf-8"), help="How would this answer to our request be read?")
@click.option("--reply", type=click.File("r", "utf-8"), help="How would this reply at our hook be read?")
@click.option("--receipt", type=click.File("r", "utf-8"), help="How would this receipt at our hook be read?")
@click.option("--text", help="Use this text instead of the examples.")
def try_command(
    profile: str,
    example: bool,
    answer: TextIO | None,
    reply: TextIO | None,
    receipt: TextIO | None,
    text: str | None,
) -> None:
    """Show on paper what PROFILE says; nothing is sent. PROFILE is one that ships, or a file: ./ours.toml.

    Paste what the provider's page shows, or what a log holds, into a file (or - for standard input): a whole
    HTTP message, an address with its query, or the body alone.
    """
    made = _on_paper(load_wire(profile, Path.cwd()))
    if not (answer or reply or receipt):
        example = True
    if example or text:
        for words in (text,) if text else _EXAMPLES:
            click.echo("\n".join(_request(made, words)) + "\n")
        click.echo("\n".join(_wanted(made)))
    if answer:
        outcome = outcome_of(made, pasted_answer(answer.read()), _ID, machine_now())
        click.echo(f"This answer is read as: {told(outcome)}")
    if reply:
        for line in _replies(made, reply.read()):
            click.echo(line)
    if receipt:
        for line in _receipts(made, receipt.read()):
            click.echo(line)


def _on_paper(wire: Wire) -> Profile:
    """A gateway with made-up settings, in capitals, so that nothing secret is ever printed."""
    names = wire.settings | {"user", "password", "token", "hook_user"}
    secret = (
        "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw" if wire.trust.by == "standard" else "KEY-OF-OUR-SETTINGS"
    )
    return make_profile(
        "name",
        wire=wire,
        url="https://gateway.example/send",
        sender=_OURS,
        secrets=[secret],
        settings={name: name.upper() for name in names},
        public_url="https://our-host.example",
        addresses=["192.0.2.0/24"] if wire.trust.by == "addresses" else (),
    )


def _request(made: Profile, words: str) -> Iterator[str]:
    counted = count(words)
    yield f"A text of {counted.units} units in {counted.encoding}, {counted.segments} part(s):  {words}"
    text = OutboundText(_ID, _MOTHER, words, machine_now() + timedelta(hours=6))
    refused = too_long(made, text)
    if refused is not None:
        yield f"  is refused: {refused}"
        return
    request = request_for(made, text, machine_now())
    yield f"  {request.method} {request.url}"
    for name, value in request.headers.items():
        yield f"  {name}: {value}"
    if request.body:
        yield f"\n  {request.body.decode('utf-8', 'replace')}"


def _wanted(made: Profile) -> Iterator[str]:
    """What the gateway must be told of our hooks, and how to go on."""
    for door, wire in (("replies", made.wire.replies), ("receipts", made.wire.receipts)):
        if wire is None:
            yield f"It brings no {door}."
        else:
            key = f"?key={made.key}" if made.wire.trust.by == "key" else ""
            yield f"Its {door} come by {wire.method} to {made.hooks}/{door}{key}"
    yield "Paste what it answers or brings with --answer, --reply or --receipt FILE (- for standard input)."


def _replies(made: Profile, pasted: str) -> Iterator[str]:
    for found in read_replies(made, pasted_hook(pasted)):
        if found is None:
            yield "This reply can't be read: sender or text is not where the profile looks. A person gets it."
            continue
        number = e164(found.sender)
        yield "This reply is read as:"
        yield f"  from      {found.sender} ({number or 'no number: nobody that a mother could be'})"
        yield f"  text      {'(a missed call)' if found.missed_call else found.text}"
        yield f"  id        {found.id or 'none: the same text twice counts as two'}"
        yield f"  received  {found.received_at.isoformat() if found.received_at else 'when it comes to us'}"
        if found.part:
            yield f"  part      {found.part.number} of {found.part.total}, named {found.part.ref}"


def _receipts(made: Profile, pasted: str) -> Iterator[str]:
    for found in read_reports(made, pasted_hook(pasted)):
        if found is None:
            yield "This receipt can't be read: name or state is not where the profile looks."
        else:
            why = f", because of: {found.failure.name}" if found.failure else ""
            yield f"This receipt is read as: the text {found.ref} is {found.state.value}{why}"


@gateway_group.command("check")
@click.argument("name")
@click.option("--wait", default=60, show_default=True, type=click.IntRange(1, 600), help="Seconds.")
def check_command(name: str, wait: int) -> None:
    """Send a test text from our own number to itself through the gateway NAME, and say what works.

    `dunnock serve` must run where the gateway reaches it. Exit 1 if anything does not work.
    """
    program = wiring.build(settings.load())
    if name not in program.profiles:
        known = ", ".join(sorted(program.profiles)) or "none"
        raise DunnockError(f"There is no gateway '{name}' in DUNNOCK_CONFIG. Known: {known}.")
    all_work = True
    with wiring.gateway(program, name) as (gateway, profile):
        for found in loop(
            program.store, gateway, profile, program.clock, timedelta(seconds=wait), time.sleep
        ):
            all_work &= found.works
            click.echo(f"{'works ' if found.works else 'FAILS '} {found.what}: {found.seen}")
    if not all_work:
        sys.exit(1)


COMMANDS = (gateway_group,)

"""The console script `dunnock`: every command, its options and its plain words on error; no decisions."""

from __future__ import annotations

import sys

import click

from bot import __version__
from bot.cli import (
    approve,
    backtest,
    content,
    gateway,
    languages,
    operate,
    overlay,
    people,
    plan,
    record,
    run,
    simulate,
)
from bot.core.errors import DunnockError


class _PlainGroup(click.Group):
    """A group whose commands fail with words that a person can act on, never with a traceback."""

    def invoke(self, ctx: click.Context) -> object:
        try:
            return super().invoke(ctx)
        except DunnockError as error:
            click.echo(f"dunnock: {error}", err=True)
            sys.exit(1)
        except BrokenPipeError:
            sys.exit(1)


@click.group(cls=_PlainGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="dunnock")
def main() -> None:
    """Follow mothers and newborns by text message after they leave the maternity ward.

    This is not an emergency service and gives no medical advice of its own: follow your local protocol and
    licensed practice.
    """


_MODULES = (
    run, people, plan, content, backtest, approve, overlay, gateway, languages, operate, record, simulate,
)  # fmt: skip
for _module in _MODULES:
    for _command in _module.COMMANDS:
        main.add_command(_command)

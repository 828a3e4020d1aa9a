"""Commands that set up and run the service: init, serve, worker, up."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Sequence

import click

from bot import settings, wiring
from bot.clock import machine_now
from bot.core.errors import DunnockError
from bot.steps.accounts import new_account
from bot.steps.content import publish_factory
from bot.store.accounts import count_accounts
from bot.store.migrate import is_current, upgrade
from bot.store.viewer import Role
from bot.worker import Worker


@click.command("init")
@click.option("--login", help="Login of the first manager account.")
@click.option("--name", default="", help="The manager's name.")
def init_command(login: str | None, name: str) -> None:
    """Create or migrate the database, publish the factory's content, make the first manager account.

    Safe to repeat after every upgrade: what somebody edited is left as it stands.
    """
    program = wiring.build(settings.load())
    upgrade(program.store)
    publish_factory(program.store, program.factory, program.clock.now())
    click.echo("The database is ready.")
    with program.store.read() as conn:
        first = count_accounts(conn) == 0
    if first and login:
        password = new_account(program.store, login, name or login, Role.admin, "en", (), machine_now())
        click.echo(f"First account: {login}\nPassword, shown once: {password}")
    elif first:
        click.echo("No account yet. Make one: dunnock init --login LOGIN")


@click.command("serve")
@click.option("--host", default="127.0.0.1", show_default=True)
@click.option("--port", default=8000, show_default=True, type=click.IntRange(1, 65535))
@click.option("--threads", default=32, show_default=True, type=click.IntRange(1, 256))
@click.option("--workers", default=1, show_default=True, type=click.IntRange(1, 64), help="Processes.")
def serve_command(host: str, port: int, threads: int, workers: int) -> None:
    """Serve pages, API and hooks."""
    _ready()
    server = ["--interface", "wsgi", "--factory", "--no-ws", "--log-level", "warning"]
    where = ["--host", host, "--port", str(port)]
    size = ["--workers", str(workers), "--blocking-threads", str(threads), "--backpressure", str(threads * 4)]
    python = sys.executable
    os.execv(python, [python, "-m", "granian", *server, *where, *size, "bot.serving:app"])


@click.command("worker")
def worker_command() -> None:
    """Read replies, wake pairs and send texts until told to stop. Run as many as you like."""
    program = _ready()
    senders = wiring.senders(program)
    worker = Worker(wiring.passes(program, senders))
    click.echo("The worker runs. Stop it with Ctrl-C.")
    worker.run()
    for sender in senders:
        sender.close()


@click.command("up")
@click.option("--host", default="127.0.0.1", show_default=True)
@click.option("--port", default=8000, show_default=True, type=click.IntRange(1, 65535))
def up_command(host: str, port: int) -> None:
    """Run serve and worker together on one machine, until one of them ends or Ctrl-C."""
    _ready()
    command = [sys.executable, "-m", "bot.cli"]
    serve = subprocess.Popen([*command, "serve", "--host", host, "--port", str(port)])
    parts = [serve, subprocess.Popen([*command, "worker"])]
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    try:
        while all(part.poll() is None for part in parts):
            time.sleep(0.5)
        click.echo("A part of the service has ended; stopping the other.", err=True)
        raise SystemExit(1)
    except KeyboardInterrupt:
        click.echo("Stopping.")
    finally:
        _stop(parts)


def _stop(parts: Sequence[subprocess.Popen[bytes]]) -> None:
    for part in parts:
        part.terminate()
    for part in parts:
        try:
            part.wait(15)
        except subprocess.TimeoutExpired:
            part.kill()


def _ready() -> wiring.Program:
    """The program on a database that is up to date. Raises DunnockError with what to do."""
    program = wiring.build(settings.load())
    with program.store.read() as conn:
        if not is_current(conn):
            raise DunnockError("The database is not up to date. Run: dunnock init")
    return program


COMMANDS = (init_command, serve_command, worker_command, up_command)

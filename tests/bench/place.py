"""Where benchmarks run: fresh databases on both engines in a folder that is removed at the end, and the cores
on which the parts stand. PostgreSQL and SQLite write to the disk here as they do in service."""

from __future__ import annotations

import os
import shutil
import socket
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from bot.content.factory import load_factory
from bot.steps.content import publish_factory
from bot.steps.languages import sign
from bot.store.engine import Store
from bot.store.sites import add_site
from tests.bench.measure import SQLITE
from tests.support.database import opened, upgraded
from tests.support.pairs import DISCHARGED, a_site
from tests.support.postgres import Postgres, running_postgres


@dataclass(frozen=True, slots=True)
class Cores:
    """What is measured runs on `ours`; who asks it, or stands in for a gateway, on `others`."""

    ours: frozenset[int]
    others: frozenset[int]

    @classmethod
    def of_this_machine(cls) -> Cores:
        """The first core for what is measured; both the same where there is one core or no way to choose."""
        if not hasattr(os, "sched_setaffinity"):
            return cls(frozenset(), frozenset())
        first, *rest = sorted(os.sched_getaffinity(0))
        return cls(frozenset({first}), frozenset(rest or {first}))


@contextmanager
def pinned(cores: frozenset[int]) -> Iterator[None]:
    """Run on these cores meanwhile, with every process and thread begun here."""
    if not cores:
        yield
        return
    before = os.sched_getaffinity(0)
    os.sched_setaffinity(0, cores)
    try:
        yield
    finally:
        os.sched_setaffinity(0, before)


class Place:
    """`rounds` is how often each contestant runs. Databases hold one site and the program's own content."""

    def __init__(self, stack: ExitStack, *, quick: bool) -> None:
        self.quick = quick
        self.rounds = 3 if quick else 5
        self.cores = Cores.of_this_machine()
        self._stack = stack
        self.folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="dunnock-bench-")))

    @contextmanager
    def database(self, engine: str) -> Iterator[str]:
        """Give the URL of a fresh database; it is removed afterwards."""
        if engine == SQLITE:
            with tempfile.TemporaryDirectory(dir=self.folder) as folder:
                yield f"sqlite:///{shutil.copy(self._sqlite, Path(folder) / 'dunnock.db')}"
            return
        with self._postgres.fresh_database(self._template) as name:
            yield self._postgres.url(name)

    @contextmanager
    def store(self, engine: str) -> Iterator[Store]:
        """Open a fresh database."""
        with self.database(engine) as url, opened(url) as store:
            yield store

    @cached_property
    def _sqlite(self) -> Path:
        path = self.folder / "template.db"
        _made_ready(f"sqlite:///{path}")
        return path

    @cached_property
    def _postgres(self) -> Postgres:
        with pinned(self.cores.ours):
            return self._stack.enter_context(running_postgres(durable=True))

    @cached_property
    def _template(self) -> str:
        name = self._stack.enter_context(self._postgres.fresh_database())
        _made_ready(self._postgres.url(name))
        return name


def _made_ready(url: str) -> None:
    with opened(upgraded(url)) as store:
        publish_factory(store, load_factory(), DISCHARGED)
        with store.write() as conn:
            for code in load_factory().lexicons:
                sign(conn, code, "A. Bench", "midwife", "0", DISCHARGED.date())
            add_site(conn, a_site(region="GB"))


def free_ports(number: int) -> Sequence[int]:
    """Give ports of this machine on which nobody listens just now."""
    with ExitStack() as stack:
        sockets = [stack.enter_context(socket.socket()) for _ in range(number)]
        for each in sockets:
            each.bind(("127.0.0.1", 0))
        return [each.getsockname()[1] for each in sockets]

"""The program dies at every point of a day's work, one at a time, is started again, and nothing shows it.

A clean run of the day counts the points of each step and keeps the database as it is before and after. Then,
for every point, a child dies there, another goes on, and what it leaves must be what the clean run left: no
acknowledged reply lost, no contact skipped, no text under another id, no decision twice. The children are
real processes that end by `os._exit`; tests/support/crashing.py says where the points are.
"""

from __future__ import annotations

import shutil
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

import pytest
from sqlalchemy import Table, select

from bot.core.states import InboundState, MessageState
from bot.store import rows
from bot.store import tables as t
from bot.store.audit import audit
from bot.store.engine import sealer_of
from bot.store.pairs import load_pairs
from tests.support.crashing import DAY, Forkserver, Order, Rider, families, posted
from tests.support.postgres import Postgres

pytestmark = pytest.mark.crash

# So many points a day has at least; fewer means that this test has come to prove less than it says.
LEAST_POINTS = 150

# What a crash may honestly change: how often a post was tried, under which claim, and how the gateway fared.
_TRIES = {"attempts", "claim", "lease_until"}
_COMPARED = (
    t.inbound, t.reading, t.receipt, t.escalation, t.finding, t.triage_run, t.event_log, t.message,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Left:
    """What a step leaves: the pairs, the rows around them, the texts that reached phones."""

    pairs: list[Any]
    rows: dict[str, list[Any]]
    texts: set[tuple[str, str, str]]


class Databases(Protocol):
    """Databases that can be kept and copied. `every`: of how many moments one is tried, before and after."""

    every: int

    def fresh(self) -> str: ...
    def keep(self, url: str, name: str) -> None: ...
    def copied(self, name: str) -> Any: ...


class Files:
    """SQLite files: every moment."""

    every = 1

    def __init__(self, template: Path, folder: Path) -> None:
        self._template, self._folder = template, folder

    def fresh(self) -> str:
        return f"sqlite:///{shutil.copy(self._template, self._folder / 'clean.db')}"

    def keep(self, url: str, name: str) -> None:
        shutil.copy(self._folder / "clean.db", self._folder / f"{name}.kept")

    @contextmanager
    def copied(self, name: str) -> Iterator[str]:
        for old in self._folder.glob("crash.db*"):
            old.unlink()
        yield f"sqlite:///{shutil.copy(self._folder / f'{name}.kept', self._folder / 'crash.db')}"


class Templates:
    """PostgreSQL databases. A copy takes much longer than that of a file: every second moment."""

    every = 2

    def __init__(self, server: Postgres, template: str) -> None:
        self._server, self._template = server, template
        self._open: list[Any] = []
        self._kept: dict[str, str] = {}

    def fresh(self) -> str:
        return self._server.url(self._made(self._template))

    def keep(self, url: str, name: str) -> None:
        self._kept[name] = self._made(url.split("/@/")[-1].split("@/")[-1].split("?")[0])

    @contextmanager
    def copied(self, name: str) -> Iterator[str]:
        with self._server.fresh_database(self._kept[name]) as made:
            yield self._server.url(made)

    def _made(self, template: str) -> str:
        made = self._server.fresh_database(template)
        self._open.append(made)
        return made.__enter__()

    def close(self) -> None:
        for made in self._open:
            made.__exit__(None, None, None)


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def databases(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Databases]:
    if request.param == "sqlite":
        yield Files(request.getfixturevalue("_migrated_sqlite"), tmp_path)
        return
    server = request.getfixturevalue("postgres")
    templates = Templates(server, request.getfixturevalue("_migrated_postgres"))
    yield templates
    templates.close()


@pytest.fixture(scope="module")
def forks() -> Iterator[Forkserver]:
    server = Forkserver()
    yield server
    server.close()


def what_is_left(rider: Rider, url: str, network: Path, step: int) -> Left:
    with rider.on(url) as store, store.read() as conn:
        pairs = load_pairs(conn, [pair.id for pair in families()], lock=False)
        left = {table.name: [_row(conn, table, r) for r in conn.execute(_all(table))] for table in _COMPARED}
        faults = audit(conn, DAY[step].at, DAY[step].at)
        assert {fault.what for fault in faults} <= {"nobody has spoken to this mother in time"}
    return Left(pairs, left, set(posted(network)))


def _all(table: Table) -> Any:
    return select(table).order_by(*table.primary_key.columns)


def _row(conn: Any, table: Table, row: Any) -> dict[str, Any]:
    clear = rows.opened(sealer_of(conn), table, row._asdict())
    left_out = {*_TRIES, "id"} if table is t.event_log else _TRIES  # rolled back, a sequence still has moved
    return {name: value for name, value in clear.items() if name not in left_out}


def test_a_death_at_any_point_of_the_day_leaves_nothing_lost_and_nothing_twice(
    databases: Databases, forks: Forkserver, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    url, clean = databases.fresh(), tmp_path / "clean.network"
    assert not forks.run(Order(url, str(clean), None)).died
    rider, moments, tried = Rider(url), Counter[str](), Counter[str]()
    for step in range(len(DAY)):
        databases.keep(url, f"before {step}")
        already = clean.read_bytes()
        points = forks.run(Order(url, str(clean), step)).points
        expected = what_is_left(rider, url, clean, step)
        _nothing_is_open(expected)
        for die_at, what in enumerate(points, 1):
            moments[what] += 1
            if moments[what] % databases.every:
                continue
            network = tmp_path / "crash.network"
            network.write_bytes(already)
            with databases.copied(f"before {step}") as copy:
                assert forks.run(Order(copy, str(network), step, die_at)).died, (step, die_at, what)
                assert not forks.run(Order(copy, str(network), step)).died
                assert what_is_left(rider, copy, network, step) == expected, (step, die_at, what)
            tried[what] += 1
    with capsys.disabled():
        print(f"\n  died at {tried.total()} points: {dict(tried)}")
    assert tried.total() >= LEAST_POINTS // databases.every
    assert len(tried) == 6  # before and after: a commit, a hook's commit, a post


def _nothing_is_open(left: Left) -> None:
    """The clean run itself: every reply was read, every text that was due has gone out."""
    assert {row["state"] for row in left.rows["inbound"]} <= {InboundState.read}
    assert MessageState.sending not in {row["state"] for row in left.rows["message"]}
    ids = [post[0] for post in left.texts]
    assert len(ids) == len(set(ids))

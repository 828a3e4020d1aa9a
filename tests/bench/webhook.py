"""The hook for replies as it runs in service (signature, sealing, one row on disk before the answer, the same
id stored once) beside a bare Flask route, under the same server with the same threads."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from sqlalchemy import func, select

from bot.store.tables import inbound
from tests.bench.load import Answered, Load, put_load
from tests.bench.measure import (
    ENGINES,
    POSTGRES,
    Cell,
    Goal,
    Line,
    Results,
    Spread,
    in_turn,
    rate_text,
    ratios,
)
from tests.bench.place import Place, free_ports, pinned
from tests.bench.processor import used_by
from tests.support.database import PHONE_KEY, SEAL_KEYS, opened

SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
THREADS, CONNECTIONS = 32, 32
BARE = "bare"
SAME = 100  # ids that come again and again
_START_S = 30
_CONFIG = f"""
[gateways.bench]
url = "http://127.0.0.1:9/messages"
number = "+447700900900"
token = "bench"
secret = ["{SECRET}"]
"""


@dataclass(frozen=True, slots=True)
class _At:
    """A server: its port and process, and the URL of its database (None: it keeps nothing)."""

    port: int
    pid: int
    url: str | None = None


def bench(place: Place) -> Results:
    """Fails unless every acknowledged reply is one committed row."""
    requests = 3_000 if place.quick else 10_000
    with _served(place) as servers:
        fresh = {name: _Runs(place, at, requests, requests) for name, at in servers.items()}
        again = {name: _Runs(place, at, requests, SAME) for name, at in servers.items()}
        rates = in_turn({name: partial(runs.one, "fresh") for name, runs in fresh.items()}, place.rounds)
        repeated = in_turn({name: partial(runs.one, "again") for name, runs in again.items()}, place.rounds)
    busy = max(each for runs in (*fresh.values(), *again.values()) for each in runs.generator)

    def cells(found: Mapping[str, list[float]]) -> dict[str, Cell]:
        beside = f"beside {rate_text(found[BARE])}"
        return {e: Cell(ratios(found[e], found[BARE]), f"{rate_text(found[e])} {beside}") for e in ENGINES}

    waits = {e: Cell(fresh[e].slowest, f"beside {fresh[BARE].slowest.text(1)}", places=1) for e in ENGINES}
    what = f"{THREADS} threads, {CONNECTIONS} connections"
    lines = [
        Line(f"Hook for replies as a share of a bare Flask route ({what})", cells(rates), Goal(0.35)),
        Line(f"The same {SAME} replies again and again, as a share of the bare route", cells(repeated)),
        Line("99th percentile of the hook's answer in ms, beside the bare route's", waits),
    ]
    if all(runs.cost for runs in fresh.values()):
        lines.insert(1, _costs(fresh))
    return Results(lines, [f"The load generator was busy for at most {busy:.0%} of a run of the hook."])


def _costs(fresh: Mapping[str, _Runs]) -> Line:
    """By processor time the share does not depend on what else the machine does."""
    bare = fresh[BARE].cost[1:]
    cells = {
        e: Cell(
            ratios(bare, fresh[e].cost[1:]),
            f"{Spread.of(fresh[e].cost[1:]).median:.0f} us beside {Spread.of(bare).median:.0f} us",
        )
        for e in ENGINES
    }
    return Line("The same by processor time a request, server and database together", cells)


@dataclass(slots=True)
class _Runs:
    """Runs against one server: their 99th percentiles in ms, how busy the load generator was, and what a
    request cost in us of processor time, where that can be known."""

    place: Place
    at: _At
    requests: int
    ids: int
    p99: list[float] = field(default_factory=list)
    generator: list[float] = field(default_factory=list)
    cost: list[float] = field(default_factory=list)

    @property
    def slowest(self) -> Spread:
        return Spread.of(self.p99[1:])

    def one(self, kind: str) -> float:
        """Put one load on the server; gives requests a second."""
        prefix = f"{kind}-{len(self.p99)}"
        path = "/hooks/bench/replies" if self.at.url else "/replies"
        cores = sorted(self.place.cores.others)
        load = Load(self.at.port, path, SECRET, prefix, self.requests, self.ids, CONNECTIONS, cores)
        before = self._used()
        answered = put_load(load)
        after = self._used()
        self.p99.append(answered.p99_ms)
        self.generator.append(answered.busy)
        if before is not None and after is not None:
            self.cost.append(1e6 * (after - before) / self.requests)
        self._check(answered, prefix)
        return answered.rate

    def _used(self) -> float | None:
        in_postgres = self.at.url is not None and self.at.url.startswith(POSTGRES)
        return used_by(self.at.pid, database=in_postgres)

    def _check(self, answered: Answered, prefix: str) -> None:
        expected = {"200" if self.at.url else "204": self.requests}
        if answered.statuses != expected:
            raise AssertionError(f"answered {answered.statuses}, not {expected}")
        if self.at.url is not None:
            with opened(self.at.url) as store, store.read() as conn:
                which = inbound.c.external_key.startswith(f"{prefix}-")
                kept = conn.scalar(select(func.count()).where(which))
            if kept != self.ids:
                raise AssertionError(f"{self.ids} replies were acknowledged, {kept} are stored")


@contextmanager
def _served(place: Place) -> Iterator[dict[str, _At]]:
    """Serve the bare route, and the program on both engines."""
    config = place.folder / "config.toml"
    config.write_text(_CONFIG, "utf-8")
    ports = free_ports(1 + len(ENGINES))
    with ExitStack() as stack:
        bare = _server(place, "tests.bench.bare:app", ports[0], {})
        servers = {BARE: _At(ports[0], stack.enter_context(bare))}
        for engine, port in zip(ENGINES, ports[1:], strict=True):
            url = stack.enter_context(place.database(engine))
            server = _server(place, "bot.serving:app", port, _environment(url, config))
            servers[engine] = _At(port, stack.enter_context(server), url)
        yield servers


def _environment(url: str, config: Path) -> dict[str, str]:
    return {
        "DUNNOCK_DATABASE_URL": url,
        "DUNNOCK_SECRET_KEY": "of no use anywhere else, and long enough",
        "DUNNOCK_SEAL_KEYS": SEAL_KEYS,
        "DUNNOCK_PHONE_KEY": PHONE_KEY,
        "DUNNOCK_CONFIG": str(config),
    }


@contextmanager
def _server(place: Place, app: str, port: int, environment: Mapping[str, str]) -> Iterator[int]:
    """Serve `app` as `dunnock serve` does, every one on the same core; gives its process."""
    log = place.folder / f"{port}.log"
    options = ["--interface", "wsgi", "--factory", "--no-ws", "--log-level", "warning", "--host", "127.0.0.1"]
    size = ["--workers", "1", "--blocking-threads", str(THREADS), "--backpressure", str(THREADS * 4)]
    command = [sys.executable, "-m", "granian", *options, *size, "--port", str(port), app]
    with log.open("wb") as output, pinned(place.cores.ours):
        server = subprocess.Popen(command, env={**os.environ, **environment}, stdout=output, stderr=output)
    try:
        _wait_for(server, port, log)
        yield server.pid
    finally:
        server.terminate()
        server.wait(_START_S)


def _wait_for(server: subprocess.Popen[bytes], port: int, log: Path) -> None:
    """Wait until the application answers at all."""
    end = time.monotonic() + _START_S
    while time.monotonic() < end and server.poll() is None:
        try:
            put_load(Load(port, "/nowhere", SECRET, "ready", 1, 1, 1, []))
        except RuntimeError as error:
            if "without a body" in str(error):  # it answers, and says that there is no such page
                return
            time.sleep(0.2)
    raise RuntimeError(f"the server does not answer: {log.read_text('utf-8', errors='replace')[-2000:]}")

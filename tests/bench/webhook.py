"""The hook for replies as it runs in service (signature, sealing, one row on disk before the answer, the same
id stored once) beside a bare Flask route, under the same server with the same threads."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from sqlalchemy import func, select

from bot.store.tables import inbound
from tests.bench.load import Answered, Load, put_load
from tests.bench.measure import ENGINES, Cell, Goal, Line, Results, Spread, in_turn, rate_text, ratios
from tests.bench.place import Place, free_ports, pinned
from tests.support.database import PHONE_KEY, SEAL_KEYS, opened

SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
THREADS, CONNECTIONS = 32, 32
SAME = 100  # ids that come again and again
_START_S = 30
_CONFIG = f"""
[gateways.bench]
url = "http://127.0.0.1:9/messages"
number = "+447700900900"
token = "bench"
secret = ["{SECRET}"]
"""


def bench(place: Place) -> Results:
    """Fails unless every acknowledged reply is one committed row."""
    requests = 3_000 if place.quick else 10_000
    ports = dict(zip(("bare", *ENGINES), free_ports(3), strict=True))
    with bare(place, ports["bare"]), _served(place, ports) as urls:
        fresh = {name: _Runs(place, ports[name], urls.get(name), requests, requests) for name in ports}
        again = {name: _Runs(place, ports[name], urls.get(name), requests, SAME) for name in ports}
        rates = in_turn({name: partial(runs.one, "fresh") for name, runs in fresh.items()}, place.rounds)
        repeated = in_turn({name: partial(runs.one, "again") for name, runs in again.items()}, place.rounds)

    def cells(found: Mapping[str, list[float]]) -> dict[str, Cell]:
        beside = f"beside {rate_text(found['bare'])}"
        return {e: Cell(ratios(found[e], found["bare"]), f"{rate_text(found[e])} {beside}") for e in ENGINES}

    slowest = {name: Spread.of(runs.p99[1:]) for name, runs in fresh.items()}
    waits = {e: Cell(slowest[e], f"beside {slowest['bare'].text(1)}", places=1) for e in ENGINES}
    what = f"{THREADS} threads, {CONNECTIONS} connections"
    return Results(
        [
            Line(f"Hook for replies as a share of a bare Flask route ({what})", cells(rates), Goal(0.35)),
            Line(f"The same {SAME} replies again and again, as a share of the bare route", cells(repeated)),
            Line("99th percentile of the hook's answer in ms, beside the bare route's", waits),
        ]
    )


@dataclass(slots=True)
class _Runs:
    """Runs against one server; `p99` in ms, by run. A server with a `url` keeps what it answered."""

    place: Place
    port: int
    url: str | None
    requests: int
    ids: int
    p99: list[float] = field(default_factory=list)

    def one(self, kind: str) -> float:
        """Put one load on the server; gives requests a second."""
        prefix = f"{kind}-{len(self.p99)}"
        path = "/hooks/bench/replies" if self.url else "/replies"
        cores = sorted(self.place.cores.others)
        load = Load(self.port, path, SECRET, prefix, self.requests, self.ids, CONNECTIONS, cores)
        answered = put_load(load)
        self.p99.append(answered.p99_ms)
        self._check(answered, prefix)
        return answered.rate

    def _check(self, answered: Answered, prefix: str) -> None:
        expected = {"200" if self.url else "204": self.requests}
        if answered.statuses != expected:
            raise AssertionError(f"answered {answered.statuses}, not {expected}")
        if self.url is not None:
            with opened(self.url) as store, store.read() as conn:
                which = inbound.c.external_key.startswith(f"{prefix}-")
                kept = conn.scalar(select(func.count()).where(which))
            if kept != self.ids:
                raise AssertionError(f"{self.ids} replies were acknowledged, {kept} are stored")


@contextmanager
def bare(place: Place, port: int) -> Iterator[None]:
    """Serve the bare route."""
    with _server(place, "tests.bench.bare:app", port, {}):
        yield


@contextmanager
def _served(place: Place, ports: Mapping[str, int]) -> Iterator[dict[str, str]]:
    """Serve the program on both engines; gives the URLs of their databases."""
    config = place.folder / "config.toml"
    config.write_text(_CONFIG, "utf-8")
    sqlite, postgres = ENGINES
    with (
        place.database(sqlite) as one,
        place.database(postgres) as other,
        _server(place, "bot.serving:app", ports[sqlite], _environment(one, config)),
        _server(place, "bot.serving:app", ports[postgres], _environment(other, config)),
    ):
        yield {sqlite: one, postgres: other}


def _environment(url: str, config: Path) -> dict[str, str]:
    return {
        "DUNNOCK_DATABASE_URL": url,
        "DUNNOCK_SECRET_KEY": "of no use anywhere else, and long enough",
        "DUNNOCK_SEAL_KEYS": SEAL_KEYS,
        "DUNNOCK_PHONE_KEY": PHONE_KEY,
        "DUNNOCK_CONFIG": str(config),
    }


@contextmanager
def _server(place: Place, app: str, port: int, environment: Mapping[str, str]) -> Iterator[None]:
    """Serve `app` as `dunnock serve` does; every server gets the same core."""
    log = place.folder / f"{port}.log"
    options = ["--interface", "wsgi", "--factory", "--no-ws", "--log-level", "warning", "--host", "127.0.0.1"]
    size = ["--workers", "1", "--blocking-threads", str(THREADS), "--backpressure", str(THREADS * 4)]
    command = [sys.executable, "-m", "granian", *options, *size, "--port", str(port), app]
    with log.open("wb") as output, pinned(place.cores.ours):
        server = subprocess.Popen(command, env={**os.environ, **environment}, stdout=output, stderr=output)
    try:
        _wait_for(server, port, log)
        yield
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

"""A process that dies on the spot at a chosen point of the work loop: before or after a commit that changed
something, before or after a post to the gateway.

`python -m tests.support.crashing` loads the program once, then does what it reads (a JSON line: the database,
the file that stands for the network, which step of the day) and answers with the points it passed; where an
order names a point to die at, a forked child does it. Nothing in the program knows of this.
"""

from __future__ import annotations

import fcntl
import json
import os
import subprocess
import sys
import traceback
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field, replace
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any
from unittest.mock import patch

from sqlalchemy import Dialect, Engine, event, make_url, update

from bot.content.factory import rules_of
from bot.core.outbox import Accepted, OutboundText, Outcome
from bot.core.pair import Pair
from bot.core.states import MessageState
from bot.steps import content as live_content
from bot.store import tables as t
from bot.store.engine import Store, open_store
from bot.store.intake import Intake
from bot.store.sites import add_site
from tests.support.database import a_sealer
from tests.support.pairs import DISCHARGED, a_mother, a_pair, a_site, an_id
from tests.support.service import Service

KILLED = 77

# ---------------------------------------------------------------- the day

AMINA, SHARED = "+447700900123", "+447700900124"


@dataclass(frozen=True, slots=True)
class Step:
    """What happens at one moment: the replies that come in, then reports about what was sent, then work."""

    at: datetime
    replies: tuple[tuple[str, str], ...] = ()
    reports: bool = False


def _at(hour: int, minute: int, day: int = 4) -> datetime:
    return DISCHARGED.replace(day=day, hour=hour, minute=minute)


DAY: tuple[Step, ...] = (
    Step(_at(8, 30)),
    Step(_at(8, 31), reports=True),
    Step(_at(8, 40), ((AMINA, "no"), (SHARED, "no"))),
    Step(_at(8, 50), ((AMINA, "5"),)),
    Step(_at(8, 55), ((SHARED, "8"), (AMINA, "he is very hot and wont wake up"))),
    Step(_at(9, 0), ((SHARED, "many"), ("+447700900125", "my baby has fits")), reports=True),
    Step(_at(9, 10), ((SHARED, "STOP"), (AMINA, "we are on the way"))),
    Step(_at(18, 0), reports=True),
    Step(_at(8, 0, day=5)),
)


def families() -> list[Pair]:
    """One mother alone, and two who share a phone."""
    return [_named("Amina", AMINA, False), _named("Betty", SHARED, True), _named("Chidi", SHARED, True)]


def _named(name: str, phone: str, shared: bool) -> Pair:
    pair = a_pair()
    return replace(
        pair,
        id=an_id("pair", name),
        external_id=name,
        mother=a_mother(id=an_id("mother", name), name=name, phone=phone, phone_shared=shared),
        babies=tuple(replace(baby, id=an_id("baby", name)) for baby in pair.babies),
        assessments=tuple(replace(each, id=an_id("seen", name)) for each in pair.assessments),
    )


# ---------------------------------------------------------------- the points


@dataclass
class Points:
    """Counts the points passed and dies at the one named."""

    die_at: int | None
    passed: list[str] = field(default_factory=list)

    def here(self, what: str) -> None:
        self.passed.append(what)
        if len(self.passed) == self.die_at:
            os._exit(KILLED)

    @contextmanager
    def watching(self, engine: Engine) -> Iterator[None]:
        """Stand before and after each commit that changes something: of this engine, and of the hooks, which
        go straight to the driver."""
        commit, insert, changed = engine.dialect.do_commit, Intake._insert, _changes(engine)

        def watched(connection: Any) -> None:
            changes = changed(connection)
            if changes:
                self.here("before a commit")
            commit(connection)
            if changes:
                self.here("after a commit")

        def watched_hook(door: Intake, batch: Any) -> None:
            self.here("before a hook's commit")
            insert(door, batch)
            self.here("after a hook's commit")

        with (
            patch.object(engine.dialect, "do_commit", watched),
            patch.object(Intake, "_insert", watched_hook),
        ):
            yield


def _changes(engine: Engine) -> Callable[[Any], bool]:
    """How to tell that the transaction of a driver's connection has changed anything."""
    if engine.dialect.name == "postgresql":

        def assigned(connection: Any) -> bool:
            return connection.execute("SELECT pg_current_xact_id_if_assigned()").fetchone()[0] is not None

        return assigned
    before: dict[int, int] = {}

    def counted(connection: Any) -> bool:
        raw = connection.driver_connection if hasattr(connection, "driver_connection") else connection
        known, now = before.get(id(raw), 0), raw.total_changes
        before[id(raw)] = now
        return bool(now != known)

    return counted


class Network:
    """The gateway, and behind it the phones: a file that outlives whoever posts to it."""

    def __init__(self, path: str, points: Points | None = None) -> None:
        self._path, self._points = path, points

    def send(self, text: OutboundText) -> Outcome:
        self._point("before a post")
        line = json.dumps([text.id, text.to, text.text]) + "\n"
        file = os.open(self._path, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
        try:
            fcntl.flock(file, fcntl.LOCK_EX)
            os.write(file, line.encode())
        finally:
            os.close(file)
        self._point("after a post")
        return Accepted(f"ref-{text.id}")

    def _point(self, what: str) -> None:
        if self._points is not None:
            self._points.here(what)


def posted(path: Path) -> list[tuple[str, str, str]]:
    """Every post: id, number, text."""
    lines = path.read_text("utf-8").splitlines() if path.exists() else []
    return [tuple(json.loads(line)) for line in lines]


# ---------------------------------------------------------------- one child


@dataclass(frozen=True, slots=True)
class Order:
    """What a child is to do. `step` None: begin the day before, as setting up does."""

    url: str
    network: str
    step: int | None
    die_at: int | None = None


# ---------------------------------------------------------------- one database after the other


class Rider:
    """One engine, with all that it has learnt, led to one database after the other."""

    def __init__(self, url: str) -> None:
        self._url, self._store = url, open_store(url, a_sealer(), pool_size=4)
        event.listen(self._store.engine, "do_connect", self._lead)

    @contextmanager
    def on(self, url: str) -> Iterator[Store]:
        self._url = url
        try:
            yield self._store
        finally:
            self._store.close()

    def _lead(self, dialect: Dialect, _record: object, args: list[Any], named: dict[str, Any]) -> None:
        args[:], changed = dialect.create_connect_args(make_url(self._url))
        named.update(changed)


def carry_out(order: Order, points: Points, rider: Rider) -> None:
    with rider.on(order.url) as store, points.watching(store.engine):
        step = None if order.step is None else DAY[order.step]
        service = Service(store, Network(order.network, points), step.at if step else DISCHARGED, claim=1)
        if step is None:
            _set_up(service)
        else:
            _let_leases_lapse(store)
            _live(service, step, order.step)
        service.close()


def _set_up(service: Service) -> None:
    with service.store.write() as conn:
        add_site(conn, a_site())
    service.publish()
    service.enrol(families())
    for moment in (DISCHARGED, DISCHARGED + timedelta(hours=1)):
        service.now = moment
        service.drain()


def _live(service: Service, step: Step, number: int | None) -> None:
    """Everything here may be done again: a gateway sends a hook again until it is told that it was taken."""
    for place, (phone, text) in enumerate(step.replies):
        service.reply(phone, text, f"reply {number}.{place}")
    service.drain()
    if step.reports:
        _report_all(service)
        service.drain()


def _report_all(service: Service) -> None:
    m = t.message.c
    with service.store.read() as conn:
        accepted = conn.execute(t.message.select().where(m.state == MessageState.accepted).order_by(m.id))
        ids = [row.id for row in accepted]
    for message in ids:
        service.report(message, "delivered")


def _let_leases_lapse(store: Store) -> None:
    """What a dead sender held is free once its lease is over; leases run on the database's clock."""
    with store.write() as conn:
        sending = t.message.c.state == MessageState.sending
        conn.execute(update(t.message).where(sending).values(lease_until=DISCHARGED - timedelta(days=9999)))


# ---------------------------------------------------------------- the fork server


@dataclass(frozen=True, slots=True)
class Outcomes:
    """What became of a child: it `died` where it was told to, or came to its end. `points` it passed."""

    died: bool
    points: Sequence[str]


class Forkserver:
    """The process that forks the children, driven from the tests."""

    def __init__(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.support.crashing"],
            cwd=Path(__file__).parents[2],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def run(self, order: Order) -> Outcomes:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps(asdict(order)) + "\n")
        self._process.stdin.flush()
        answer = json.loads(self._process.stdout.readline())
        if answer["status"] not in (0, KILLED):
            raise RuntimeError(f"the child failed ({answer['status']}); its own words stand above")
        return Outcomes(answer["status"] == KILLED, answer["points"])

    def close(self) -> None:
        with self._process as process:
            assert process.stdin is not None
            process.stdin.close()


def serve() -> None:
    """Do what standard input orders and tell on standard output how it ended.

    What nobody is to die in is done here: the children then inherit what was learnt on the way.
    """
    remembered = cache(lambda text: rules_of(json.loads(text)))
    riders: dict[str, Rider] = {}
    with patch.object(live_content, "rules_of", lambda body: remembered(json.dumps(body, sort_keys=True))):
        for line in sys.stdin:
            order = Order(**json.loads(line))
            engine = order.url.partition(":")[0]
            rider = riders[engine] = riders.get(engine) or Rider(order.url)
            if order.die_at is None:
                points, status = Points(None), 0
                carry_out(order, points, rider)
                passed = points.passed
            else:
                passed, status = _in_a_child(order, rider)
            print(json.dumps({"status": status, "points": passed}), flush=True)


def _in_a_child(order: Order, rider: Rider) -> tuple[list[str], int]:
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        _be_the_child(order, writing, rider)
    os.close(writing)
    with os.fdopen(reading) as pipe:
        told = pipe.read()
    _, status = os.waitpid(child, 0)
    return json.loads(told or "[]"), os.waitstatus_to_exitcode(status)


def _be_the_child(order: Order, writing: int, rider: Rider) -> None:
    points = Points(order.die_at)
    try:
        carry_out(order, points, rider)
        os.write(writing, json.dumps(points.passed).encode())
        os._exit(0)
    except BaseException:
        traceback.print_exc()
        os._exit(1)


if __name__ == "__main__":
    serve()

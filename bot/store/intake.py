"""What hooks bring, on disk before they are answered: replies and reports go in; returning means committed.

One thread commits for all requests that wait (group commit): under load a commit carries many rows, and no
request waits for another's lock. A row that is there already, by its gateway's key, is not stored again.
"""

from __future__ import annotations

import contextlib
import logging
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import chain
from queue import Empty, SimpleQueue
from typing import Any
from uuid import uuid4

from sqlalchemy import Dialect, Engine, Table

from bot.core.errors import DunnockError
from bot.core.ids import derived_id
from bot.core.outbox import Failure
from bot.core.states import InboundState
from bot.store.engine import Store
from bot.store.inbound import Kind
from bot.store.tables import inbound, receipt

log = logging.getLogger(__name__)

_MOST_AT_ONCE = 500  # rows in one commit; SQLite takes 32,766 values a statement
_UNLESS_THERE = " ON CONFLICT DO NOTHING"
_LONGEST_WAIT_S = 20.0  # then the gateway hears 503 and tries again


class NotStored(DunnockError):
    """The row is not on disk; the sender must try again."""


@dataclass(frozen=True, slots=True)
class IncomingReply:
    """A hook that brought a reply. `key` is unique at its gateway; None for one of which another like it may
    come. `phone` is E.164, or the sender as it came if that is no number; it and `text` are None if the body
    was unreadable. `raw` is the body, read as Latin-1 because that keeps every byte. `part` is the
    name, the number and the total of the parts of a long reply."""

    gateway: str
    key: str | None
    phone: str | None
    text: str | None
    raw: str
    received_at: datetime
    stored_at: datetime
    kind: str = Kind.reply
    part: tuple[str, int, int] | None = None


@dataclass(frozen=True, slots=True)
class IncomingReport:
    """A hook that brought a delivery report; `ref` and `reported` are empty if the body was unreadable."""

    gateway: str
    key: str
    ref: str
    reported: str
    raw: str
    stored_at: datetime
    failure: Failure = Failure.none


class _Waiting:
    """One row on its way to the disk. The lock is the cheapest signal that Python has: it opens when done."""

    __slots__ = ("done", "error", "shape", "values")

    def __init__(self, shape: _Shape, values: tuple[Any, ...]) -> None:
        self.shape, self.values = shape, values
        self.error: Exception | None = None
        self.done = threading.Lock()
        self.done.acquire()


class Intake:
    """The door for hooks. The thread starts with the first row, so that a server may fork before."""

    def __init__(self, store: Store) -> None:
        self._store = store
        dialect = store.engine.dialect
        self._shapes = {table.name: _Shape(table, dialect) for table in (inbound, receipt)}
        self._queue: SimpleQueue[_Waiting | None] = SimpleQueue()
        self._starting = threading.Lock()
        self._thread: threading.Thread | None = None
        self._direct: _Direct | None = None  # the thread's own

    def take(self, brought: Sequence[IncomingReply | IncomingReport]) -> None:
        """Store what one hook brought, or find it stored; raise NotStored if neither is certain for all."""
        waiting = [
            self._reply(each) if isinstance(each, IncomingReply) else self._report(each) for each in brought
        ]
        for each in waiting:
            self._wait_for(each)

    def fingerprint(self, text: str) -> str:
        """Give the keyed hash by which the same thing, brought again, is known."""
        return self._store.sealer.fingerprint(text)

    def _reply(self, reply: IncomingReply) -> _Waiting:
        row_id = derived_id(reply.stored_at, reply.gateway, reply.key or uuid4().hex)
        seal = self._store.sealer.seal
        readable = reply.phone is not None and reply.text is not None
        part_ref, part_number, part_total = reply.part or (None, None, None)
        row = {
            "id": row_id,
            "gateway": reply.gateway,
            "external_key": reply.key,
            "phone_key": reply.phone and self._store.sealer.phone_key(reply.phone),
            "sender": reply.phone and seal(reply.phone, row_id, "inbound.sender"),
            "text": None if reply.text is None else seal(reply.text, row_id, "inbound.text"),
            "raw": seal(reply.raw, row_id, "inbound.raw"),
            "kind": reply.kind if readable else Kind.unreadable,
            "part_ref": part_ref,
            "part_number": part_number,
            "part_total": part_total,
            "received_at": reply.received_at,
            "stored_at": reply.stored_at,
            "state": InboundState.stored if readable else InboundState.set_aside,
            "enrolment": None,
        }
        return self._submit(inbound, row)

    def _report(self, report: IncomingReport) -> _Waiting:
        row_id = derived_id(report.stored_at, report.gateway, report.key)
        row = {
            "id": row_id,
            "gateway": report.gateway,
            "dedupe_key": report.key,
            "ref": report.ref,
            "reported": report.reported,
            "failure": report.failure,
            "state": InboundState.stored if report.ref else InboundState.set_aside,
            "raw": self._store.sealer.seal(report.raw, row_id, "receipt.raw"),
            "stored_at": report.stored_at,
            "message": None,
        }
        return self._submit(receipt, row)

    def close(self) -> None:
        """Commit what waits and end the thread."""
        if self._thread is not None:
            self._queue.put(None)
            self._thread.join()
            self._thread = None

    def _submit(self, table: Table, row: dict[str, Any]) -> _Waiting:
        if self._thread is None:
            self._start()
        shape = self._shapes[table.name]
        waiting = _Waiting(shape, shape.values(row))
        self._queue.put(waiting)
        return waiting

    @staticmethod
    def _wait_for(waiting: _Waiting) -> None:
        if not waiting.done.acquire(timeout=_LONGEST_WAIT_S):
            raise NotStored("The database did not answer in time. Send it again.")
        if waiting.error is not None:
            raise NotStored("The database refused it for now. Send it again.") from waiting.error

    def _start(self) -> None:
        with self._starting:
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name="intake", daemon=True)
                self._thread.start()

    def _run(self) -> None:
        while (batch := self._next()) is not None:
            try:
                self._insert(batch)
            except Exception as error:
                log.exception("%d rows from hooks were not stored together", len(batch))
                self._insert_singly(batch, error)
            for waiting in batch:
                waiting.done.release()
        if self._direct is not None:
            self._direct.close()

    def _next(self) -> list[_Waiting] | None:
        """Give the rows that wait, at least one; None at the end."""
        first = self._queue.get()
        if first is None:
            return None
        batch = [first]
        while len(batch) < _MOST_AT_ONCE:
            try:
                another = self._queue.get_nowait()
            except Empty:
                break
            if another is None:
                self._queue.put(None)
                break
            batch.append(another)
        return batch

    def _insert_singly(self, batch: Sequence[_Waiting], error: Exception) -> None:
        """Find the row that spoils the others, if it is one; if the database is away all have the error."""
        for waiting in batch:
            waiting.error = error
            if len(batch) > 1:
                try:
                    self._insert([waiting])
                    waiting.error = None
                except Exception as own:
                    waiting.error = own

    def _insert(self, batch: Sequence[_Waiting]) -> None:
        if self._direct is None:
            self._direct = _Direct(self._store.engine)
        try:
            for shape in self._shapes.values():
                rows = [waiting.values for waiting in batch if waiting.shape is shape]
                if rows:
                    self._direct.insert(shape, rows)
        except Exception:
            self._direct.close()
            self._direct = None
            raise


class _Direct:
    """A connection for the thread alone, straight to the driver: this is the busiest path of all, and what
    SQLAlchemy does for each transaction would cost more than the rows. Each statement commits by itself."""

    def __init__(self, engine: Engine) -> None:
        pooled: Any = engine.raw_connection()
        self._connection = pooled.dbapi_connection
        pooled.detach()  # it never goes back to the pool
        if engine.dialect.name == "postgresql":
            self._connection.rollback()  # the pool may just have asked it something
            self._connection.autocommit = True  # as SQLite's is already
        self._cursor = self._connection.cursor()

    def insert(self, shape: _Shape, rows: Sequence[tuple[Any, ...]]) -> None:
        """Insert and commit rows, but for those that are there."""
        self._cursor.execute(*shape.statement(rows))

    def close(self) -> None:
        """Drop the connection."""
        with contextlib.suppress(Exception):
            self._connection.close()


class _Shape:
    """How rows of one table go to the driver."""

    def __init__(self, table: Table, dialect: Dialect) -> None:
        columns = list(table.columns)
        names = ", ".join(f'"{column.name}"' for column in columns)
        self._names = [column.name for column in columns]
        self._binds = [column.type.dialect_impl(dialect).bind_processor(dialect) for column in columns]
        self._begin = f"INSERT INTO {table.name} ({names}) "
        self._row = f"({', '.join('?' * len(columns))})"
        arrays = ", ".join(f"%s::{column.type.compile(dialect)}[]" for column in columns)
        self._arrays = f"SELECT * FROM unnest({arrays})" if dialect.name == "postgresql" else ""

    def values(self, row: dict[str, Any]) -> tuple[Any, ...]:
        """Give the row as the driver wants it."""
        return tuple(
            bind(row[name]) if bind else row[name]
            for name, bind in zip(self._names, self._binds, strict=True)
        )

    def statement(self, rows: Sequence[tuple[Any, ...]]) -> tuple[str, list[Any]]:
        """Give the one statement that inserts all rows, with its values. Every statement more would be a walk
        to the server, or on SQLite a fight for the interpreter with all the threads that serve requests."""
        if self._arrays:
            columns = [list(column) for column in zip(*rows, strict=True)]
            return self._begin + self._arrays + _UNLESS_THERE, columns
        listed = ", ".join([self._row] * len(rows))
        return f"{self._begin}VALUES {listed}{_UNLESS_THERE}", list(chain.from_iterable(rows))

"""The two doors to the database: `read()` and `write()`. Each gives one connection in one transaction.

SQLite: WAL, synchronous=FULL, foreign keys; a writer takes the write lock at once (BEGIN IMMEDIATE), so two
writers wait for each other instead of failing half-way. PostgreSQL: psycopg 3, READ COMMITTED, times in UTC.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event

from bot.core.errors import DunnockError
from bot.core.routing import Route
from bot.seal import Sealer

_WAIT_MS = 10_000  # how long a SQLite writer waits for the one before it
# secure_delete: what is overwritten or removed is zeroed in the file, so that what was erased is gone.
_PRAGMAS = ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON", "secure_delete=ON")
_WRITES = "dunnock_writes"
_SEALER = "dunnock_sealer"
_ROUTES = "dunnock_routes"


@dataclass(frozen=True, slots=True)
class Store:
    """The database behind its two doors, with the keys of its sealed columns and the ways that texts go."""

    engine: Engine
    sealer: Sealer
    routes: Sequence[Route] = ()

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """Open a transaction that sees one state and changes nothing: it is rolled back at the end."""
        with self._connect(writes=False) as conn:
            yield conn

    @contextmanager
    def write(self) -> Iterator[Connection]:
        """Open a transaction that is committed at the end, or rolled back whole if anything raises."""
        with self._connect(writes=True) as conn, conn.begin():
            yield conn

    def empty_log(self) -> None:
        """Bring SQLite's log into its file and empty it, as far as nobody reads just now."""
        if self.engine.dialect.name == "sqlite":
            raw = self.engine.raw_connection()
            try:
                raw.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)")
            finally:
                raw.close()

    def close(self) -> None:
        """Give back all connections."""
        self.engine.dispose()

    def _connect(self, *, writes: bool) -> Connection:
        return self.engine.connect().execution_options(
            **{_WRITES: writes, _SEALER: self.sealer, _ROUTES: self.routes}
        )


def open_store(url: str, sealer: Sealer, *, pool_size: int = 10, routes: Sequence[Route] = ()) -> Store:
    """Open the database at `url` (sqlite:///FILE or postgresql://...); nothing is created in it."""
    if url.startswith("sqlite"):
        engine = create_engine(url, pool_size=pool_size, max_overflow=pool_size)
        event.listen(engine, "connect", _prepare_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
    elif url.startswith("postgresql"):
        engine = create_engine(
            url,
            pool_size=pool_size,
            max_overflow=pool_size,
            pool_pre_ping=True,
            connect_args={"options": "-c timezone=UTC"},
        )
    else:
        raise DunnockError("DUNNOCK_DATABASE_URL must begin with sqlite:/// or postgresql://.")
    return Store(engine, sealer, routes)


def sealer_of(conn: Connection) -> Sealer:
    """Give the sealer of the store that opened `conn`."""
    sealer: Sealer = conn.get_execution_options()[_SEALER]
    return sealer


def routes_of(conn: Connection) -> Sequence[Route]:
    """Give the routes by which the store that opened `conn` sends."""
    routes: Sequence[Route] = conn.get_execution_options()[_ROUTES]
    return routes


def is_postgres(conn: Connection) -> bool:
    """Tell whether `conn` leads to PostgreSQL."""
    return conn.dialect.name == "postgresql"


def _prepare_sqlite(raw: Any, _record: object) -> None:
    raw.isolation_level = None  # the driver would begin transactions at its own times; `_begin_sqlite` does
    for pragma in (*_PRAGMAS, f"busy_timeout={_WAIT_MS}"):
        raw.execute(f"PRAGMA {pragma}")


def _begin_sqlite(conn: Connection) -> None:
    writes = conn.get_execution_options().get(_WRITES, True)
    conn.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

"""The database's own clock, for leases: several machines may share one database, and its clock is the one
that all of them see. On SQLite it has milliseconds, written as `Instant` writes them."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Double, literal
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.compiler import SQLCompiler
from sqlalchemy.sql.functions import FunctionElement

from bot.store.types import Instant


class _DatabaseTime(FunctionElement[datetime]):
    type = Instant()
    inherit_cache = True


def database_time(ahead: timedelta = timedelta()) -> FunctionElement[datetime]:
    """Give the expression for the database's time now, `ahead` of it."""
    return _DatabaseTime(literal(ahead.total_seconds(), Double()))


@compiles(_DatabaseTime, "postgresql")
def _on_postgresql(element: _DatabaseTime, compiler: SQLCompiler, **options: Any) -> str:
    return f"(clock_timestamp() + make_interval(secs => {compiler.process(element.clauses, **options)}))"


@compiles(_DatabaseTime, "sqlite")
def _on_sqlite(element: _DatabaseTime, compiler: SQLCompiler, **options: Any) -> str:
    seconds = compiler.process(element.clauses, **options)
    return f"strftime('%Y-%m-%dT%H:%M:%f000Z', 'now', ({seconds}) || ' seconds')"

"""Millions of enrolments that are followed and texts that wait, none of them due, put beside a few real ones.

Made inside the database from one real row of each table, with ids, numbers and times of their own; sealed
columns hold the real row's bytes, which nobody opens. Secondary indexes are built
afterwards, as a loader would.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime, timedelta
from typing import Any

from bot.store.engine import Store
from bot.store.tables import baby, enrolment, message, metadata, mother
from tests.bench.measure import POSTGRES

TABLES = (mother, enrolment, baby, message)
SPREAD = timedelta(days=42)
_SCATTER = 7_919  # a prime: neighbours in the table are far apart in time


def fill(store: Store, number: int, now: datetime) -> None:
    """Add `number` mothers with enrolment, baby and queued text, due within the 42 days after tomorrow."""
    postgres = store.engine.dialect.name == POSTGRES
    columns = _of_postgres(number, now) if postgres else _of_sqlite(number, now)
    connection = store.engine.raw_connection()
    cursor = connection.cursor()
    try:
        with _unindexed(cursor, postgres):
            for table in TABLES:
                cursor.execute(_statement(table.name, columns[table.name], number, postgres))
        if postgres:
            connection.commit()
            cursor.execute("SET session_replication_role = DEFAULT")
            connection.commit()
            assert connection.driver_connection is not None
            connection.driver_connection.autocommit = True
            cursor.execute("VACUUM (ANALYZE)")
            connection.driver_connection.autocommit = False
    finally:
        connection.detach()
        connection.close()


def _statement(table: str, own: Mapping[str, str], number: int, postgres: bool) -> str:
    names = [column.name for column in metadata.tables[table].columns]
    values = ", ".join(own.get(name, f't."{name}"') for name in names)
    listed = ", ".join(f'"{name}"' for name in names)
    counted = f"WITH RECURSIVE s(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM s WHERE i < {number})"
    series = f"generate_series(1, {number}) AS s(i)" if postgres else f"({counted} SELECT i FROM s) AS s"
    one = "WHERE state = 'queued'" if table == "message" else ""
    return (
        f"INSERT INTO {table} ({listed}) SELECT {values} "
        f"FROM {series} CROSS JOIN (SELECT * FROM {table} {one} LIMIT 1) AS t"
    )


def _of_postgres(number: int, now: datetime) -> dict[str, dict[str, str]]:
    step = SPREAD.total_seconds() / number
    start = f"timestamptz '{(now + timedelta(days=1)).isoformat()}'"
    after = f"{start} + (i::bigint * {_SCATTER} % {number}) * {step} * interval '1 second'"
    return _columns(
        ids={table.name: f"('019{n}' || lpad(to_hex(i), 28, '0'))::uuid" for n, table in enumerate(TABLES)},
        after=after,
        later=f"{after} + interval '6 hours'",
        phone="decode(md5(i::text), 'hex')",
    )


def _of_sqlite(number: int, now: datetime) -> dict[str, dict[str, str]]:
    step = SPREAD.total_seconds() / number
    start = int((now + timedelta(days=1)).timestamp())

    def instant(more: int) -> str:
        seconds = f"{start + more} + (i * {_SCATTER} % {number}) * {step}"
        return f"strftime('%Y-%m-%dT%H:%M:%f', {seconds}, 'unixepoch') || '000Z'"

    return _columns(
        ids={table.name: f"'019{n}' || printf('%028x', i)" for n, table in enumerate(TABLES)},
        after=instant(0),
        later=instant(6 * 3600),
        phone="randomblob(16)",
    )


def _columns(ids: Mapping[str, str], after: str, later: str, phone: str) -> dict[str, dict[str, str]]:
    mother_, enrolment_ = ids["mother"], ids["enrolment"]
    return {
        "mother": {"id": mother_, "phone_key": phone},
        "enrolment": {"id": enrolment_, "mother": mother_, "external_id": "'F-' || i", "wake_at": after},
        "baby": {"id": ids["baby"], "enrolment": enrolment_},
        "message": {
            "id": ids["message"], "enrolment": enrolment_, "phone_key": phone, "send_after": after,
            "expires_at": later, "once_key": "'fill:' || i", "after_id": "NULL",
        },
    }  # fmt: skip


@contextmanager
def _unindexed(cursor: Any, postgres: bool) -> Iterator[None]:
    """Take the secondary indexes away meanwhile, and the checks that rows refer to what is there."""
    names = ", ".join(f"'{table.name}'" for table in TABLES)
    if postgres:
        cursor.execute("SET session_replication_role = replica")
        cursor.execute(
            f"SELECT indexname, indexdef FROM pg_indexes WHERE tablename IN ({names}) "
            "AND indexname NOT IN (SELECT conname FROM pg_constraint)"
        )
    else:
        for pragma in ("foreign_keys=OFF", "synchronous=OFF", "journal_mode=OFF", "cache_size=-1000000"):
            cursor.execute(f"PRAGMA {pragma}")
        cursor.execute(
            "SELECT name, sql FROM sqlite_master "
            f"WHERE type = 'index' AND sql IS NOT NULL AND tbl_name IN ({names})"
        )
    indexes = cursor.fetchall()
    for name, _ in indexes:
        cursor.execute(f"DROP INDEX {name}")
    yield
    for _, definition in indexes:
        cursor.execute(definition)
    if not postgres:
        cursor.execute("PRAGMA journal_mode=WAL")

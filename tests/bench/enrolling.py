"""A file of mothers enrolled (read, checked, planned, sealed, stored with what follows), beside bare batched
inserts of the very rows that came of it into the same tables."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Any

from psycopg.types.json import Jsonb
from sqlalchemy import text

from bot.content.factory import load_factory
from bot.steps.enrolment_file import BATCH, enrol_csv
from bot.store.engine import Store
from tests.bench.measure import ENGINES, POSTGRES, Cell, Line, Results, in_turn, per_second, rate_text, ratios
from tests.bench.place import Place, pinned
from tests.bench.population import phone
from tests.support.discharges import NOW
from tests.support.life import standard_content

# In the order in which they refer to each other.
TABLES = (
    "mother", "enrolment", "baby", "assessment", "contact", "review", "name_token", "message", "event",
)  # fmt: skip
Rows = dict[str, list[tuple[Any, ...]]]


def bench(place: Place) -> Results:
    """Fails unless every mother was enrolled, and every row inserted again."""
    number = 500 if place.quick else 2_000
    path = place.folder / "mothers.csv"
    _write_file(path, number)
    with pinned(place.cores.ours):
        made = {engine: _Bare(place, engine, path, number) for engine in ENGINES}
        runs = {e: partial(_enrol, place, e, path, number) for e in ENGINES}
        rates = in_turn({f"bare {e}": each.one for e, each in made.items()} | runs, place.rounds)

    def cell(engine: str) -> Cell:
        beside = f"{rate_text(rates[engine])} beside {rate_text(rates[f'bare {engine}'])}"
        return Cell(ratios(rates[engine], rates[f"bare {engine}"]), beside, places=3)

    rows = sum(map(len, made[ENGINES[0]].rows.values())) / number
    what = f"Mothers enrolled from a file of {number:,}, beside bare inserts of their {rows:.0f} rows each"
    return Results([Line(what, {engine: cell(engine) for engine in ENGINES})])


def _write_file(path: Path, number: int) -> None:
    fixed = {
        "site": "lakeside", "mother_name": "Amina", "mother_language": "en", "mother_phone_shared": "no",
        "discharged_at": "2026-03-03 14:00", "consent": "yes", "baby_name": "Nia",
        "baby_born_at": "2026-03-02T06:15", "baby_sex": "female", "baby_birth_weight_g": "3250",
        "baby_gestation_weeks": "39.5", "assessment_position_neck": "yes",
        "assessment_attachment_chin": "yes", "assessment_suckling": "effective",
        "assessment_weight_g": "3150",
    }  # fmt: skip
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, ["external_id", "mother_phone", *fixed])
        writer.writeheader()
        for n in range(number):
            writer.writerow(fixed | {"external_id": f"B-{n}", "mother_phone": phone(n)})


def _enrol(place: Place, engine: str, path: Path, number: int) -> float:
    with place.store(engine) as store:
        return _enrolled(store, path, number)


def _enrolled(store: Store, path: Path, number: int) -> float:
    stored = 0

    def work() -> None:
        nonlocal stored
        languages = tuple(load_factory().lexicons)
        report = enrol_csv(store, standard_content(), path, languages=languages, demo=True, now=lambda: NOW)
        stored = report.stored

    rate = per_second(number, work)
    if stored != number:
        raise AssertionError(f"{stored} of {number} were enrolled")
    return rate


class _Bare:
    """The rows that enrolling the file leaves, inserted as the driver does it, as many in a transaction."""

    def __init__(self, place: Place, engine: str, path: Path, number: int) -> None:
        self._place, self._engine, self._number = place, engine, number
        with place.store(engine) as store:
            _enrolled(store, path, number)
            self.rows, self._inserts = _rows_of(store)

    def one(self) -> float:
        with self._place.store(self._engine) as store:
            rate = per_second(self._number, partial(self._insert, store))
            with store.read() as conn:
                for table, rows in self.rows.items():
                    kept = conn.scalar(text(f"SELECT count(*) FROM {table}"))
                    if kept != len(rows):
                        raise AssertionError(f"{table}: {kept} of {len(rows)} rows")
        return rate

    def _insert(self, store: Store) -> None:
        batches = -(-self._number // BATCH)
        for batch in range(batches):
            connection = store.engine.raw_connection()
            cursor = connection.cursor()
            if self._engine != POSTGRES:
                cursor.execute("BEGIN IMMEDIATE")
            for table, rows in self.rows.items():
                cursor.executemany(self._inserts[table], _part(rows, batch, batches))
            cursor.execute("COMMIT") if self._engine != POSTGRES else connection.commit()
            connection.close()


def _part(rows: Sequence[tuple[Any, ...]], n: int, parts: int) -> Sequence[tuple[Any, ...]]:
    return rows[len(rows) * n // parts : len(rows) * (n + 1) // parts]


def _rows_of(store: Store) -> tuple[Rows, dict[str, str]]:
    """Every row as the driver gives it, in the order stored, and the statement that inserts it again."""
    rows: Rows = {}
    inserts: dict[str, str] = {}
    postgres = store.engine.dialect.name == POSTGRES
    connection = store.engine.raw_connection()
    cursor = connection.cursor()
    for table in TABLES:
        cursor.execute(f"SELECT * FROM {table}")
        assert cursor.description is not None
        names = [column[0] for column in cursor.description]
        found = [tuple(map(_given_back, row)) for row in cursor.fetchall()]
        if table == "event":  # the database numbers them itself
            names, found = names[1:], [row[1:] for row in found]
        if found:
            rows[table] = found
            values = ", ".join(["%s" if postgres else "?"] * len(names))
            listed = ", ".join(f'"{name}"' for name in names)
            inserts[table] = f"INSERT INTO {table} ({listed}) VALUES ({values})"
    connection.close()
    return rows, inserts


def _given_back(value: Any) -> Any:
    """Give a value as the driver takes it: what PostgreSQL's gave as parsed JSON goes in as JSON."""
    return Jsonb(value) if isinstance(value, dict | list) else value

"""A database brought up by the revisions is the one that the tables describe."""

import re

import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from sqlalchemy import text

from bot.store.engine import Store
from bot.store.migrate import is_current, upgrade
from bot.store.tables import metadata
from tests.support.database import opened

SCHEMA = {
    "sqlite": "SELECT type, name, tbl_name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite_%'",
    "postgresql": """
        SELECT 'column', table_name, column_name, data_type || is_nullable || coalesce(column_default, '')
          FROM information_schema.columns WHERE table_schema = 'public'
        UNION ALL SELECT 'constraint', conrelid::regclass::text, conname, pg_get_constraintdef(oid)
          FROM pg_constraint WHERE connamespace = 'public'::regnamespace
        UNION ALL SELECT 'index', tablename, indexname, indexdef FROM pg_indexes WHERE schemaname = 'public'
        UNION ALL SELECT 'trigger', tgrelid::regclass::text, tgname, pg_get_triggerdef(oid)
          FROM pg_trigger WHERE NOT tgisinternal
        UNION ALL SELECT 'function', proname, '', prosrc
          FROM pg_proc WHERE pronamespace = 'public'::regnamespace""",
}


def schema_of(store: Store) -> set[tuple[str, ...]]:
    """Everything the database says of itself; of an SQLite table each clause, for their order may differ, and
    a column added later carries its constraints with it."""
    with store.read() as conn:
        found = conn.execute(text(SCHEMA[conn.dialect.name])).all()
    described: set[tuple[str, ...]] = set()
    for kind, table, name, words in found:
        if "alembic_version" not in (table, name):
            parts = _clauses(words) if kind == "table" else [words]
            described |= {(kind, table, name, " ".join(part.split()).rstrip(" )")) for part in parts}
    return described


def _clauses(words: str) -> list[str]:
    """Columns and constraints of a CREATE TABLE: cut at outer commas, and before each constraint."""
    inside = words.partition("(")[2].rpartition(")")[0]
    depth, begun, clauses = 0, 0, []
    for at, sign in enumerate(inside):
        depth += (sign == "(") - (sign == ")")
        if sign == "," and depth == 0:
            clauses.append(inside[begun:at])
            begun = at + 1
    pieces = [
        piece for clause in (*clauses, inside[begun:]) for piece in re.split(r"(?=CONSTRAINT )", clause)
    ]
    return [re.sub(r"FOREIGN KEY ?\(\w+\) ", "", piece) for piece in pieces if piece.strip()]


def test_the_revisions_make_the_same_schema_as_the_tables(database_url: str) -> None:
    with opened(database_url) as store:
        with store.write() as conn:
            metadata.create_all(conn)
        wanted = schema_of(store)
        with store.write() as conn:
            metadata.drop_all(conn)
        upgrade(store)
        assert schema_of(store) == wanted
        with store.read() as conn:
            assert compare_metadata(MigrationContext.configure(conn), metadata) == []


def test_upgrading_twice_changes_nothing(store: Store) -> None:
    before = schema_of(store)
    upgrade(store)
    assert schema_of(store) == before


def test_a_database_tells_whether_it_is_current(database_url: str) -> None:
    with opened(database_url) as store:
        with store.read() as conn:
            assert not is_current(conn)
        upgrade(store)
        with store.read() as conn:
            assert is_current(conn)


def test_an_upgrade_that_fails_leaves_nothing_behind(
    database_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def upgrade_and_fail(config: Config, revision: str) -> None:
        command_upgrade(config, revision)
        raise RuntimeError("the last statement of the upgrade failed")

    command_upgrade = command.upgrade
    monkeypatch.setattr(command, "upgrade", upgrade_and_fail)
    with opened(database_url) as store:
        before = schema_of(store)
        with pytest.raises(RuntimeError):
            upgrade(store)
        assert schema_of(store) == before

"""The two doors: what is read sees one state, what is written is written whole."""

import pytest
from sqlalchemy import Connection, select

from bot.core.errors import DunnockError, NotAllowed
from bot.store.engine import Store, open_store
from bot.store.tables import setting
from bot.store.values import clock_offset, is_demo, mark_as_demo, set_clock_offset
from tests.support.database import a_sealer
from tests.support.pairs import BORN, DISCHARGED

AHEAD = DISCHARGED - BORN


def keys(conn: Connection) -> list[str]:
    return list(conn.scalars(select(setting.c.key)))


def test_what_is_written_is_seen_by_the_next_reader(store: Store) -> None:
    with store.write() as conn:
        mark_as_demo(conn)
    with store.read() as conn:
        assert keys(conn) == ["demo"]


def test_a_fault_in_the_middle_leaves_nothing(store: Store) -> None:
    def fails() -> None:
        with store.write() as conn:
            mark_as_demo(conn)
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fails()
    with store.read() as conn:
        assert keys(conn) == []


def test_the_read_door_keeps_nothing(store: Store) -> None:
    with store.read() as conn:
        mark_as_demo(conn)
    with store.read() as conn:
        assert keys(conn) == []


def test_a_reader_does_not_wait_for_a_writer(store: Store) -> None:
    with store.write() as writing:
        mark_as_demo(writing)
        with store.read() as reading:
            assert keys(reading) == []


@pytest.mark.parametrize("migrated_url", ["sqlite"], indirect=True)
def test_sqlite_is_durable_and_checks_references(store: Store) -> None:
    with store.read() as conn:
        found = [
            conn.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "synchronous", "foreign_keys")
        ]
    assert found == ["wal", 2, 1]  # 2 is FULL


def test_another_kind_of_database_is_refused() -> None:
    with pytest.raises(DunnockError, match="sqlite:/// or postgresql://"):
        open_store("mysql://localhost/x", a_sealer())


def test_only_a_demos_clock_moves_and_only_forward(store: Store) -> None:
    with store.write() as conn:
        with pytest.raises(NotAllowed, match="real mothers"):
            set_clock_offset(conn, AHEAD)
        mark_as_demo(conn)
        set_clock_offset(conn, AHEAD)
        with pytest.raises(NotAllowed, match="only goes forward"):
            set_clock_offset(conn, AHEAD / 2)
    with store.read() as conn:
        assert is_demo(conn)
        assert clock_offset(conn) == AHEAD

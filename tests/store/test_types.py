"""Column types mean the same on both engines."""

from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import Column, Integer, MetaData, Table, insert, select
from sqlalchemy.exc import StatementError

from bot.store.engine import Store
from bot.store.types import Instant, Sealed, WordSet
from tests.support.any_pair import instants

probe = Table(
    "probe",
    MetaData(),
    Column("id", Integer, primary_key=True),
    Column("at", Instant),
    Column("sealed", Sealed),
    Column("some_words", WordSet),
)


@pytest.fixture
def probed(store: Store) -> Store:
    with store.write() as conn:
        probe.create(conn)
    return store


@settings(max_examples=20, suppress_health_check=list(HealthCheck))
@given(moments=st.lists(instants, min_size=1, max_size=8))
def test_moments_come_back_in_utc_and_in_order(probed: Store, moments: list[datetime]) -> None:
    with probed.write() as conn:
        conn.execute(probe.delete())
        conn.execute(insert(probe), [{"id": n, "at": at} for n, at in enumerate(moments)])
        found = list(conn.scalars(select(probe.c.at).order_by(probe.c.at)))
    assert found == sorted(moments)
    assert all(at is not None and at.tzinfo is UTC for at in found)


def test_a_moment_is_compared_across_zones(probed: Store) -> None:
    """Both sides of the hour that a night of clock change has twice stand in their true order."""
    paris = ZoneInfo("Europe/Paris")
    first = datetime(2026, 10, 25, 2, 30, tzinfo=paris, fold=0)
    again = datetime(2026, 10, 25, 2, 30, tzinfo=paris, fold=1)
    with probed.write() as conn:
        conn.execute(insert(probe), [{"id": 1, "at": again}, {"id": 2, "at": first}])
        between = first.astimezone(UTC) + timedelta(minutes=30)
        before = select(probe.c.id).where(probe.c.at < between.astimezone(timezone(timedelta(hours=9))))
        assert list(conn.scalars(before)) == [2]


def test_a_time_without_its_zone_is_refused(probed: Store) -> None:
    naive = datetime(2026, 3, 2, 6, 15)  # noqa: DTZ001
    with probed.write() as conn, pytest.raises(StatementError, match="without its zone"):
        conn.execute(insert(probe), {"id": 1, "at": naive})


def test_clear_text_is_refused_where_a_sealed_value_belongs(probed: Store) -> None:
    with probed.write() as conn, pytest.raises(StatementError, match="not sealed"):
        conn.execute(insert(probe), {"id": 1, "sealed": "Amina"})


def test_a_set_of_words_comes_back_as_a_set(probed: Store) -> None:
    with probed.write() as conn:
        conn.execute(insert(probe), {"id": 1, "some_words": {"twins", "early"}})
        assert conn.scalar(select(probe.c.some_words)) == frozenset({"early", "twins"})

"""Programme time runs ahead of the machine by what the database says; machine time is never moved."""

from datetime import UTC, timedelta

from bot.clock import Clock, machine_now
from tests.support.pairs import DISCHARGED


def test_programme_time_is_the_machines_unless_moved() -> None:
    assert Clock(machine=lambda: DISCHARGED).now() == DISCHARGED


def test_a_moved_clock_is_asked_anew_each_time() -> None:
    offsets = iter([timedelta(0), timedelta(hours=36)])
    clock = Clock(lambda: next(offsets), lambda: DISCHARGED)
    assert [clock.now(), clock.now()] == [DISCHARGED, DISCHARGED + timedelta(hours=36)]
    assert clock.machine() == DISCHARGED


def test_the_machine_tells_its_time_with_its_zone() -> None:
    assert machine_now().tzinfo is UTC

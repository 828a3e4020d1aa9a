"""The only place that asks the machine for the time.

Programme time is what follow-up runs on; in a demo database it can be moved forward. Machine time is for
leases, sessions, signatures and back-off, and is never moved.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta


def machine_now() -> datetime:
    """Give the machine's time, in UTC."""
    return datetime.now(UTC)


def _not_moved() -> timedelta:
    return timedelta(0)


@dataclass(frozen=True, slots=True)
class Clock:
    """Both times. `offset` gives how far programme time runs ahead of the machine; it is asked each time,
    because another process may move a demo's clock."""

    offset: Callable[[], timedelta] = _not_moved
    machine: Callable[[], datetime] = machine_now

    def now(self) -> datetime:
        """Give programme time, in UTC."""
        return self.machine() + self.offset()

"""A demo's clock goes forward: it stops at every moment at which something is due, and everything due is done
there, so that a week passes as it would have passed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import datetime, timedelta

from bot.clock import Clock
from bot.store.due import next_due
from bot.store.engine import Store
from bot.store.values import clock_offset, set_clock_offset

Pass = Callable[[], int]

# Far above any honest day; a pass that never comes to an end would otherwise hide here.
_MOST_ROUNDS = 10_000
# Moments closer than this are done together: a batch, as a worker would have made.
_STEP = timedelta(seconds=1)


def drain(passes: Mapping[str, Pass]) -> int:
    """Run every pass until none finds anything to do; gives how much was done."""
    done = 0
    for _ in range(_MOST_ROUNDS):
        now = sum(work() for work in passes.values())
        if not now:
            return done
        done += now
    raise RuntimeError("the passes do not come to an end")


def forward(
    store: Store, clock: Clock, passes: Mapping[str, Pass], until: datetime
) -> Iterator[tuple[datetime, int]]:
    """Move programme time to `until`; gives each moment stopped at and how much was done there.

    Raises NotAllowed in any database but a demo's.
    """
    yield clock.now(), drain(passes)
    while (moment := _next(store, clock.now(), until)) is not None:
        _move(store, clock, moment)
        yield moment, drain(passes)


def _next(store: Store, now: datetime, until: datetime) -> datetime | None:
    if now >= until:
        return None
    with store.read() as conn:
        due = next_due(conn)
    return min(until, max(due, now) + _STEP) if due is not None else until


def _move(store: Store, clock: Clock, to: datetime) -> None:
    with store.write() as conn:
        ahead = to - clock.machine()
        set_clock_offset(conn, max(ahead, clock_offset(conn)))

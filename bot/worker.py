"""Starts the passes of the program over and over. A pass is a callable that does a batch and tells its size.

Any number of workers may run: what a pass does is safe in all of them at once. The scheduler only ticks; what
is due stands in the database, so a lost tick loses nothing.
"""

from __future__ import annotations

import logging
import signal
import threading
from collections.abc import Callable, Mapping
from datetime import UTC
from types import FrameType

from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.schedulers.background import BackgroundScheduler

log = logging.getLogger(__name__)

Pass = Callable[[], int]

_EVERY_S = 0.25
_PAUSE_S = 0.002  # between batches, so that other writers of an SQLite file get their turn
_MOST_BATCHES = 200  # in one go; then the others' ticks are looked at again
_LONGEST_REST_S = 30.0  # of a pass that fails again and again


class Worker:
    """Runs each pass in a thread of its own until told to stop."""

    def __init__(self, passes: Mapping[str, Pass], *, every: float = _EVERY_S) -> None:
        self._stopping = threading.Event()
        self._scheduler = BackgroundScheduler(
            executors={"default": ThreadPoolExecutor(max(1, len(passes)))},
            job_defaults={"coalesce": True, "max_instances": 1, "misfire_grace_time": None},
            timezone=UTC,
        )
        for name, work in passes.items():
            self._scheduler.add_job(_Drain(name, work, self._stopping), "interval", seconds=every, name=name)
        # A pass that drains for longer than a tick is no news; APScheduler would warn four times a second.
        logging.getLogger("apscheduler").setLevel(logging.ERROR)

    def run(self) -> None:
        """Work until SIGTERM or SIGINT, then finish what is under way. For the main thread."""
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, self._on_signal)
        self.start()
        self._stopping.wait()
        self.stop()

    def start(self) -> None:
        """Begin to work, in threads."""
        self._scheduler.start()

    def stop(self) -> None:
        """Let each pass finish its batch, then return."""
        self._stopping.set()
        self._scheduler.shutdown(wait=True)

    def _on_signal(self, _number: int, _frame: FrameType | None) -> None:
        self._stopping.set()


class _Drain:
    """One pass, repeated until it finds nothing to do; a failure is logged and costs a rest that grows."""

    def __init__(self, name: str, work: Pass, stopping: threading.Event) -> None:
        self._name, self._work, self._stopping = name, work, stopping
        self._failures = 0

    def __call__(self) -> None:
        try:
            self._drain()
            self._failures = 0
        except Exception:
            self._failures += 1
            log.exception("the pass %s failed, %d times in a row", self._name, self._failures)
            self._stopping.wait(min(_EVERY_S * 2**self._failures, _LONGEST_REST_S))

    def _drain(self) -> None:
        for _ in range(_MOST_BATCHES):
            if self._stopping.is_set() or not self._work() or self._stopping.wait(_PAUSE_S):
                return

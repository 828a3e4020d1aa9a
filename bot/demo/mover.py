"""Moves the demo's clock: a wish comes in ('to the next contact'), programme time goes forward in a thread of
its own, and at each moment on the way everything due there is done, as a worker would have done it."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from bot.clock import Clock
from bot.demo.network import Away, Network
from bot.steps.forward import Pass, drain, forward
from bot.store.engine import Store

log = logging.getLogger(__name__)

_FARTHEST = timedelta(days=10)  # in one go: further off, nothing comes any more
_REPORTS_WITHIN_S = 2.0
_LOOK_S = 0.02


@dataclass(frozen=True, slots=True)
class Move:
    """Where the clock goes: to a moment, or until `done` holds."""

    until: datetime
    done: Callable[[], bool] = lambda: False


class Mover:
    """One move at a time; a second wish while one runs is not taken."""

    def __init__(self, store: Store, clock: Clock, passes: Mapping[str, Pass], network: Network) -> None:
        self._store, self._clock, self._network = store, clock, network
        # The network hears of a moment before anything is sent at it: it stamps the texts.
        self._passes = {"the network's clock": self._tell_time, **passes}
        self._lock = threading.Lock()
        self._thread: threading.Thread | None = None
        self.failed = ""

    @property
    def moving(self) -> bool:
        return self._thread is not None and self._thread.is_alive()

    def by(self, span: timedelta) -> None:
        """Move by so much."""
        self._start(Move(self._clock.now() + span))

    def to_next_text(self, number: str | None = None) -> None:
        """Move to the next text of the programme: any one, or the one on the phone with this number."""
        before = self._came(number)
        self._start(Move(self._clock.now() + _FARTHEST, lambda: self._came(number) > before))

    def wait(self, seconds: float) -> None:
        """Wait for the end of the move, but no longer than this."""
        if self._thread is not None:
            self._thread.join(seconds)

    def _came(self, number: str | None) -> int:
        if number is None:
            return self._network.counts()["came"]
        return sum(not text.hers for text in self._network.phone(number))

    def _start(self, move: Move) -> None:
        with self._lock:
            if not self.moving:
                self.failed = ""
                self._thread = threading.Thread(target=self._run, args=(move,), name="clock", daemon=True)
                self._thread.start()

    def _run(self, move: Move) -> None:
        try:
            self._go(move)
        except Away:
            self.failed = "network"
        except Exception:
            log.exception("the clock could not be moved")
            self.failed = "program"

    def _go(self, move: Move) -> None:
        for _moment, done in forward(self._store, self._clock, self._passes, move.until):
            if done:
                self._let_reports_come()
                drain(self._passes)
                if move.done():
                    return

    def _tell_time(self) -> int:
        self._network.tell_time(self._clock.now() - self._clock.machine())
        return 0

    def _let_reports_come(self) -> None:
        """Time may go on when what the network has to say of this moment has come in."""
        until = time.monotonic() + _REPORTS_WITHIN_S
        while self._network.counts()["waiting"] and time.monotonic() < until:
            time.sleep(_LOOK_S)

"""Where time goes: the main thread is interrupted every millisecond, and each time the room of the code that
was at work counts, from the inside out."""

from __future__ import annotations

import signal
from collections import Counter
from types import FrameType
from typing import Self

_EVERY_S = 0.001
# The first that is part of a frame's file, from the innermost frame outwards, is where the time goes.
ROOMS = (
    ("/bot/core/reader/", "the reader"),
    ("/bot/core/", "transition, plan and triage"),
    ("/bot/seal.py", "sealing"),
    ("/bot/store/types.py", "column types"),
    ("/bot/store/", "the store's own code"),
    ("/sqlalchemy/engine/default.py", "the database and its driver"),
    ("/psycopg/", "the database and its driver"),
    ("/sqlalchemy/", "SQLAlchemy"),
    ("/bot/steps/", "the steps' own code"),
)
_LEAST = 0.02


class Watch:
    """Looks on at the main thread, which enters it, until that leaves."""

    def __init__(self) -> None:
        self.looks: Counter[str] = Counter()

    def __enter__(self) -> Self:
        self._before = signal.signal(signal.SIGALRM, self._look)
        signal.setitimer(signal.ITIMER_REAL, _EVERY_S, _EVERY_S)
        return self

    def __exit__(self, *_: object) -> None:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, self._before)

    def _look(self, _signal: int, frame: FrameType | None) -> None:
        self.looks[_room(frame)] += 1

    def text(self) -> str:
        """Give the rooms by their share, the largest first."""
        total = self.looks.total()
        shares = [(name, looks / total) for name, looks in self.looks.most_common()]
        return ", ".join(f"{name} {share:.0%}" for name, share in shares if share >= _LEAST)


def _room(frame: FrameType | None) -> str:
    while frame is not None:
        for part, room in ROOMS:
            if part in frame.f_code.co_filename:
                return room
        frame = frame.f_back
    return "the rest"

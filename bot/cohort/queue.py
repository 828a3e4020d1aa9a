"""The inbox of all mothers together: items by minute and urgency come in, how long each waited for a counsellor
goes out. As in the inbox the gravest comes first, then the oldest; nobody is called back from a call, and a call
that has begun is finished. Memory is bounded by the minutes of the run, not by its mothers."""

from __future__ import annotations

import heapq
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from itertools import chain, repeat
from math import ceil, log
from random import Random

from bot.cohort.shifts import Shifts
from bot.core.states import Urgency

Arrivals = Mapping[tuple[int, int], int]  # (minute of the run, urgency) -> items
URGENCIES = (Urgency.go_now, Urgency.same_day, Urgency.routine)
IN_TIME = 0.95  # the share of go_now that is to be spoken to in time
MOST_COUNSELLORS = 10_000


@dataclass(slots=True)
class Waits:
    """Items by urgency and whole minutes waited, rounded up; `busy` are the minutes of all calls."""

    minutes: Mapping[Urgency, Counter[int]] = field(default_factory=lambda: {u: Counter() for u in URGENCIES})
    busy: float = 0.0

    def in_time(self, urgency: Urgency, due: timedelta) -> int:
        limit = due / timedelta(minutes=1)
        return sum(count for waited, count in self.minutes[urgency].items() if waited <= limit)


@dataclass(frozen=True)
class Work:
    """What lies before the counsellors: `means` are the mean minutes of a call by urgency. The same item takes
    the same time whoever is there, so that teams are compared by the same work."""

    arrivals: Arrivals
    means: Mapping[Urgency, float]
    seed: int

    def waits(self, shifts: Shifts, counsellors: int) -> Waits:
        """How long every item waits for so many counsellors in these shifts."""
        found = Waits()
        waiting = [self._items(urgency) for urgency in URGENCIES]
        heads = [next(items, None) for items in waiting]
        lengths = [Random(f"{self.seed}:calls:{urgency.name}") for urgency in URGENCIES]
        means = [self.means[urgency] for urgency in URGENCIES]
        minutes = [found.minutes[urgency] for urgency in URGENCIES]
        free = [0.0] * counsellors
        while any(head is not None for head in heads):
            at = max(free[0], min(head for head in heads if head is not None))
            at += shifts.wait_at(int(at))
            place, came = next((i, head) for i, head in enumerate(heads) if head is not None and head <= at)
            minutes[place][ceil(at - came)] += 1
            length = -means[place] * log(1.0 - lengths[place].random())
            found.busy += length
            heapq.heapreplace(free, at + length)
            heads[place] = next(waiting[place], None)
        return found

    def needed(self, shifts: Shifts, due: timedelta, *, only_in_shifts: bool = False) -> int | None:
        """The fewest counsellors with whom 95 % of go_now are spoken to in time; None where no number is enough,
        for too many come up while nobody is there. `only_in_shifts` leaves those out."""
        work = self._in_shifts(shifts) if only_in_shifts else self
        total = sum(count for (_, urgency), count in work.arrivals.items() if urgency == Urgency.go_now)
        at_best = sum(
            count
            for (minute, urgency), count in work.arrivals.items()
            if urgency == Urgency.go_now and shifts.wait_at(minute) <= due / timedelta(minutes=1)
        )
        if at_best < IN_TIME * total:
            return None

        def is_enough(counsellors: int) -> bool:
            return work.waits(shifts, counsellors).in_time(Urgency.go_now, due) >= IN_TIME * total

        return _least(is_enough) if total else 0

    def _items(self, urgency: Urgency):  # type: ignore[no-untyped-def]
        mine = sorted((minute, count) for (minute, of), count in self.arrivals.items() if of == urgency)
        return chain.from_iterable(repeat(minute, count) for minute, count in mine)

    def _in_shifts(self, shifts: Shifts) -> Work:
        """Without what is go_now while nobody is there."""
        there = {
            (minute, urgency): count
            for (minute, urgency), count in self.arrivals.items()
            if urgency != Urgency.go_now or shifts.wait_at(minute) == 0
        }
        return Work(there, self.means, self.seed)


def _least(is_enough) -> int | None:  # type: ignore[no-untyped-def]
    """The least number from 1 on that is enough, found by doubling and halving; None beyond all reason."""
    most = 1
    while not is_enough(most):
        most *= 2
        if most > MOST_COUNSELLORS:
            return None
    least = most // 2 + 1
    while least < most:
        middle = (least + most) // 2
        least, most = (least, middle) if is_enough(middle) else (middle + 1, most)
    return most

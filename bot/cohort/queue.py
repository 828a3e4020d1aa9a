"""The inbox of all mothers together: items by minute and urgency come in, how long each waited for a
counsellor goes out. As in the inbox the gravest comes first, then the oldest; nobody is called away from a
call, and one that has begun is finished after the shift. Memory is bounded by the minutes of the run, not
by its mothers."""

from __future__ import annotations

import heapq
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
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
        return sum(count for waited, count in self.minutes[urgency].items() if waited <= due / _MINUTE)


@dataclass(frozen=True)
class Work:
    """What lies before the counsellors: `means` are the mean minutes of a call by urgency. The same item
    takes the same time whoever is there, so that teams are compared by the same work."""

    arrivals: Arrivals
    means: Mapping[Urgency, float]
    seed: int

    def waits(self, shifts: Shifts, counsellors: int) -> Waits:
        """How long every item waits for so many counsellors in these shifts."""
        found = Waits()
        minutes = [found.minutes[urgency] for urgency in URGENCIES]
        for place, waited, length in self._calls(shifts, counsellors):
            minutes[place][waited] += 1
            found.busy += length
        return found

    def needed(self, shifts: Shifts, due: timedelta, *, only_in_shifts: bool = False) -> int | None:
        """The fewest counsellors with whom 95 % of go_now are spoken to in time, from 100 on to the next
        per cent above; None where no number is enough, for too many come up while nobody is there.
        `only_in_shifts` leaves those out."""
        work = self._in_shifts(shifts) if only_in_shifts else self
        urgent = {minute: n for (minute, of), n in work.arrivals.items() if of == Urgency.go_now}
        may_be_late = int((1 - IN_TIME) * sum(urgent.values()))
        never_in_time = sum(n for minute, n in urgent.items() if shifts.wait_at(minute) > due / _MINUTE)
        if never_in_time > may_be_late:
            return None
        if not urgent:
            return 0
        return _least(lambda counsellors: work._is_enough(shifts, counsellors, due / _MINUTE, may_be_late))

    def _is_enough(self, shifts: Shifts, counsellors: int, limit: float, may_be_late: int) -> bool:
        """Tell whether no more go_now wait longer than `limit` minutes; stops at the first one too many."""
        late = 0
        for place, waited, _ in self._calls(shifts, counsellors):
            if place == 0 and waited > limit:
                late += 1
                if late > may_be_late:
                    return False
        return True

    def _calls(self, shifts: Shifts, counsellors: int) -> Iterator[tuple[int, int, float]]:
        """Every call in the order of their beginnings: place of its urgency, minutes waited, minutes it
        takes."""
        waiting = [self._items(urgency) for urgency in URGENCIES]
        heads = [next(items, None) for items in waiting]
        lengths = [Random(f"{self.seed}:calls:{urgency.name}") for urgency in URGENCIES]
        means = [self.means[urgency] for urgency in URGENCIES]
        free = [0.0] * counsellors
        while left := [head for head in heads if head is not None]:
            at = max(free[0], min(left))
            at += shifts.wait_at(int(at))
            place, came = next((n, head) for n, head in enumerate(heads) if head is not None and head <= at)
            length = -means[place] * log(1.0 - lengths[place].random())
            yield place, ceil(at - came), length
            heapq.heapreplace(free, at + length)
            heads[place] = next(waiting[place], None)

    def _items(self, urgency: Urgency) -> Iterator[int]:
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


def _least(is_enough: Callable[[int], bool]) -> int | None:
    """The least number from 1 on that is enough, found by doubling and halving; None beyond all reason."""
    most = 1
    while not is_enough(most):
        most *= 2
        if most > MOST_COUNSELLORS:
            return None
    least = most // 2 + 1
    while most - least > most // 100:
        middle = (least + most) // 2
        least, most = (least, middle) if is_enough(middle) else (middle + 1, most)
    return most


_MINUTE = timedelta(minutes=1)

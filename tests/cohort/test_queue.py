"""How long items wait for so many counsellors: against a formula, by hand, and by property."""

from __future__ import annotations

from collections import Counter
from datetime import time, timedelta
from math import factorial, log
from random import Random
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.cohort.assumed import Shift
from bot.cohort.queue import Work
from bot.cohort.shifts import WEEK_MINUTES, Shifts
from bot.core.states import Urgency

TZ = ZoneInfo("Africa/Nairobi")
ALWAYS = Shifts.always(TZ)
DUE = timedelta(minutes=15)
GO_NOW, SAME_DAY, ROUTINE = Urgency.go_now, Urgency.same_day, Urgency.routine
MEANS = {GO_NOW: 15.0, SAME_DAY: 9.0, ROUTINE: 6.0}


def by_day(*days: str, since: int = 8, until: int = 18) -> Shifts:
    shift = {"days": days, "from": time(since), "until": time(until)}
    return Shifts([Shift.model_validate(shift)], TZ)


MONDAY = by_day("monday")


@pytest.mark.parametrize(("counsellors", "load"), [(1, 0.7), (2, 1.2), (5, 3.0)])
def test_the_mean_wait_is_that_of_the_erlang_c_formula(counsellors, load):
    """Random arrivals, exponential calls, nobody more urgent: M/M/c, whose mean wait is C(c, a) / (c mu -
    lambda) (from memory, as any textbook on queues has it)."""
    mean = 600.0  # long, so that whole minutes do not matter
    random, minute, arrivals = Random(7), 0.0, Counter[tuple[int, int]]()
    for _ in range(60_000):
        minute += -mean / load * log(1 - random.random())
        arrivals[int(minute), int(ROUTINE)] += 1
    found = Work(arrivals, {**MEANS, ROUTINE: mean}, seed=3).waits(ALWAYS, counsellors).minutes[ROUTINE]
    waited = sum(minutes * count for minutes, count in found.items()) / found.total()
    assert waited == pytest.approx(_erlang_c(counsellors, load) * mean / (counsellors - load), rel=0.1)


def _erlang_c(servers: int, load: float) -> float:
    """The chance that all servers are busy."""
    busy = load**servers / factorial(servers) * servers / (servers - load)
    return busy / (sum(load**n / factorial(n) for n in range(servers)) + busy)


def test_the_formula_of_the_test_gives_a_known_value():
    assert _erlang_c(1, 0.5) == pytest.approx(0.5)  # one server is busy for the share of its load


def test_what_comes_up_at_night_waits_for_the_shift():
    waits = Work({(0, int(SAME_DAY)): 1}, MEANS, seed=1).waits(MONDAY, 1)
    assert waits.minutes[SAME_DAY] == {8 * 60: 1}


def test_what_comes_up_after_the_last_shift_waits_for_next_week():
    tuesday = 24 * 60
    waits = Work({(tuesday, int(ROUTINE)): 1}, MEANS, seed=1).waits(MONDAY, 3)
    assert waits.minutes[ROUTINE] == {6 * 24 * 60 + 8 * 60: 1}


def test_the_gravest_is_called_first_and_then_the_oldest():
    at = 9 * 60
    arrivals = {(at - 30, int(ROUTINE)): 1, (at - 20, int(SAME_DAY)): 1, (at - 10, int(GO_NOW)): 1}
    waits = Work({(at - 40, int(ROUTINE)): 1, **arrivals}, dict.fromkeys(MEANS, 1e6), seed=1).waits(ALWAYS, 1)
    order = sorted((max(counts), urgency) for urgency, counts in waits.minutes.items() if counts)
    assert [urgency for _, urgency in order] == [GO_NOW, SAME_DAY, ROUTINE]


ARRIVALS = st.dictionaries(
    st.tuples(st.integers(0, 3 * WEEK_MINUTES), st.sampled_from((1, 2, 3))), st.integers(1, 3), max_size=40
)


@settings(max_examples=60, deadline=None)
@given(ARRIVALS, st.integers(1, 4), st.sampled_from((ALWAYS, MONDAY, by_day("sunday", since=20, until=6))))
def test_every_item_is_called_once_and_any_team_does_the_same_work(arrivals, counsellors, shifts):
    work = Work(arrivals, MEANS, seed=5)
    waits = work.waits(shifts, counsellors)
    for urgency, counts in waits.minutes.items():
        assert counts.total() == sum(n for (_, of), n in arrivals.items() if of == urgency)
        assert min(counts, default=0) >= 0
    assert waits.busy == pytest.approx(work.waits(ALWAYS, 1).busy)


def test_the_number_needed_is_enough_and_one_fewer_is_not():
    random = Random(11)
    arrivals = Counter((int(random.random() * 20_000), int(GO_NOW)) for _ in range(4_000))
    work = Work(arrivals, MEANS, seed=2)
    needed = work.needed(ALWAYS, DUE)
    assert needed is not None
    share = {n: work.waits(ALWAYS, n).in_time(GO_NOW, DUE) / 4_000 for n in (needed - 1, needed)}
    assert share[needed - 1] < 0.95 <= share[needed]


def test_no_number_is_enough_when_dangers_come_up_while_nobody_is_there():
    work = Work({(0, int(GO_NOW)): 1, (9 * 60, int(GO_NOW)): 1}, MEANS, seed=1)
    assert work.needed(MONDAY, DUE) is None
    assert work.needed(MONDAY, DUE, only_in_shifts=True) == 1
    assert work.needed(ALWAYS, DUE) == 1


def test_nobody_is_needed_for_nothing():
    assert Work({}, MEANS, seed=1).needed(MONDAY, DUE) == 0

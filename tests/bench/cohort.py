"""What a mother of the cohort costs, and whether many cost more each, in time or in memory.

`python -m tests.bench.cohort MOTHERS` is one run in a process of its own, which prints its figures as JSON.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
from pathlib import Path
from time import perf_counter

from bot.cohort.outcome import outcome
from bot.cohort.programme import shipped, world_of
from bot.cohort.run import run
from tests.bench.measure import Cell, Goal, Line, Results, Spread, ratios
from tests.bench.place import Place

FEW, MANY, ALL = 2_000, 20_000, 100_000
DAYS = 42
Once = dict[str, float]


def bench(place: Place) -> Results:
    """Few mothers and ten times as many, in turn, on all cores; quick: 200 and 1,000."""
    few, many = (200, 1_000) if place.quick else (FEW, MANY)
    rounds = [(_once(few), _once(many)) for _ in range(1 if place.quick else 2)]
    cpu = Spread.of([1000 * big["cpu"] / many for _, big in rounds])
    peaks = [[each["peak_mb"] for each in sizes] for sizes in zip(*rounds, strict=True)]
    times = ratios([big["cpu"] / many for _, big in rounds], [small["cpu"] / few for small, _ in rounds])
    cores = len(os.sched_getaffinity(0))
    whole = Spread.of([big["cpu"] / many * ALL / cores for _, big in rounds])
    memory = f"{max(peaks[1]):.0f} MB beside {max(peaks[0]):.0f} MB in the largest process"
    return Results(
        [
            Line(f"A mother's {DAYS} days in the cohort, ms of one core, of {many:,}", {"": Cell(cpu)}),
            Line(
                f"{ALL:,} mothers for {DAYS} days on {cores} cores of their own, seconds, "
                f"reckoned from {many:,}",
                {"": Cell(whole, places=0)},
                Goal(300, at_most=True),
            ),
            Line(
                f"Time of a core for each of {many:,} mothers as a multiple of each of {few:,}",
                {"": Cell(times)},
                Goal(1.1, at_most=True),
            ),
            Line(
                f"Peak memory for {many:,} mothers as a multiple of that for {few:,}",
                {"": Cell(ratios(peaks[1], peaks[0]), memory)},
                Goal(1.2, at_most=True),
            ),
        ]
    )


def _once(mothers: int) -> Once:
    command = [sys.executable, "-m", "tests.bench.cohort", str(mothers)]
    done = subprocess.run(command, check=True, capture_output=True, text=True, timeout=3600)
    found: Once = json.loads(done.stdout)
    return found


def main(mothers: int) -> Once:
    """Run the cohort with its figures on every core; give seconds and the peak of the largest process."""
    world, begun = world_of(shipped(), days=DAYS), perf_counter()
    tally = run(world, mothers, len(os.sched_getaffinity(0)))
    outcome(world, tally, mothers, 2)
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return {
        "wall": perf_counter() - begun,
        "cpu": sum(each.ru_utime + each.ru_stime for each in used),
        "peak_mb": max(_own_peak_kb(), used[1].ru_maxrss) / 1024,
    }


def _own_peak_kb() -> int:
    """What Linux says of this process alone: its ru_maxrss begins with that of whoever started it."""
    for line in Path("/proc/self/status").read_text("utf-8").splitlines():
        if line.startswith("VmHWM:"):
            return int(line.split()[1])
    raise RuntimeError("This benchmark reads /proc/self/status; it runs on Linux.")


if __name__ == "__main__":
    print(json.dumps(main(int(sys.argv[1]))))

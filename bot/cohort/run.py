"""A run: a world and a number of mothers come in, the tally of all goes out. Mothers live in batches, in as
many processes as wished; every number is a sum, so neither the batches nor the processes change a result."""

from __future__ import annotations

import gc
import multiprocessing
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from bot.cohort.life import live
from bot.cohort.tally import Tally
from bot.cohort.world import World

BATCH = 200  # mothers; a batch is what one process does at a time
Progress = Callable[[int], None]  # is told how many mothers more have lived

_world: World | None = None  # of a process that lives batches


def run(world: World, mothers: int, processes: int = 1, progress: Progress = lambda _: None) -> Tally:
    """Let mothers 0 to `mothers` - 1 live and count everything."""
    total = Tally()
    batches = [range(start, min(start + BATCH, mothers)) for start in range(0, mothers, BATCH)]
    with _living(world, min(processes, len(batches))) as results:
        for lived, tally in results(batches):
            total.add(tally)
            progress(lived)
    return total


@contextmanager
def _living(world: World, processes: int) -> Iterator[Callable[..., Iterator[tuple[int, Tally]]]]:
    if processes <= 1:
        _begin(world)
        yield lambda batches: map(_live, batches)
        return
    with multiprocessing.Pool(processes, _begin, (world,)) as pool:
        yield lambda batches: pool.imap_unordered(_live, batches)


def _begin(world: World) -> None:
    """The content stays for the whole run: the collector need not look at it again and again."""
    global _world
    _world = world
    gc.collect()
    gc.freeze()
    gc.set_threshold(100_000, 10, 10)


def _live(batch: range) -> tuple[int, Tally]:
    assert _world is not None
    tally = Tally()
    for index in batch:
        live(index, _world, tally)
    return len(batch), tally

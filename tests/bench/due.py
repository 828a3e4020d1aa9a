"""Finding and claiming what is due among very many that are not, beside the same among few: 500 enrolments
(found, locked, loaded whole) and 500 texts (claimed, opened). Each is rolled back,
so that the next does the same."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack, suppress
from datetime import timedelta
from functools import partial
from itertools import product
from time import perf_counter
from typing import Any
from uuid import uuid4

from sqlalchemy import Connection, text

from bot.gateway.memory import MemoryGateway
from bot.store.claims import claim
from bot.store.engine import Store
from bot.store.pairs import load_pairs, wake_due
from tests.bench.fill import fill
from tests.bench.measure import ENGINES, POSTGRES, Cell, Goal, Line, Results, Spread, in_turn, ratios
from tests.bench.place import Place, pinned
from tests.bench.population import population
from tests.bench.sending import CHECK_IN
from tests.support.pairs import DISCHARGED
from tests.support.service import Service

DUE, FEW = 500, 10_000
# A planner changes its mind with size: what is quick among most may be slow in the middle.
MANY = (200_000, 5_000_000)
_ONCE_MORE = 3  # runs in a row, of which the quickest counts: short, and easily disturbed


def bench(place: Place) -> Results:
    """Fails unless exactly those that are due are found."""
    crowds = MANY[:1] if place.quick else MANY
    enrolments: dict[int, dict[str, Cell]] = {many: {} for many in crowds}
    texts: dict[int, dict[str, Cell]] = {many: {} for many in crowds}
    notes = []
    for engine, many in product(ENGINES, crowds):
        with ExitStack() as stack, pinned(place.cores.ours):
            few = stack.enter_context(place.store(engine))
            much = stack.enter_context(place.store(engine))
            _prepare(few, FEW)
            begun = perf_counter()
            _prepare(much, many)
            filled = perf_counter() - begun
            notes.append(f"{engine}: filling {many:,} took {filled:.0f} s and {_size(much) / 1e9:.1f} GB.")
            enrolments[many][engine] = _beside(_enrolments, few, much, place.rounds)
            texts[many][engine] = _beside(_texts, few, much, place.rounds)
    goal = Goal(1.3, at_most=True)
    found, claimed = f"find, lock and load {DUE} due enrolments", f"claim {DUE} due texts"
    return Results(
        [
            Line(f"Time to {what} among {many:,} as a multiple of among {FEW:,}", cells[many], goal)
            for what, cells in ((found, enrolments), (claimed, texts))
            for many in crowds
        ],
        notes,
    )


def _prepare(store: Store, number: int) -> None:
    """Pairs with a question queued and due again at once, and `number` for whom nothing is due."""
    service = Service(store, MemoryGateway(), DISCHARGED)
    service.enrol(population(DUE))
    service.drain()
    service.now = CHECK_IN
    while service.passes["wake"]():
        pass
    service.close()
    fill(store, number, CHECK_IN)
    with store.write() as conn:
        mine = "external_id LIKE 'B-%'"
        conn.execute(
            text(f"UPDATE enrolment SET wake_at = (SELECT min(send_after) FROM message) WHERE {mine}")
        )


def _beside(work: Callable[[Store], float], few: Store, much: Store, rounds: int) -> Cell:
    times = in_turn({"few": partial(work, few), "much": partial(work, much)}, rounds)
    beside = f"{Spread.of(times['much']).median:.1f} ms beside {Spread.of(times['few']).median:.1f} ms"
    return Cell(ratios(times["much"], times["few"]), beside)


class _Undone(Exception):
    """Everything is to be rolled back."""


def _quickest(store: Store, work: Callable[[Connection], int]) -> float:
    """Give the milliseconds of the quickest of a few runs."""
    times = []
    for _ in range(_ONCE_MORE):
        with suppress(_Undone), store.write() as conn:
            begun = perf_counter()
            found = work(conn)
            times.append(1000 * (perf_counter() - begun))
            if found != DUE:
                raise AssertionError(f"{found} were found, {DUE} are due")
            raise _Undone
    return min(times)


def _enrolments(store: Store) -> float:
    now = CHECK_IN + timedelta(minutes=1)
    return _quickest(store, lambda conn: len(load_pairs(conn, wake_due(conn, now, DUE), lock=True)))


def _texts(store: Store) -> float:
    now = CHECK_IN + timedelta(minutes=1)
    given: dict[str, Any] = {"now": now, "lease": timedelta(minutes=1), "limit": DUE}
    return _quickest(store, lambda conn: len(claim(conn, "standin", token=uuid4(), **given)))


def _size(store: Store) -> int:
    with store.read() as conn:
        if store.engine.dialect.name == POSTGRES:
            return int(conn.scalar(text("SELECT pg_database_size(current_database())")) or 0)
        pages = conn.scalar(text("PRAGMA page_count")), conn.scalar(text("PRAGMA page_size"))
        return int(pages[0] or 0) * int(pages[1] or 0)

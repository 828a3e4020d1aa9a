"""The way of a text from its claim to its recorded answer, beside the same pool of clients posting the same
texts with no database. The gateway answers after 50 ms, so 64 in flight make at most 1,280 a second."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from uuid import UUID

from sqlalchemy import delete, func, select, update

from bot.clock import machine_now
from bot.core.outbox import Accepted, OutboundText
from bot.core.states import MessageState
from bot.gateway.http import HttpGateway
from bot.gateway.profile import Profile, make_profile
from bot.store.tables import message, send_attempt
from tests.bench.measure import (
    ENGINES,
    Cell,
    Goal,
    Line,
    Results,
    in_turn,
    per_second,
    rate_text,
    ratios,
)
from tests.bench.place import Place, pinned
from tests.bench.population import population
from tests.bench.stub import DELAY_S, counts, running_stub
from tests.support.pairs import DISCHARGED
from tests.support.service import SECRET, Service

IN_FLIGHT = 64
CHECK_IN = DISCHARGED.replace(day=4, hour=8, minute=30)  # when the first check-in is due


def bench(place: Place) -> Results:
    """Fails unless the gateway got every text once and every text is recorded as accepted."""
    number = 640 if place.quick else 2_000
    with ExitStack() as stack:
        stack.enter_context(pinned(place.cores.ours))
        port = stack.enter_context(running_stub(place))
        sent = {engine: _Sent(stack, place, engine, port, number) for engine in ENGINES}
        pool = _Pool(stack, port, sent[ENGINES[0]].texts())
        rates = in_turn({"pool": pool.one, **{e: each.one for e, each in sent.items()}}, place.rounds)
    beside = f"beside {rate_text(rates['pool'])}"
    cells = {e: Cell(ratios(rates[e], rates["pool"]), f"{rate_text(rates[e])} {beside}") for e in ENGINES}
    what = f"{IN_FLIGHT} in flight, answered after {1000 * DELAY_S:.0f} ms"
    return Results(
        [Line(f"Texts sent, claim to record, as a share of the bare pool ({what})", cells, Goal(0.6))]
    )


def a_profile(port: int) -> Profile:
    return make_profile(
        "standin",
        url=f"http://127.0.0.1:{port}/messages",
        token="bench",
        sender="+447700900900",
        secrets=[SECRET],
    )


class _Pool:
    """The clients and threads that a sender has, and nothing else."""

    def __init__(self, stack: ExitStack, port: int, texts: Sequence[OutboundText]) -> None:
        self._texts, self._port = texts, port
        self._gateway = HttpGateway(a_profile(port), machine_now)
        self._threads = ThreadPoolExecutor(IN_FLIGHT)
        stack.callback(self._gateway.close)
        stack.callback(self._threads.shutdown)

    def one(self) -> float:
        rate = per_second(len(self._texts), self._post)
        _check_gateway(self._port, len(self._texts))
        return rate

    def _post(self) -> None:
        outcomes = list(self._threads.map(self._gateway.send, self._texts))
        if not all(isinstance(outcome, Accepted) for outcome in outcomes):
            raise AssertionError("a post was not accepted")


class _Sent:
    """One engine with as many first questions as are sent in a run; queued anew before each."""

    def __init__(self, stack: ExitStack, place: Place, engine: str, port: int, number: int) -> None:
        self._number, self._port = number, port
        store = stack.enter_context(place.store(engine))
        gateway = HttpGateway(a_profile(port), machine_now)
        self._service = Service(store, gateway, DISCHARGED, in_flight=IN_FLIGHT)
        stack.callback(gateway.close)
        stack.callback(self._service.close)
        self._service.enrol(population(number))
        self._service.now = CHECK_IN
        while self._service.passes["wake"]():
            pass
        self._ids = self._first_questions()

    def _first_questions(self) -> list[UUID]:
        """What is not a question is out of the way."""
        m = message.c
        with self._service.store.write() as conn:
            others = m.state == MessageState.queued, ~m.text_key.startswith("ask-")
            conn.execute(
                update(message).where(*others).values(state=MessageState.cancelled, final_at=CHECK_IN)
            )
            ids = list(conn.scalars(select(m.id).where(m.state == MessageState.queued)))
        if len(ids) != self._number:
            raise AssertionError(f"{len(ids)} questions wait, not {self._number}")
        return ids

    def texts(self) -> list[OutboundText]:
        """What a bare pool posts instead."""
        expires = CHECK_IN.replace(hour=20)
        words = "Amina, is there anything about you or Nia that worries you? Reply yes or no, or say what."
        return [OutboundText(str(each), "+12025550100", words, expires) for each in self._ids]

    def one(self) -> float:
        self._queue_anew()
        rate = per_second(self._number, self._send)
        _check_gateway(self._port, self._number)
        with self._service.store.read() as conn:
            taken = select(func.count()).where(message.c.state == MessageState.accepted)
            tried = select(func.count()).select_from(send_attempt)
            recorded = conn.scalar(taken), conn.scalar(tried)
        if recorded != (self._number, self._number):
            raise AssertionError(f"{self._number} texts were taken, recorded are {recorded}")
        return rate

    def _send(self) -> None:
        while self._service.passes["send 0"]():
            pass

    def _queue_anew(self) -> None:
        """As if each text had just been made: without words, without attempts."""
        fresh = dict.fromkeys(("text", "sent_at", "final_at", "gateway", "encoding", "segments"))
        with self._service.store.write() as conn:
            conn.execute(delete(send_attempt))
            mine = update(message).where(message.c.text_key.startswith("ask-"))
            conn.execute(mine.values(state=MessageState.queued, attempts=0, failure=0, told=True, **fresh))


def _check_gateway(port: int, number: int) -> None:
    found = counts(port)
    if found != (number, number):
        raise AssertionError(f"the gateway got {found} posts and ids, not {number}")

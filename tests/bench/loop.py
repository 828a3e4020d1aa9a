"""The loop itself: pairs woken, and replies from their row to the next question queued, beside the same work
in the pure core (reader, transition, triage) with no database."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from time import perf_counter

from sqlalchemy import func, select

from bot.content.factory import load_factory
from bot.core.follow import Content, follow
from bot.core.follow.addressee import addressees
from bot.core.follow.events import ReplyRead, Woke
from bot.core.pair import Pair
from bot.core.reader import Lexicon, read
from bot.core.states import InboundState
from bot.gateway.memory import MemoryGateway
from bot.store.tables import inbound, message
from tests.bench.measure import ENGINES, Cell, Line, Rates, Results, rate_text, ratios
from tests.bench.place import Place, pinned
from tests.bench.population import population
from tests.bench.rooms import Watch
from tests.bench.sending import CHECK_IN
from tests.support.life import standard_content
from tests.support.pairs import DISCHARGED, an_id
from tests.support.service import Service

REPLY = "No, all is well"
CORE = "core"


@dataclass(frozen=True, slots=True)
class _Day:
    """Rates of one day's work, and the pairs as they stood before each part of it."""

    woken: float
    replied: float
    before_waking: Sequence[Pair]
    before_replies: Sequence[Pair]


def bench(place: Place) -> Results:
    """Fails unless every pair was asked, every reply read, and the next question queued for each."""
    number = 100 if place.quick else 400
    woken: Rates = {name: [] for name in (*ENGINES, CORE)}
    replied: Rates = {name: [] for name in (*ENGINES, CORE)}
    for round_ in range(place.rounds + 1):  # the first is a warming up
        days = {engine: _a_day(place, engine, number) for engine in ENGINES}
        days[CORE] = _in_core(place, days[ENGINES[0]])
        for name, day in days.items() if round_ else ():
            woken[name].append(day.woken)
            replied[name].append(day.replied)
    notes = []
    for engine in ENGINES:
        watch = Watch()
        _a_day(place, engine, number, watch)
        notes.append(f"Where the time of a reply goes on {engine}: {watch.text()}.")

    def cells(found: Rates) -> dict[str, Cell]:
        beside = f"beside {rate_text(found[CORE])}"
        return {e: Cell(ratios(found[e], found[CORE]), f"{rate_text(found[e])} {beside}") for e in ENGINES}

    return Results(
        [
            Line("Pairs woken and asked, as a share of the pure core alone", cells(woken)),
            Line("Replies read, judged and answered, as a share of the pure core alone", cells(replied)),
        ],
        notes,
    )


def _a_day(
    place: Place, engine: str, number: int, watch: AbstractContextManager[object] | None = None
) -> _Day:
    """Enrol, wake, send the question, let everybody answer it; `watch` looks on at the replies."""
    pairs = population(number)
    ids = [pair.id for pair in pairs]
    with pinned(place.cores.ours), place.store(engine) as store:
        service = Service(store, MemoryGateway(), DISCHARGED, in_flight=8)
        service.enrol(pairs)
        service.drain()
        service.now = CHECK_IN
        sleeping = service.pairs(ids)
        woken = _rate(service, "wake", number)
        service.drain()
        for n, pair in enumerate(pairs):
            service.reply(str(pair.mother.phone), REPLY, f"reply-{n}")
        waiting = service.pairs(ids)
        with watch or nullcontext():
            replied = _rate(service, "replies", number)
        _check(service, number)
        service.close()
    return _Day(woken, replied, sleeping, waiting)


def _rate(service: Service, name: str, number: int) -> float:
    done, begun = 0, perf_counter()
    while now := service.passes[name]():
        done += now
    if done != number:
        raise AssertionError(f"{name}: {done} of {number} were done")
    return number / (perf_counter() - begun)


def _check(service: Service, number: int) -> None:
    second = message.c.text_key.startswith("ask-"), message.c.priority == 1
    with service.store.read() as conn:
        read_ = conn.scalar(select(func.count()).where(inbound.c.state == InboundState.read))
        asked = conn.scalar(select(func.count()).where(*second))
    if (read_, asked) != (number, number):
        raise AssertionError(f"of {number} replies {read_} were read, {asked} led to the next question")


def _in_core(place: Place, day: _Day) -> _Day:
    """The same work on the same pairs."""
    content, lexicon = standard_content(), load_factory().lexicons["en"]
    with pinned(place.cores.ours):
        begun = perf_counter()
        for pair in day.before_waking:
            follow(pair, Woke(False), content, CHECK_IN)
        woke = perf_counter()
        for n, pair in enumerate(day.before_replies):
            _answer(pair, n, content, lexicon)
        done = perf_counter()
    number = len(day.before_waking)
    return _Day(number / (woke - begun), number / (done - woke), (), ())


def _answer(pair: Pair, n: int, content: Content, lexicon: Lexicon) -> None:
    (whose,) = addressees([pair], CHECK_IN, pair.mother.phone)
    assert whose.question is not None
    reading = read(REPLY, [whose.question.key], None, lexicon)
    event = ReplyRead(an_id("reply", n), CHECK_IN, reading, whose.question.id, whose.sure)
    follow(pair, event, content, CHECK_IN)

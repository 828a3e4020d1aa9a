"""Every function of the store that gives something of people asks who looks.

The modules are walked: a public function that takes a connection or a store must have a `viewer`, unless it
stands in `NOT_FOR_PEOPLE` with the reason. A new function is therefore noticed here.
"""

import importlib
import inspect
import pkgutil
from collections.abc import Callable, Iterator

import pytest

import bot.store

# Modules whose functions serve workers, operators or the program itself: no page or API may call them to show
# something of people.
NOT_FOR_PEOPLE = {
    "alerts": "wakes people on call",
    "audit": "ids only, for operators",
    "claims": "sends texts",
    "counts": "numbers only",
    "database_time": "the database's clock",
    "deaf": "times and numbers of the service",
    "due": "finds pairs for workers",
    "editions": "content, no people",
    "effects": "stores what follows",
    "engine": "the doors themselves",
    "enrolments": "tells enrolment what stands already, at any site",
    "erasing": "takes away, gives ids",
    "gateways": "states of gateways",
    "looped": "our own number's test texts",
    "inbound": "stores replies and gives them to the reader",
    "migrate": "the schema",
    "outbox": "records what became of texts",
    "pairs": "loads pairs for the transition",
    "pulse": "states of the service",
    "readings": "stores how replies were read",
    "record": "opens entries and holds",
    "receipts": "records delivery reports",
    "saving": "stores pairs",
    "sites": "facilities, no people",
    "strangers": "stores items about unknown numbers",
    "text_signatures": "who signed content, no mothers",
    "tokens": "makes viewers",
    "tracing": "ids and words of the program, for operators",
    "values": "single settings",
    "views_judged": "ids, ages and counts, for operators",
}
# Accounts make viewers, so these can't ask for one; what they give is about staff signing in.
SIGNING_IN = {
    "add_account", "account_by_login", "account_by_id", "set_language", "end_sessions", "record_attempt",
    "failures_since", "count_accounts",
}  # fmt: skip


def functions() -> Iterator[tuple[str, str, Callable[..., object]]]:
    for module in pkgutil.iter_modules(bot.store.__path__):
        found = importlib.import_module(f"bot.store.{module.name}")
        for name, value in vars(found).items():
            public = inspect.isfunction(value) and not name.startswith("_")
            if public and value.__module__ == found.__name__:
                yield module.name, name, value


def reaches_the_database(function: Callable[..., object]) -> bool:
    return bool({"conn", "store"} & set(inspect.signature(function).parameters))


ASKED = [
    pytest.param(function, id=f"{module}.{name}")
    for module, name, function in functions()
    if module not in NOT_FOR_PEOPLE and name not in SIGNING_IN and reaches_the_database(function)
]


@pytest.mark.parametrize("function", ASKED)
def test_who_gives_something_of_people_asks_who_looks(function: Callable[..., object]) -> None:
    assert inspect.signature(function).parameters["viewer"].annotation == "Viewer"


def test_the_walk_finds_the_views() -> None:
    """Guards against a walk that finds nothing and so proves nothing."""
    walked = {module for module, _, _ in functions()}
    assert {"accounts", "pairs", "views_inbox", "views_case"} <= walked
    assert len(ASKED) >= 4


def test_every_exception_is_still_a_module() -> None:
    modules = {module.name for module in pkgutil.iter_modules(bot.store.__path__)}
    assert set(NOT_FOR_PEOPLE) <= modules

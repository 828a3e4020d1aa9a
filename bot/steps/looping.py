"""A text to ourselves: posted through one gateway, looked for at both hooks. Out: what works, in words."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import timedelta
from uuid import UUID, uuid4

from bot.clock import Clock
from bot.core.ids import derived_id
from bot.core.outbox import (
    Accepted,
    Denied,
    OptedOut,
    OutboundText,
    Outcome,
    Permanent,
    Temporary,
    Unknown,
)
from bot.gateway import Gateway
from bot.gateway.profile import Profile
from bot.store.engine import Store
from bot.store.looped import came_back, reported

_KINDS: Mapping[type, str] = {
    Temporary: "not now, it is tried again",
    Permanent: "this text is refused",
    OptedOut: "she wants no texts from us",
    Denied: "denied, our settings are wrong",
    Unknown: "nobody knows whether it was taken, it is tried again",
}
_LIFE = timedelta(minutes=10)
_LOOK_S = 0.5
# Both alphabets in one text: whoever loses letters loses them here.
WORDS = "Dunnock check {mark}: 8+ @ é [٨ ८ ፰]"


@dataclass(frozen=True, slots=True)
class Found:
    """One thing looked at: whether it works, and what was seen."""

    what: str
    works: bool
    seen: str


def loop(
    store: Store,
    gateway: Gateway,
    profile: Profile,
    clock: Clock,
    wait: timedelta,
    pause: Callable[[float], None],
) -> Iterator[Found]:
    """Send a text from our number to itself; give each finding as soon as it is known.

    Both hooks must be reachable by the gateway, so `dunnock serve` must run; nothing is sent to anybody else.
    """
    row_id = derived_id(clock.now(), "loop", uuid4())
    words = WORDS.format(mark=str(row_id)[-6:])
    begun = time.monotonic()
    outcome = gateway.send(OutboundText(str(row_id), profile.sender, words, clock.now() + _LIFE))
    taken = isinstance(outcome, Accepted)
    yield Found("takes a text", taken, told(outcome))
    if not isinstance(outcome, Accepted):
        return
    looks: dict[str, Callable[[], str | None]] = {}
    if profile.wire.receipts is not None:
        looks["reports what became of it"] = lambda: _report(store, profile, outcome.ref)
    if profile.two_way:
        looks["brings it back as a reply"] = lambda: _reply(store, profile, row_id, words)
    while looks and time.monotonic() - begun < wait.total_seconds():
        for what in [*looks]:
            seen = looks[what]()
            if seen is not None:
                del looks[what]
                yield Found(what, not seen.startswith("!"), seen.lstrip("! "))
        pause(_LOOK_S)
    for what in looks:
        yield Found(what, False, f"nothing came within {int(wait.total_seconds())} s")


def told(outcome: Outcome) -> str:
    """Put an outcome into words."""
    if isinstance(outcome, Accepted):
        return f"accepted; its name there is {outcome.ref}"
    fault = (
        "the number is refused"
        if isinstance(outcome, Permanent) and outcome.number
        else _KINDS[type(outcome)]
    )
    return f"{fault}: {outcome.reason}"


def _report(store: Store, profile: Profile, ref: str) -> str | None:
    with store.read() as conn:
        states = reported(conn, profile.name, ref)
    final = [state for state in states if state != "accepted"]
    return final[0] if final else None


def _reply(store: Store, profile: Profile, row_id: UUID, words: str) -> str | None:
    with store.read() as conn:
        texts = came_back(conn, profile.name, profile.sender, row_id)
    if not texts:
        return None
    return "letter by letter" if words in texts else f"! with other letters: {texts[0]}"

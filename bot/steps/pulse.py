"""The worker's beat: once a minute it says that it is at work and how each gateway fares, and now and then
sends itself a text through one."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import timedelta

from bot.clock import Clock
from bot.gateway import Gateway
from bot.gateway.profile import Profile
from bot.steps.looping import loop
from bot.store import pulse
from bot.store.deaf import is_silent
from bot.store.engine import Store
from bot.store.gateways import denials, resting

_LOOPS_WITHIN = timedelta(minutes=2)


def beat(store: Store, profiles: Iterable[Profile], clock: Clock) -> int:
    """Write one beat of the worker and of each gateway. Gives 0: it leaves nothing to do."""
    now, machine = clock.now(), clock.machine()
    with store.write() as conn:
        pulse.beat(conn, pulse.WORKER, "ok", machine)
        states = dict.fromkeys(resting(conn, machine), "resting")
        states |= {each.gateway: "denied" for each in denials(conn)}
        for profile in profiles:
            state = states.get(profile.name, "ok")
            if state == "ok" and profile.wire.receipts is not None and is_silent(conn, profile.name, now):
                state = "silent"
            pulse.beat(conn, f"gateway:{profile.name}", state, machine)
    return 0


def loop_one(
    store: Store, gateway: Gateway, profile: Profile, clock: Clock, pause: Callable[[float], None]
) -> int:
    """Send a text to ourselves through one gateway, and note whether it came back. Gives 0."""
    found = list(loop(store, gateway, profile, clock, _LOOPS_WITHIN, pause))
    state = "ok" if found and all(each.works for each in found) else "failed"
    with store.write() as conn:
        pulse.beat(conn, f"loop:{profile.name}", state, clock.machine())
    return 0

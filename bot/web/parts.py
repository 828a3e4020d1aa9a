"""What the pages need from outside, joined by bot/wiring.py and handed to `create_app`."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import timedelta

from flask import current_app

from bot.clock import Clock
from bot.core.follow import Content
from bot.store.engine import Store


@dataclass(frozen=True, slots=True)
class Parts:
    """`content` gives the newest published edition each time it is asked; `faults` says what keeps the
    service from being ready, in words, empty when nothing does."""

    store: Store
    clock: Clock
    content: Callable[[], Content]
    secret_key: str = field(repr=False)  # signs sessions and forms
    faults: Callable[[], Sequence[str]]
    demo: bool = False  # an invented district: says so on every page
    https: bool = True  # cookies go over https only; False in the demo on one's own machine
    idle: timedelta = timedelta(minutes=30)  # a session that rests so long is over


def parts() -> Parts:
    """Give the parts of the application that serves this request."""
    found: Parts = current_app.extensions["dunnock"]
    return found

"""The port to whoever carries texts: an `OutboundText` goes in, an `Outcome` comes out; nothing is raised.

Only wiring picks the gateway: `http.py` carries texts, `mail.py` alerts to people on call; `memory.py` is
their twin for tests of the steps.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Protocol

from bot.core.outbox import OutboundText, Outcome


class Carrier(Protocol):
    """What a sender must know of a gateway: its name, how many texts a second, how long a post may take."""

    @property
    def name(self) -> str: ...
    @property
    def rate(self) -> float | None: ...
    @property
    def timeout(self) -> timedelta: ...

    def lease(self, claimed: int, in_flight: int) -> timedelta:
        """Give how long a claim of so many may take at worst."""
        ...


class Gateway(Protocol):
    """Carries one text. Called from many threads at once; the same id may be posted again."""

    def send(self, text: OutboundText) -> Outcome:
        """Post the text once and tell what came of it, whatever happens on the way."""
        ...

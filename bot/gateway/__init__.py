"""The port to whoever carries texts: an `OutboundText` goes in, an `Outcome` comes out; nothing is raised.

Only wiring picks the gateway: `http.py` is the real one, `memory.py` its twin for tests of the steps.
"""

from __future__ import annotations

from typing import Protocol

from bot.core.outbox import OutboundText, Outcome


class Gateway(Protocol):
    """Carries one text. Called from many threads at once; the same id may be posted again."""

    def send(self, text: OutboundText) -> Outcome:
        """Post the text once and tell what came of it, whatever happens on the way."""
        ...

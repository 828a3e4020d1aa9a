"""The gateway's twin in memory, for tests of the steps: keeps what it was asked, answers as told."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Iterable

from bot.core.outbox import Accepted, OutboundText, Outcome


class MemoryGateway:
    """Accepts every text under the name `ref-<id>`, unless `script` holds outcomes to give first."""

    def __init__(self, script: Iterable[Outcome] = ()) -> None:
        self.sent: list[OutboundText] = []
        self.script = deque(script)
        self._lock = threading.Lock()

    def send(self, text: OutboundText) -> Outcome:
        with self._lock:
            self.sent.append(text)
            return self.script.popleft() if self.script else Accepted(f"ref-{text.id}")

"""Delivers the stand-in's hooks: bodies come in, signed POSTs go out, again until taken.

Retries follow the advice of Standard Webhooks 1.0 ('Deliverability and reliability'): at growing distances,
with the same webhook-id and a new timestamp; 410 ends them.
"""

from __future__ import annotations

import heapq
import json
import logging
import threading
import time
from collections.abc import Mapping, Sequence
from itertools import count
from uuid import uuid4

import httpx

from bot.clock import machine_now
from bot.gateway.signing import sign

log = logging.getLogger(__name__)

RETRIES_S = (1, 5, 30, 300, 1800, 7200, 5 * 3600, 10 * 3600)
_GONE = 410
_TIME_OUT_S = 10.0


class Courier:
    """Posts hooks in the order they were given, in one thread of its own; retries stand back."""

    def __init__(self, hook: str, key: bytes, retries: Sequence[float] = RETRIES_S) -> None:
        self._hooks, _, self._name = hook.rstrip("/").rpartition("/")
        self._key, self._retries = key, retries
        self._order = count()
        self._due: list[tuple[float, int, _Hook]] = []
        self._changed = threading.Condition()
        self._ended = False
        self._at_the_door: _Hook | None = None
        self._thread = threading.Thread(target=self._run, name="courier", daemon=True)
        self._thread.start()

    def bring(self, door: str, body: Mapping[str, object], *, times: int = 1, gateway: str = "") -> None:
        """Deliver one body to a door (replies or receipts), `times` over with one webhook-id; to that of
        another `gateway` beside ours if one is named."""
        door = f"{gateway}/{door}" if gateway else f"{self._name}/{door}"
        about = str(body.get("id", ""))
        hook = _Hook(door, f"msg_{uuid4().hex}", json.dumps(body, ensure_ascii=False).encode(), about)
        for _ in range(times):
            self._put(time.monotonic(), hook)

    def waiting(self) -> list[str]:
        """Give the ids of what is not taken yet: on its way now, or to be tried again."""
        with self._changed:
            hooks = [hook for _at, _order, hook in self._due]
            return [hook.about for hook in [*hooks, self._at_the_door] if hook is not None]

    def close(self) -> None:
        """End, with what is not yet taken left undone."""
        with self._changed:
            self._ended = True
            self._changed.notify()
        self._thread.join()

    def _put(self, at: float, hook: _Hook) -> None:
        with self._changed:
            heapq.heappush(self._due, (at, next(self._order), hook))
            self._changed.notify()

    def _run(self) -> None:
        with httpx.Client(timeout=_TIME_OUT_S, trust_env=False) as client:
            while (hook := self._next()) is not None:
                hook.attempts += 1
                if not self._taken(client, hook) and hook.attempts <= len(self._retries):
                    self._put(time.monotonic() + self._retries[hook.attempts - 1], hook)
                self._at_the_door = None

    def _next(self) -> _Hook | None:
        """Wait for the hook that is due first; None at the end."""
        with self._changed:
            while not self._ended:
                wait = self._due[0][0] - time.monotonic() if self._due else None
                if wait is not None and wait <= 0:
                    self._at_the_door = heapq.heappop(self._due)[2]
                    return self._at_the_door
                self._changed.wait(wait)
            return None

    def _taken(self, client: httpx.Client, hook: _Hook) -> bool:
        now = machine_now()
        headers = {
            "content-type": "application/json",
            "webhook-id": hook.id,
            "webhook-timestamp": str(int(now.timestamp())),
            "webhook-signature": sign(self._key, hook.id, now, hook.body),
        }
        try:
            answer = client.post(f"{self._hooks}/{hook.door}", content=hook.body, headers=headers)
        except httpx.HTTPError as error:
            log.info("hook %s was not taken: %s", hook.id, type(error).__name__)
            return False
        return answer.is_success or answer.status_code == _GONE


class _Hook:
    __slots__ = ("about", "attempts", "body", "door", "id")

    def __init__(self, door: str, hook_id: str, body: bytes, about: str) -> None:
        self.door, self.id, self.body, self.about = door, hook_id, body, about
        self.attempts = 0

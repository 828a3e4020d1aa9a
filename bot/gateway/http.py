"""Texts over HTTP: a text goes out as the profile says, the answer comes back as an Outcome.

no connection                        temporary: nothing was sent
connection lost, no answer in time   unknown: it may have been sent
any answer                           what the profile says, else what its status means: see `wire.Rule`
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import datetime

import httpx

from bot.core.outbox import Denied, OutboundText, Outcome, Temporary
from bot.gateway.outgoing import Request, no_answer, outcome_of, request_for, too_long
from bot.gateway.places import Envelope
from bot.gateway.profile import Profile


class HttpGateway:
    """Posts texts to one gateway. Safe in many threads: each has a client of its own, because one pool shared
    by many walks all its connections at every request. `now` is machine time, for a Retry-After with a date;
    `programme_now` the clock by which texts expire.
    """

    def __init__(
        self,
        profile: Profile,
        now: Callable[[], datetime],
        programme_now: Callable[[], datetime] | None = None,
    ) -> None:
        self._profile = profile
        self._now, self._programme_now = now, programme_now or now
        self._thread = threading.local()
        self._clients: list[httpx.Client] = []
        self._lock = threading.Lock()

    def send(self, text: OutboundText) -> Outcome:
        """Post once. Safe to repeat with the same id."""
        refused = too_long(self._profile, text)
        if refused is not None:
            return refused
        request = request_for(self._profile, text, self._programme_now())
        try:
            answer = self.post(request)
        except (httpx.ConnectError, httpx.ConnectTimeout, httpx.PoolTimeout) as error:
            return Temporary(type(error).__name__)
        except httpx.InvalidURL as error:
            return Denied(type(error).__name__)
        except httpx.HTTPError as error:
            return no_answer(self._profile, text.id, type(error).__name__)
        return outcome_of(self._profile, answer, text.id, self._now())

    def post(self, request: Request) -> Envelope:
        """Make one request as it is; raises httpx's errors."""
        response = self._client().request(
            request.method, request.url, headers=dict(request.headers), content=request.body
        )
        headers = {name.lower(): value for name, value in response.headers.items()}
        return Envelope(response.content, headers, status=response.status_code)

    def close(self) -> None:
        """Close the connections of all threads; none may be sending."""
        with self._lock:
            for client in self._clients:
                client.close()
            self._clients.clear()

    def _client(self) -> httpx.Client:
        client: httpx.Client | None = getattr(self._thread, "client", None)
        if client is None or client.is_closed:
            client = self._thread.client = self._open()
            with self._lock:
                self._clients.append(client)
        return client

    def _open(self) -> httpx.Client:
        profile = self._profile
        return httpx.Client(
            timeout=httpx.Timeout(
                profile.timeout.total_seconds(), connect=profile.connect_timeout.total_seconds()
            ),
            trust_env=False,  # a proxy set for browsers is not meant for her words
        )

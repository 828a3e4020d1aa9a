"""The `json` profile over HTTP: a text goes out as one POST, the answer comes back as an Outcome.

POST {"id","to","from","text","expires_at"}, bearer token  ->  2xx {"id": the name used in its reports}

answer                               outcome
2xx                                  accepted; without an id of its own, by ours
408, 425, 429, other 5xx             temporary, with Retry-After (seconds or date)
401, 403, 404, 405, 407, 3xx         denied: token or address are wrong
other 4xx                            permanent; {"error":"number"} the number itself, {"error":"opted_out"}
no connection                        temporary: nothing was sent
connection lost, no answer in time   unknown: it may have been sent
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import datetime, timedelta
from email.utils import parsedate_to_datetime
from typing import Any

import httpx

from bot.core.outbox import Accepted, Denied, OptedOut, OutboundText, Outcome, Permanent, Temporary, Unknown
from bot.gateway.profile import Profile

_TEMPORARY = frozenset({408, 425, 429})
_DENIED = frozenset({401, 403, 404, 405, 407})


class HttpGateway:
    """Posts texts to one gateway. Safe in many threads: each has a client of its own, because one pool shared
    by many walks all its connections at every request. `now` is machine time, for a Retry-After with a date.
    """

    def __init__(self, profile: Profile, now: Callable[[], datetime]) -> None:
        self._profile = profile
        self._now = now
        self._thread = threading.local()
        self._clients: list[httpx.Client] = []
        self._lock = threading.Lock()

    def send(self, text: OutboundText) -> Outcome:
        """Post once. Safe to repeat with the same id."""
        body = {
            "id": text.id,
            "to": text.to,
            "from": self._profile.sender,
            "text": text.text,
            "expires_at": text.expires_at.isoformat(),
        }
        try:
            response = self._client().post(self._profile.url, json=body)
        except (httpx.ConnectError, httpx.ConnectTimeout, httpx.PoolTimeout) as error:
            return Temporary(type(error).__name__)
        except (httpx.HTTPError, httpx.InvalidURL) as error:
            return Unknown(type(error).__name__)
        return self._outcome(response, text.id)

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
            headers={"authorization": f"Bearer {profile.token}"},
            timeout=httpx.Timeout(
                profile.timeout.total_seconds(), connect=profile.connect_timeout.total_seconds()
            ),
            trust_env=False,  # a proxy set for browsers is not meant for her words
        )

    def _outcome(self, response: httpx.Response, own_id: str) -> Outcome:
        status = response.status_code
        reason = f"answered {status}"
        answer = _object(response)
        if response.is_success:
            ref = answer.get("id")
            return Accepted(str(ref) if isinstance(ref, str | int) and ref != "" else own_id)
        if status in _TEMPORARY or status >= 500:
            return Temporary(reason, self._retry_after(response))
        if status in _DENIED or status < 400:
            return Denied(reason)
        if answer.get("error") == "opted_out":
            return OptedOut()
        return Permanent(reason, number=answer.get("error") == "number")

    def _retry_after(self, response: httpx.Response) -> timedelta | None:
        value = response.headers.get("retry-after", "")
        try:
            if value.isascii() and value.isdigit():
                return timedelta(seconds=int(value[:9]))
            return max(timedelta(), parsedate_to_datetime(value) - self._now())
        except (ValueError, TypeError, OverflowError):
            return None


def _object(response: httpx.Response) -> dict[str, Any]:
    try:
        answer = response.json()
    except (ValueError, RecursionError):
        return {}
    return answer if isinstance(answer, dict) else {}

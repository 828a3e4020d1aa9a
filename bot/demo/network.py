"""The stand-in as the demo's pages see it: its phones, its faults, its clock, over its own HTTP interface."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import httpx

_TIME_OUT_S = 5.0


class Away(Exception):
    """The stand-in does not answer."""


@dataclass(frozen=True, slots=True)
class Text:
    """One text on a phone. `arrived` is whether it reached the other side."""

    id: str
    hers: bool
    text: str
    at: datetime
    arrived: bool


@dataclass(frozen=True, slots=True)
class Passed:
    """A text that passed, and how many times it came."""

    number: str
    id: str
    hers: bool
    at: datetime
    times: int


class Network:
    """A client of the stand-in at `address`. Every method raises Away when it does not answer."""

    def __init__(self, address: str) -> None:
        # A proxy set for browsers is not meant for this machine.
        self._client = httpx.Client(base_url=address, timeout=_TIME_OUT_S, trust_env=False)

    def numbers(self) -> list[str]:
        """Give the numbers that have texts, the one with the newest text first."""
        found: list[str] = self._get("/phones")["numbers"]
        return found

    def phone(self, number: str) -> list[Text]:
        """Give the texts of a phone, oldest first."""
        found = self._get(f"/phones/{number}")
        waiting = set(found["waiting"])
        return [
            Text(
                line["id"],
                line["hers"],
                line["text"],
                datetime.fromisoformat(line["at"]),
                line["id"] not in waiting,
            )
            for line in found["lines"]
        ]

    def write(self, number: str, text: str) -> None:
        """She writes from her phone; her text comes to our door as a signed hook."""
        self._post(f"/phones/{number}/replies", {"text": text})

    def write_in_parts(self, number: str, text: str, parts: int) -> None:
        """She writes a long text that comes in parts, the last one first."""
        self._post(f"/phones/{number}/replies", {"text": text, "parts": parts})

    def ring(self, number: str) -> None:
        """She rings our number and hangs up."""
        self._post(f"/phones/{number}/rings", {})

    def write_as(self, sender: str, text: str) -> None:
        """Somebody writes who has no phone in this demo."""
        self._post(f"/senders/{sender}/replies", {"text": text})

    def faults(self) -> dict[str, Any]:
        """Give what goes wrong at present."""
        found: dict[str, Any] = self._get("/faults")
        return found

    def set_faults(self, faults: dict[str, Any]) -> None:
        self._post("/faults", faults)

    def counts(self) -> dict[str, int]:
        found: dict[str, int] = self._get("/counts")
        return found

    def latest(self) -> Sequence[Passed]:
        """Give what passed last, newest first."""
        return [
            Passed(row["number"], row["id"], row["hers"], datetime.fromisoformat(row["at"]), row["times"])
            for row in self._get("/latest")["latest"]
        ]

    def tell_time(self, ahead: timedelta) -> None:
        """Tell how far programme time runs ahead, for the stamps of texts."""
        self._post("/clock", {"ahead_seconds": ahead.total_seconds()})

    def _get(self, path: str) -> Any:
        return self._ask("GET", path, None)

    def _post(self, path: str, body: object) -> None:
        self._ask("POST", path, body)

    def _ask(self, method: str, path: str, body: object) -> Any:
        try:
            answer = self._client.request(method, path, json=body)
            answer.raise_for_status()
            return answer.json()
        except (httpx.HTTPError, ValueError) as error:
            raise Away(type(error).__name__) from error

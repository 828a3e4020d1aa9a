"""The `json` profile over real HTTP: what a gateway answers, or does not answer, becomes an outcome."""

from __future__ import annotations

import json
import socket
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from flask import Flask, Response, request

from bot.core.outbox import Accepted, Denied, OptedOut, OutboundText, Permanent, Temporary, Unknown
from bot.gateway.http import HttpGateway
from bot.gateway.profile import Profile, make_profile
from tests.support.standin import SECRET, serving

NOW = datetime(2026, 3, 1, 9, tzinfo=UTC)
TEXT = OutboundText("m-1", "+447700900123", "كم مرة رضع اليوم؟", NOW + timedelta(hours=6))


class Answers:
    """A gateway that gives one set answer and keeps what it was asked."""

    def __init__(self) -> None:
        self.answer = Response(status=200)
        self.asked: list[tuple[str | None, Any]] = []
        self.app = Flask(__name__)
        self.app.post("/messages")(self.take)

    def take(self) -> Response:
        self.asked.append((request.headers.get("authorization"), request.get_json()))
        return self.answer

    def give(self, status: int, body: str = "", **headers: str) -> None:
        self.answer = Response(
            body, status, {name.replace("_", "-"): value for name, value in headers.items()}
        )


@pytest.fixture(scope="module")
def served() -> Iterator[tuple[Answers, str]]:
    answers = Answers()
    with serving(answers.app) as address:
        yield answers, f"{address}/messages"


@pytest.fixture
def answers(served: tuple[Answers, str]) -> Answers:
    served[0].asked.clear()
    return served[0]


def profile(url: str) -> Profile:
    made = make_profile("district", url=url, token="secret-token", sender="+447700900001", secrets=[SECRET])
    return replace(made, timeout=timedelta(seconds=0.4))


def sent(url: str, text: OutboundText = TEXT) -> Any:
    gateway = HttpGateway(profile(url), lambda: NOW)
    try:
        return gateway.send(text)
    finally:
        gateway.close()


def test_a_text_is_posted_as_the_profile_says(answers, served):
    answers.give(200, '{"id": "g-1"}')
    assert sent(served[1]) == Accepted("g-1")
    assert answers.asked == [
        (
            "Bearer secret-token",
            {
                "id": "m-1",
                "to": "+447700900123",
                "from": "+447700900001",
                "text": "كم مرة رضع اليوم؟",
                "expires_at": "2026-03-01T15:00:00+00:00",
            },
        )
    ]


@pytest.mark.parametrize("body", ["", "OK", "[]", '{"id": null}', '{"id": ""}'])
def test_a_gateway_that_names_nothing_knows_the_text_by_our_id(answers, served, body):
    answers.give(202, body)
    assert sent(served[1]) == Accepted("m-1")


@pytest.mark.parametrize(
    ("status", "body", "outcome"),
    [
        (400, "", Permanent("answered 400")),
        (422, '{"error": "number"}', Permanent("answered 422", number=True)),
        (422, '{"error": "opted_out"}', OptedOut()),
        (401, "", Denied("answered 401")),
        (403, "", Denied("answered 403")),
        (404, "", Denied("answered 404")),
        (302, "", Denied("answered 302")),
        (408, "", Temporary("answered 408")),
        (429, "", Temporary("answered 429")),
        (500, '{"error": "number"}', Temporary("answered 500")),
        (503, "", Temporary("answered 503")),
    ],
)
def test_each_refusal_becomes_its_outcome(answers, served, status, body, outcome):
    answers.give(status, body)
    assert sent(served[1]) == outcome


@pytest.mark.parametrize(
    ("value", "seconds"),
    [("30", 30), ("Sun, 01 Mar 2026 09:01:30 GMT", 90), ("Sun, 01 Mar 2026 08:00:00 GMT", 0), ("soon", None)],
)
def test_retry_after_is_read_as_seconds_or_date(answers, served, value, seconds):
    # RFC 9110, section 10.2.3
    answers.give(503, "", Retry_After=value)
    wanted = None if seconds is None else timedelta(seconds=seconds)
    assert sent(served[1]) == Temporary("answered 503", wanted)


def test_no_connection_means_that_nothing_was_sent():
    with socket.create_server(("127.0.0.1", 0)) as closed:
        port = closed.getsockname()[1]
    assert sent(f"http://127.0.0.1:{port}/messages") == Temporary("ConnectError")


@pytest.mark.parametrize("behaviour", ["hangs", "resets", "babbles"])
def test_a_text_that_may_have_been_taken_is_unknown(behaviour):
    with socket.create_server(("127.0.0.1", 0)) as server:
        done = threading.Event()

        def misbehave() -> None:
            connection, _ = server.accept()
            with connection:
                connection.recv(65536)
                if behaviour == "hangs":
                    done.wait(10)
                if behaviour == "babbles":
                    connection.sendall(b"hello\r\n\r\n")

        thread = threading.Thread(target=misbehave)
        thread.start()
        outcome = sent(f"http://127.0.0.1:{server.getsockname()[1]}/messages")
        done.set()
        thread.join()
    assert isinstance(outcome, Unknown)


def test_each_thread_has_connections_of_its_own(answers, served):
    answers.give(200, '{"id": "g"}')
    gateway = HttpGateway(profile(served[1]), lambda: NOW)
    texts = [replace(TEXT, id=f"m-{number}") for number in range(40)]
    with ThreadPoolExecutor(8) as threads:
        outcomes = list(threads.map(gateway.send, texts))
    gateway.close()
    assert outcomes == [Accepted("g")] * 40
    assert sorted(json.dumps(body["id"]) for _, body in answers.asked) == sorted(
        json.dumps(text.id) for text in texts
    )

"""The stand-in over real HTTP: texts to phones, reports and replies to our hooks, faults on request."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import httpx
import pytest
import standardwebhooks
from flask import Flask, Response, request

from bot.clock import machine_now
from bot.core.outbox import Accepted, Denied, OptedOut, OutboundText, Outcome, Permanent, Temporary, Unknown
from bot.gateway.http import HttpGateway
from bot.gateway.profile import make_profile
from tests.support.standin import SECRET, TOKEN, asked, running_standin, serving, set_faults, until

NOW = datetime(2026, 3, 1, 9, tzinfo=UTC)
MOTHER = "+447700900123"


class Hooks:
    """Our side of the hooks: checks each with the reference library and keeps its body."""

    def __init__(self) -> None:
        self.taken: list[tuple[str, Any]] = []
        self.ids: list[str] = []
        self.refusals = 0
        self.app = Flask(__name__)
        self.app.post("/hooks/standin/<door>")(self.take)

    def take(self, door: str) -> Response:
        self.ids.append(request.headers["webhook-id"])
        if self.refusals:
            self.refusals -= 1
            return Response(status=503)
        body = standardwebhooks.Webhook(SECRET).verify(request.get_data(), dict(request.headers))
        self.taken.append((door, body))
        return Response(status=200)

    def reports(self) -> list[str]:
        return [body["state"] for door, body in self.taken if door == "receipts"]


@pytest.fixture(scope="module")
def sides() -> Iterator[tuple[Hooks, str]]:
    hooks = Hooks()
    with serving(hooks.app) as ours, running_standin(f"{ours}/hooks/standin") as standin:
        yield hooks, standin


@pytest.fixture
def hooks(sides: tuple[Hooks, str]) -> Hooks:
    hooks, standin = sides
    set_faults(standin)
    until(lambda: asked(standin, "/counts")["waiting"] == 0)  # reports of the test before this one
    hooks.taken.clear()
    hooks.ids.clear()
    return hooks


@pytest.fixture
def standin(sides: tuple[Hooks, str]) -> str:
    return sides[1]


def send(standin: str, text_id: str, *, to: str = MOTHER, token: str = TOKEN) -> Outcome:
    made = make_profile(
        "standin", url=f"{standin}/messages", token=token, sender="+447700900001", secrets=[SECRET]
    )
    gateway = HttpGateway(replace(made, timeout=timedelta(seconds=1)), lambda: NOW)
    try:
        return gateway.send(OutboundText(text_id, to, "How many feeds?", NOW + timedelta(hours=6)))
    finally:
        gateway.close()


def lines(standin: str, number: str = MOTHER) -> list[Any]:
    found: list[Any] = asked(standin, f"/phones/{number}")["lines"]
    return found


def test_a_text_reaches_the_phone_and_is_reported_in_order(hooks, standin):
    outcome = send(standin, "a-1")
    assert isinstance(outcome, Accepted)
    until(lambda: len(hooks.taken) == 2)
    assert hooks.taken == [
        ("receipts", {"id": outcome.ref, "state": "accepted"}),
        ("receipts", {"id": outcome.ref, "state": "delivered"}),
    ]
    assert {"id": "a-1", "hers": False, "text": "How many feeds?"}.items() <= lines(standin)[-1].items()


def test_a_text_that_comes_twice_keeps_its_name_and_shows_twice(hooks, standin):
    before = asked(standin, "/counts")
    assert send(standin, "b-1", to="+447700900200") == send(standin, "b-1", to="+447700900200")
    assert [line["id"] for line in lines(standin, "+447700900200")] == ["b-1", "b-1"]
    after = asked(standin, "/counts")
    assert (after["texts"] - before["texts"], after["came"] - before["came"]) == (1, 2)


def test_what_she_writes_comes_as_a_signed_reply_in_programme_time(hooks, standin):
    ahead = timedelta(days=365)
    httpx.post(f"{standin}/clock", json={"ahead_seconds": ahead.total_seconds()}).raise_for_status()
    reply = httpx.post(f"{standin}/phones/{MOTHER}/replies", json={"text": "٨ مرات"})
    httpx.post(f"{standin}/clock", json={"ahead_seconds": 0}).raise_for_status()
    ((door, body),) = until(lambda: list(hooks.taken))
    assert door == "replies"
    assert body | {"received_at": ""} == {
        "id": reply.json()["id"],
        "from": MOTHER,
        "to": "+447700900001",
        "text": "٨ مرات",
        "received_at": "",
    }
    on_machine = datetime.fromisoformat(body["received_at"]) - ahead
    assert abs(on_machine - machine_now()) < timedelta(minutes=1)


def test_a_hook_that_is_not_taken_comes_again_under_the_same_id(hooks, standin):
    hooks.refusals = 2
    httpx.post(f"{standin}/phones/{MOTHER}/replies", json={"text": "8"}).raise_for_status()
    until(lambda: list(hooks.taken))
    assert len(hooks.ids) == 3
    assert len(set(hooks.ids)) == 1


def test_a_wrong_token_is_denied(hooks, standin):
    assert isinstance(send(standin, "c-1", token="wrong"), Denied)


@pytest.mark.parametrize(
    ("faults", "outcomes"),
    [
        ({"fail_times": 2}, [Temporary("answered 503")] * 2),
        (
            {"fail_times": 1, "fail_status": 429, "retry_after": 7},
            [Temporary("answered 429", timedelta(seconds=7))],
        ),
        ({"hang_times": 1, "hang_seconds": 1.5}, [Unknown("ReadTimeout")]),
        ({"reset_times": 1}, [Unknown("RemoteProtocolError")]),
        ({"refuse": [MOTHER]}, [Permanent("answered 422", number=True)] * 2),
        ({"opted_out": [MOTHER]}, [OptedOut()] * 2),
    ],
)
def test_faults_come_as_asked_and_end(hooks, standin, faults, outcomes):
    set_faults(standin, **faults)
    assert [send(standin, "d-1") for _ in outcomes] == outcomes
    set_faults(standin)
    assert isinstance(send(standin, "d-1"), Accepted)
    taken = 1 + sum(isinstance(outcome, Unknown) for outcome in outcomes)
    until(lambda: len(hooks.reports()) == 2 * taken)  # those of a text whose answer we did not wait for, too


@pytest.mark.parametrize(
    ("faults", "states"),
    [
        ({"reorder": True}, ["delivered", "accepted"]),
        ({"undelivered": True}, ["accepted", "undelivered"]),
        ({"double": True}, ["accepted", "accepted", "delivered", "delivered"]),
    ],
)
def test_reports_go_wrong_as_asked(hooks, standin, faults, states):
    set_faults(standin, **faults)
    send(standin, "e-1")
    until(lambda: len(hooks.taken) == len(states))
    assert hooks.reports() == states


def test_reports_can_come_before_the_answer(hooks, standin):
    set_faults(standin, early=True)
    send(standin, "f-1")
    assert hooks.reports() == ["accepted", "delivered"]


def test_a_network_can_stay_silent(hooks, standin):
    set_faults(standin, reports=False)
    send(standin, "g-1")
    httpx.post(f"{standin}/phones/{MOTHER}/replies", json={"text": "8"}).raise_for_status()
    until(lambda: list(hooks.taken))  # hooks come in order: a report would stand before the reply
    assert hooks.reports() == []


@pytest.mark.parametrize(
    ("path", "body"),
    [
        ("/faults", {"burn": True}),
        ("/clock", {}),
        (f"/phones/{MOTHER}/replies", {}),
        ("/messages", {"id": "x"}),
    ],
)
def test_what_is_not_understood_is_refused_with_words(standin, path, body):
    answer = httpx.post(standin + path, json=body, headers={"authorization": f"Bearer {TOKEN}"})
    assert answer.status_code == 422
    assert answer.json()["error"]

"""Each shape of gateway over real HTTP, both ways: a text goes out, its receipt and a reply come in.

What each stand-in expects and answers is written here by hand, apart from the profile that is tested.
"""

from __future__ import annotations

import hmac
import json
from base64 import b64encode
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from urllib.parse import quote
from xml.etree import ElementTree

import httpx
import pytest
from flask import Flask, Response, jsonify, request
from sqlalchemy import select

from bot.clock import Clock, machine_now
from bot.core.outbox import Accepted, Denied, OutboundText, Outcome
from bot.gateway.http import HttpGateway
from bot.gateway.profile import Profile, make_profile
from bot.gateway.wire import load_wire
from bot.store.engine import Store
from bot.store.inbound import unread
from bot.store.intake import Intake
from bot.store.tables import inbound, receipt
from bot.web.hooks import create_hooks
from tests.support.database import opened, upgraded
from tests.support.standin import serving

MOTHER, OURS, KEY = "+447700900123", "+447700900001", "a-long-random-key-1"
BARE = MOTHER.removeprefix("+")
WORDS = "٨ مرات + 6 wet & [ok]"
AT = datetime(2026, 3, 1, 9, tzinfo=UTC)


@dataclass
class Shape:
    """`takes` looks at our request and answers; `brings` gives replies and receipts as HTTP requests."""

    takes: Callable[[], Any]
    reply: Callable[[str], dict[str, Any]]
    receipt: Callable[[str, str], dict[str, Any]]
    ref: str  # the name that the stand-in gives a text, '' for our own
    words: dict[str, str]  # its words for delivered and failed


def query_takes() -> Any:
    given = request.args
    assert given["user"] == "us"
    assert (given["to"], given["text"], given["coding"], given["charset"]) == (BARE, WORDS, "2", "UTF-8")
    return 'Success "q-1"' if given["password"] == "pa+ss" else Response("no", 403)


def form_takes() -> Any:
    if request.authorization is None or request.authorization.password != "pa+ss":
        return Response("no", 401)
    assert (request.form["recipient"], request.form["text"]) == (MOTHER, WORDS)
    return jsonify(id="f-1")


def batch_takes() -> Any:
    if request.headers["authorization"] != "Bearer pa+ss":
        return Response("no", 401)
    (text,) = request.get_json()["texts"]
    assert (text["to"], text["body"], isinstance(text["ttl_seconds"], int)) == (BARE, WORDS, True)
    return jsonify(texts=[{"id": 12345678901234567890, "status": "queued"}])


def signed_takes() -> Any:
    if request.headers["x-api-key"] != "pa+ss":
        return Response("no", 401)
    assert request.headers["idempotency-key"]
    assert request.get_json()["text"] == WORDS
    return Response(status=201, headers={"Location": "/texts/s-1"})


def xml_takes() -> Any:
    root = ElementTree.fromstring(request.get_data())
    if root.get("password") != "pa+ss":
        return Response("<answer><error>wrong password</error></answer>", 200)
    assert (root.findtext("to"), root.findtext("text")) == (MOTHER, WORDS)
    return Response("<answer><id>x-1</id></answer>", content_type="text/xml")


def basic() -> dict[str, str]:
    return {"authorization": "Basic " + b64encode(f"gateway:{KEY}".encode()).decode()}


def signed(body: bytes) -> dict[str, str]:
    return {"x-signature": "sha256=" + hmac.digest(KEY.encode(), body, "sha256").hex()}


def signed_json(value: Any) -> dict[str, Any]:
    body = json.dumps(value).encode()
    return {"method": "POST", "content": body, "headers": signed(body)}


SHAPES = {
    "query": Shape(
        query_takes,
        lambda text: {
            "method": "GET",
            "query": f"key={KEY}&from={BARE}&id=r1&text={quote(text.encode('utf-16-be'), safe='')}",
        },
        lambda ref, word: {"method": "GET", "query": f"key={KEY}&ref={ref}&state={word}"},
        "q-1",
        {"delivered": "1", "failed": "16"},
    ),
    "form": Shape(
        form_takes,
        lambda text: {
            "method": "POST",
            "data": {"sender": MOTHER, "text": text, "id": "r1", "received": "2026-03-01 09:00:00"},
            "headers": basic(),
        },
        lambda ref, word: {"method": "POST", "data": {"id": ref, "status": word}, "headers": basic()},
        "f-1",
        {"delivered": "delivered", "failed": "failed"},
    ),
    "batch": Shape(
        batch_takes,
        lambda text: {
            "method": "POST",
            "query": f"key={KEY}",
            "json": {"items": [{"id": 7, "from": BARE, "body": text, "at_ms": AT.timestamp() * 1000}]},
        },
        lambda ref, word: {
            "method": "POST",
            "query": f"key={KEY}",
            "json": {"items": [{"id": int(ref), "state": "buffered"}, {"id": int(ref), "state": word}]},
        },
        "12345678901234567890",
        {"delivered": "delivered", "failed": "failed"},
    ),
    "signed": Shape(
        signed_takes,
        lambda text: signed_json(
            {"message": {"id": "r1", "from": MOTHER, "text": text, "time": AT.isoformat()}}
        ),
        lambda ref, word: signed_json({"event": word, "message": {"id": ref}}),
        "s-1",
        {"delivered": "text.delivered", "failed": "text.failed"},
    ),
    "xml": Shape(
        xml_takes,
        lambda text: {
            "method": "POST",
            "query": f"key={KEY}",
            "content": f'<reply id="r1"><from>{MOTHER}</from><text>{quote(text)}</text></reply>'.encode(),
        },
        lambda ref, word: {
            "method": "POST",
            "query": f"key={KEY}",
            "content": f'<all><report id="{ref}" state="{word}"/></all>'.encode(),
        },
        "x-1",
        {"delivered": "2", "failed": "8"},
    ),
}


@dataclass
class Running:
    shape: Shape
    profile: Profile
    store: Store
    gateway: HttpGateway
    seen: list[str] = field(default_factory=list)

    def brings(self, door: str, query: str = "", method: str = "POST", **what: Any) -> httpx.Response:
        address = f"{self.profile.hooks}/{door}" + (f"?{query}" if query else "")
        return httpx.request(method, address, trust_env=False, **what)


@pytest.fixture(params=sorted(SHAPES))
def running(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Running]:
    name, shape = str(request.param), SHAPES[request.param]
    outside, ours = Flask("outside"), Flask("ours")
    outside.add_url_rule("/send", view_func=shape.takes, methods=["GET", "POST"])
    with (
        opened(upgraded(f"sqlite:///{tmp_path / 'test.db'}")) as store,
        serving(outside) as there,
        serving(ours) as here,
    ):
        profile = make_profile(
            name,
            wire=load_wire(name),
            url=f"{there}/send",
            sender=OURS,
            secrets=[KEY],
            token="pa+ss",
            settings={"user": "us", "password": "pa+ss", "hook_user": "gateway"},
            public_url=here,
        )
        intake, gateway = Intake(store), HttpGateway(profile, machine_now)
        ours.register_blueprint(create_hooks(intake, {name: profile}, Clock(timedelta)))
        yield Running(shape, profile, store, gateway)
        gateway.close()
        intake.close()


def send(running: Running, **changes: str) -> Outcome:
    text = OutboundText("0199-ours", MOTHER, WORDS, machine_now() + timedelta(hours=6))
    if not changes:
        return running.gateway.send(text)
    settings = dict(running.profile.settings) | changes
    wrong = make_profile(
        running.profile.name,
        wire=running.profile.wire,
        url=running.profile.url,
        sender=OURS,
        secrets=[KEY],
        settings=settings,
        public_url="https://dunnock.example",
    )
    gateway = HttpGateway(wrong, machine_now)
    try:
        return gateway.send(text)
    finally:
        gateway.close()


def test_a_text_goes_out_whole_and_comes_to_its_name(running):
    assert send(running) == Accepted(running.shape.ref)


def test_a_wrong_password_is_a_fault_of_ours(running):
    assert isinstance(send(running, token="wrong", password="wrong"), Denied)


@pytest.mark.parametrize(("word", "state"), [("delivered", "delivered"), ("failed", "undelivered")])
def test_its_receipt_is_kept_once_however_often_it_comes(running, word, state):
    for _ in range(2):
        brought = running.shape.receipt(running.shape.ref, running.shape.words[word])
        answer = running.brings("receipts", **brought)
        assert (answer.status_code, answer.content) == (200, b"")
    with running.store.read() as conn:
        rows = [(r.ref, r.reported) for r in conn.execute(select(receipt).order_by(receipt.c.id))]
    assert rows.count((running.shape.ref, state)) == 1


def test_a_reply_is_kept_letter_by_letter_and_once(running):
    for _ in range(2):
        answer = running.brings("replies", **running.shape.reply("٨ مرات"))
        assert (answer.status_code, answer.content) == (200, b"")
    with running.store.write() as conn:
        (replies,) = unread(conn, machine_now(), 10).values()
    assert [(reply.sender, reply.text) for reply in replies] == [(MOTHER, "٨ مرات")]


def test_a_hook_from_anybody_else_is_refused_and_leaves_nothing(running):
    brought = running.shape.reply("8")
    brought["query"] = brought.get("query", "").replace(KEY, "wrong")
    brought["headers"] = {name: value[:-3] + "abc" for name, value in brought.get("headers", {}).items()}
    assert running.brings("replies", **brought).status_code == 401
    with running.store.read() as conn:
        assert conn.execute(select(inbound)).all() == []


def test_the_other_method_is_not_let_in(running):
    other = "POST" if running.profile.wire.replies.method == "GET" else "GET"
    assert running.brings("replies", method=other).status_code == 405

"""The stand-in for a gateway and the phones behind it, a process of its own over real HTTP; reaches nobody.

python -m bot.demo.standin --hook http://127.0.0.1:8000/hooks/standin --token T --secret whsec_...

POST /messages                 a text, as the `json` profile sends it with a bearer token
POST /backup/messages          the same at a second gateway, which no fault but those of numbers touches
GET  /phones, /phones/NUMBER   the numbers; the texts of one, both ways, oldest first, with the ids of
                               hers that still wait at our hook
POST /phones/NUMBER/replies    {"text"} she writes: goes to our hook as a signed reply; cut into `parts`, if
                               that is given, the last one first
POST /phones/NUMBER/rings      she rings and hangs up: goes to our hook as a missed call
POST /senders/NAME/replies     {"text"} a text from a sender that has no phone here, such as a shop's name
GET, POST /faults              what goes wrong from now on: see `Faults`
POST /clock                    {"ahead_seconds"} how far programme time runs ahead, for the stamps of texts
GET  /counts                   {"texts": different ids, "came": texts shown, "replies", "waiting": hooks
                               that are not taken}
GET  /latest                   the texts that passed last, with how many times each came
"""

from __future__ import annotations

import argparse
import hmac
import os
import signal
import socket
import threading
import time
from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime, timedelta
from typing import Any, TypeVar
from uuid import uuid4

from flask import Flask, Response, abort, jsonify, request
from pydantic import BaseModel, ConfigDict, Field, ValidationError
from werkzeug.serving import BaseWSGIServer, WSGIRequestHandler, make_server

from bot.clock import machine_now
from bot.demo.courier import RETRIES_S, Courier
from bot.demo.phones import Phones
from bot.gateway.signing import key_of

_MOST_SHOWN = 15
_MOST_PARTS = 5
BACKUP = "backup"  # the second gateway, as our hooks call it

M = TypeVar("M", bound=BaseModel)


class Faults(BaseModel):
    """What goes wrong. `*_times` count down with each text; the rest holds until changed."""

    model_config = ConfigDict(extra="forbid")

    fail_times: int = Field(default=0, ge=0)  # answered with fail_status, not taken
    fail_status: int = Field(default=503, ge=400, le=599)
    retry_after: int | None = Field(default=None, ge=0)  # seconds
    hang_times: int = Field(default=0, ge=0)  # taken, but answered only after hang_seconds
    hang_seconds: float = Field(default=30, ge=0, le=120)
    reset_times: int = Field(default=0, ge=0)  # taken, then the connection is cut without an answer
    delay_ms: int = Field(default=0, ge=0, le=60_000)
    reports: bool = True  # False: nothing is ever reported
    early: bool = False  # reports leave before the answer
    double: bool = False  # every hook comes twice
    reorder: bool = False  # 'delivered' comes before 'accepted'
    undelivered: bool = False  # the phone is off: reported so
    refuse: tuple[str, ...] = ()  # numbers that the network refuses
    opted_out: tuple[str, ...] = ()  # numbers that want no texts
    deny: bool = False  # answers 401 to everything, as to a wrong token
    down: bool = False  # answers 503 to everything


class Text(BaseModel):
    """A text as it is posted to us."""

    model_config = ConfigDict(extra="forbid")

    id: str = Field(min_length=1)
    to: str = Field(min_length=1)
    sender: str = Field(alias="from", min_length=1)
    text: str = Field(min_length=1)
    expires_at: datetime


class StandIn:
    """What all requests share."""

    def __init__(self, phones: Phones, courier: Courier, token: str, sender: str) -> None:
        self.phones, self.courier, self.token, self.sender = phones, courier, token, sender
        self.faults = Faults()
        self.ahead = timedelta()
        self._lock = threading.Lock()

    def now(self) -> datetime:
        """Give programme time."""
        return machine_now() + self.ahead

    def spend(self, fault: str) -> bool:
        """Tell whether a counted fault strikes now."""
        with self._lock:
            left: int = getattr(self.faults, fault)
            if left:
                setattr(self.faults, fault, left - 1)
            return left > 0

    def report(self, ref: str, gateway: str = "") -> None:
        """Send what the network says of a text, to the hooks of `gateway` (the main one if left out)."""
        if not self.faults.reports:
            return
        states = ["accepted", "undelivered" if self.faults.undelivered else "delivered"]
        for state in reversed(states) if self.faults.reorder else states:
            self.bring("receipts", {"id": ref, "state": state}, gateway)

    def bring(self, door: str, body: dict[str, object], gateway: str = "") -> None:
        self.courier.bring(door, body, times=2 if self.faults.double else 1, gateway=gateway)

    def hear(self, sender: str, reply_id: str, text: str, at: datetime, **more: object) -> None:
        """Bring what somebody wrote to our hook."""
        body: dict[str, object] = {"id": reply_id, "from": sender, "to": self.sender, "text": text}
        self.bring("replies", body | {"received_at": at.isoformat()} | more)


def create_standin(standin: StandIn) -> Flask:
    """Build the application."""
    app = Flask(__name__)

    @app.post("/messages")
    def messages() -> Response:
        _let_in(standin)
        return _take(standin, _read(Text))

    @app.post("/backup/messages")
    def backup() -> Response:
        _let_in(standin)
        text = _read(Text)
        refused = _refused(standin.faults, text.to)
        if refused is not None:
            return refused
        ref = standin.phones.receive(text.id, text.to, text.text, standin.now())
        standin.report(ref, BACKUP)
        return jsonify(id=ref)

    @app.get("/phones")
    def phones() -> Response:
        return jsonify(numbers=standin.phones.numbers())

    @app.get("/phones/<number>")
    def phone(number: str) -> Response:
        lines, waiting = standin.phones.lines(number), set(standin.courier.waiting())
        on_way = [line.id for line in lines if line.hers and line.id in waiting]
        return jsonify(number=number, lines=[asdict(line) for line in lines], waiting=on_way)

    @app.post("/phones/<number>/replies")
    def reply(number: str) -> tuple[Response, int]:
        text = _object().get("text")
        if not isinstance(text, str):
            abort(_refusal("Give the text she writes as `text`."))
        at, parts = standin.now(), _object().get("parts", 1)
        if not isinstance(parts, int) or not 1 <= parts <= _MOST_PARTS:
            abort(_refusal(f"Give 1 to {_MOST_PARTS} `parts`."))
        reply_id = standin.phones.write(number, text, at)
        if parts == 1:
            standin.hear(number, reply_id, text, at)
        for n, piece in reversed([*enumerate(_pieces(text, parts), 1)] if parts > 1 else []):
            place = {"ref": reply_id, "number": n, "total": parts}
            standin.hear(number, f"{reply_id}-{n}", piece, at, part=place)
        return jsonify(id=reply_id), 202

    @app.post("/phones/<number>/rings")
    def rings(number: str) -> tuple[Response, int]:
        ring = f"ring-{uuid4().hex[:12]}"
        standin.hear(number, ring, "", standin.now(), kind="missed_call")
        return jsonify(id=ring), 202

    @app.post("/senders/<name>/replies")
    def sender_writes(name: str) -> tuple[Response, int]:
        text = _object().get("text")
        if not isinstance(text, str):
            abort(_refusal("Give what they write as `text`."))
        reply_id = f"reply-{uuid4().hex[:12]}"
        standin.hear(name, reply_id, text, standin.now())
        return jsonify(id=reply_id), 202

    @app.route("/faults", methods=["GET", "POST"])
    def faults() -> Response:
        if request.method == "POST":
            standin.faults = _read(Faults)
        return jsonify(standin.faults.model_dump())

    @app.post("/clock")
    def clock() -> Response:
        ahead = _object().get("ahead_seconds")
        if not isinstance(ahead, int | float) or isinstance(ahead, bool):
            abort(_refusal("Give how far programme time runs ahead as `ahead_seconds`."))
        standin.ahead = timedelta(seconds=ahead)
        return jsonify(ahead_seconds=ahead)

    @app.get("/counts")
    def counts() -> Response:
        return jsonify(standin.phones.counts() | {"waiting": len(standin.courier.waiting())})

    @app.get("/latest")
    def latest() -> Response:
        return jsonify(latest=[asdict(arrival) for arrival in standin.phones.latest(_MOST_SHOWN)])

    return app


def _let_in(standin: StandIn) -> None:
    given = request.headers.get("authorization", "").encode()
    if not hmac.compare_digest(given, f"Bearer {standin.token}".encode()):
        abort(401)


def _pieces(text: str, number: int) -> list[str]:
    size = -(-len(text) // number)
    return [text[at * size : (at + 1) * size] for at in range(number)]


def _refused(faults: Faults, number: str) -> Response | None:
    if number in faults.refuse:
        return _refusal("number")
    return _refusal("opted_out") if number in faults.opted_out else None


def _take(standin: StandIn, text: Text) -> Response:
    """Take a text, or do what was asked to go wrong."""
    faults = standin.faults
    time.sleep(faults.delay_ms / 1000)
    if faults.deny or faults.down:
        return _refusal("as asked", 401 if faults.deny else 503)
    if standin.spend("fail_times"):
        answer = _refusal("as asked", faults.fail_status)
        if faults.retry_after is not None:
            answer.headers["Retry-After"] = str(faults.retry_after)
        return answer
    refused = _refused(faults, text.to)
    if refused is not None:
        return refused
    ref = standin.phones.receive(text.id, text.to, text.text, standin.now())
    if faults.early:
        standin.report(ref)
        time.sleep(0.2)  # so that they are there before the answer
    if standin.spend("reset_times"):
        request.environ["werkzeug.socket"].shutdown(socket.SHUT_RDWR)
    if standin.spend("hang_times"):
        time.sleep(faults.hang_seconds)
    if not faults.early:
        standin.report(ref)
    if text.to == standin.sender:  # a text to ourselves comes back, as on a real network
        standin.hear(text.to, f"loop-{text.id}", text.text, standin.now())
    return jsonify(id=ref)


def _object() -> dict[str, Any]:
    body = request.get_json(silent=True, force=True)
    return body if isinstance(body, dict) else {}


def _read(model: type[M]) -> M:
    try:
        return model.model_validate(_object())
    except ValidationError as error:
        faults = [f"{'.'.join(map(str, f['loc']))}: {f['msg']}" for f in error.errors(include_input=False)]
        abort(_refusal("; ".join(faults)))


def _refusal(error: str, status: int = 422) -> Response:
    answer = jsonify(error=error)
    answer.status_code = status
    return answer


class _Quiet(WSGIRequestHandler):
    """Logs no requests: their paths hold phone numbers."""

    def log_request(self, code: int | str = "-", size: int | str = "-") -> None:
        pass


def main(arguments: Sequence[str] | None = None) -> None:
    """Serve until SIGTERM or SIGINT; the first line printed tells the address."""
    args = _parser().parse_args(arguments)
    courier = Courier(args.hook, args.secret, args.retries)
    phones = Phones(args.file)
    app = create_standin(StandIn(phones, courier, args.token, args.sender))
    server: BaseWSGIServer = make_server(args.host, args.port, app, threaded=True, request_handler=_Quiet)
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: threading.Thread(target=server.shutdown).start())
    print(f"http://{args.host}:{server.server_port}", flush=True)
    server.serve_forever()
    courier.close()
    phones.close()


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m bot.demo.standin", description="A gateway that reaches nobody."
    )
    env = os.environ.get
    parser.add_argument("--host", default="127.0.0.1")
    parser.add_argument("--port", type=int, default=8001, help="0 for any free one")
    parser.add_argument("--hook", required=True, help="where hooks go, up to the gateway's name")
    parser.add_argument("--token", default=env("STANDIN_TOKEN"), help="the bearer token (or STANDIN_TOKEN)")
    parser.add_argument(
        "--secret",
        type=key_of,
        default=env("STANDIN_SECRET"),
        help="whsec_..., signs the hooks (or STANDIN_SECRET)",
    )
    parser.add_argument("--sender", default="+447700900001", help="the programme's number")
    parser.add_argument("--file", default=":memory:", help="an SQLite file that keeps the phones")
    parser.add_argument(
        "--retries", type=_seconds, default=RETRIES_S, help="seconds between tries of a hook: 1,5,30"
    )
    return parser


def _seconds(text: str) -> tuple[float, ...]:
    return tuple(float(part) for part in text.split(","))


if __name__ == "__main__":
    main()

"""The profile `kannel` against the gateway itself: Debian's package on loopback, our own network behind it.

    us -> sendsms -> smsbox, bearerbox -> the network stub, and back with receipts and replies

Skipped where bearerbox and smsbox are not installed: tests/run.sh installs them on Debian as root.
"""

from __future__ import annotations

import shutil
import socket
import subprocess
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from datetime import timedelta
from pathlib import Path
from typing import Any
from urllib.parse import quote, quote_from_bytes, unquote_to_bytes
from uuid import uuid4

import httpx
import pytest
from flask import Flask, request
from sqlalchemy import select

from bot.clock import Clock, machine_now
from bot.core.outbox import Accepted, Denied, OutboundText, Permanent
from bot.gateway.http import HttpGateway
from bot.gateway.profile import Profile, make_profile
from bot.gateway.wire import load_wire
from bot.store.inbound import unread
from bot.store.intake import Intake
from bot.store.tables import receipt
from bot.web.hooks import create_hooks
from tests.support.database import opened, upgraded
from tests.support.standin import serving

MOTHER, OURS = "+447700900123", "+447700900001"
KEY = "a-long-random-key-1"
LIMIT_S = 20
BOXES = [shutil.which(name, path="/usr/sbin:/usr/bin:/usr/local/sbin") for name in ("bearerbox", "smsbox")]
pytestmark = pytest.mark.skipif(
    None in BOXES, reason="NOT TESTED AGAINST A REAL GATEWAY: Debian's package kannel is not installed"
)

CONF = """
group = core
admin-port = {admin}
admin-interface = 127.0.0.1
admin-password = x
smsbox-port = {box}
log-level = 1
dlr-storage = internal

group = smsc
smsc = http
smsc-id = stub
system-type = generic
port = {network}
send-url = "{upstream}/send?to=%p&from=%P&text=%b&coding=%c&charset=%C&mask=%d"
status-success-regex = "ok"
generic-foreign-id-regex = "id=([0-9a-z]+)"

group = smsbox
bearerbox-host = 127.0.0.1
bearerbox-port = {box}
sendsms-port = {sendsms}
sendsms-interface = 127.0.0.1
global-sender = {ours}
mo-recode = true
http-request-retry = 5
http-queue-delay = 1
log-level = 1

group = sendsms-user
username = us
password = secret
max-messages = 10

group = sms-service
keyword = default
catch-all = true
max-messages = 0
omit-empty = true
get-url = "{hooks}/replies?key={key}&from=%p&to=%P&text=%b&time=%T&smsc=%i&id=%I&charset=%C"
"""


@dataclass
class Network:
    """What lies behind the gateway: keeps what it was given, names each text."""

    given: list[Mapping[str, Any]] = field(default_factory=list)
    app: Flask = field(default_factory=lambda: Flask(__name__))

    def __post_init__(self) -> None:
        @self.app.get("/send")
        def send() -> str:
            raw = dict(pair.split("=", 1) for pair in request.query_string.decode().split("&"))
            self.given.append(raw)
            return f"ok id=n{len(self.given)}"


@dataclass
class Whole:
    profile: Profile
    gateway: HttpGateway
    network: Network
    network_port: int
    store: Any

    def from_network(self, query: str) -> None:
        """A reply or a receipt, as the network brings it to the gateway."""
        address = f"http://127.0.0.1:{self.network_port}/sms?{query}"
        httpx.get(address, trust_env=False).raise_for_status()

    def replies(self) -> list[str]:
        with self.store.write() as conn:
            return [str(r.text) for found in unread(conn, machine_now(), 10).values() for r in found]

    def reports(self) -> list[tuple[str, str]]:
        with self.store.read() as conn:
            rows = conn.execute(select(receipt.c.ref, receipt.c.reported).order_by(receipt.c.id))
            return [(row.ref, row.reported) for row in rows]


def until(found: Callable[[], bool]) -> None:
    end = time.monotonic() + LIMIT_S
    while not found():
        assert time.monotonic() < end, "it did not come"
        time.sleep(0.05)


def ports(number: int) -> list[int]:
    with ExitStack() as stack:
        sockets = [stack.enter_context(socket.socket()) for _ in range(number)]
        for each in sockets:
            each.bind(("127.0.0.1", 0))
        return [each.getsockname()[1] for each in sockets]


def answers(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Whole]:
    folder = tmp_path_factory.mktemp("kannel")
    admin, box, network_port, sendsms = ports(4)
    network = Network()
    hooks_app = Flask("hooks")
    with ExitStack() as stack:
        store = stack.enter_context(opened(upgraded(f"sqlite:///{folder / 'test.db'}")))
        upstream = stack.enter_context(serving(network.app))
        address = stack.enter_context(serving(hooks_app))
        profile = make_profile(
            "kannel",
            wire=load_wire("kannel"),
            url=f"http://127.0.0.1:{sendsms}/cgi-bin/sendsms",
            sender=OURS,
            secrets=[KEY],
            settings={"user": "us", "password": "secret"},
            public_url=address,
            timeout=timedelta(seconds=5),
        )
        intake = Intake(store)
        stack.callback(intake.close)
        hooks_app.register_blueprint(create_hooks(intake, {"kannel": profile}, Clock(timedelta)))
        conf = folder / "kannel.conf"
        conf.write_text(
            CONF.format(
                admin=admin, box=box, network=network_port, sendsms=sendsms, upstream=upstream, ours=OURS,
                hooks=profile.hooks, key=KEY,
            )
        )  # fmt: skip
        for program, port in zip(BOXES, (box, sendsms), strict=True):
            _start(stack, str(program), conf, folder)
            until(lambda port=port: answers(port))  # type: ignore[misc]
        gateway = HttpGateway(profile, machine_now)
        stack.callback(gateway.close)
        yield Whole(profile, gateway, network, network_port, store)


def _start(stack: ExitStack, program: str, conf: Path, folder: Path) -> None:
    log = stack.enter_context((folder / f"{Path(program).name}.log").open("wb"))
    process = subprocess.Popen([program, "-v", "2", str(conf)], cwd=folder, stdout=log, stderr=log)
    stack.callback(process.wait, 10)
    stack.callback(process.terminate)


def text(words: str) -> OutboundText:
    return OutboundText(str(uuid4()), MOTHER, words, machine_now() + timedelta(hours=6))


@pytest.mark.parametrize(
    ("words", "coding", "charset"),
    [
        ("Feeds: 8+? [yes] @ 7", "0", "utf-8"),
        ("كم مرة رضع اليوم؟", "2", "utf-16-be"),
        ("Reçu ƙ’", "2", "utf-16-be"),
    ],
)
def test_a_text_reaches_the_network_letter_by_letter(whole, words, coding, charset):
    before = len(whole.network.given)
    sent = text(words)
    assert whole.gateway.send(sent) == Accepted(sent.id)
    until(lambda: len(whole.network.given) > before)
    given = whole.network.given[-1]
    assert given["coding"] == coding
    assert bytes_of(given["text"]).decode(charset) == words
    assert bytes_of(given["to"]).decode() == MOTHER


def bytes_of(coded: str) -> bytes:
    return unquote_to_bytes(coded.replace("+", " "))


def test_receipts_come_by_our_own_id_and_end_in_delivered(whole):
    sent = text("a receipt, please")
    before = len(whole.network.given)
    assert whole.gateway.send(sent) == Accepted(sent.id)
    until(lambda: (sent.id, "accepted") in whole.reports())
    name = f"n{before + 1}"
    whole.from_network(f"from={quote(MOTHER)}&to={quote(OURS)}&text=&dlr-mask=1&dlr-mid={name}")
    until(lambda: (sent.id, "delivered") in whole.reports())


@pytest.mark.parametrize("words", ["8+", "٨ مرات", "आज ८ बार", "no pain & 7 wet"])
def test_a_reply_comes_letter_by_letter_and_nothing_is_texted_back(whole, words):
    before = len(whole.network.given)
    gsm7 = words.isascii()
    coded = quote_from_bytes(words.encode("ascii" if gsm7 else "utf-16-be"), safe="")
    whole.from_network(f"from={quote(MOTHER)}&to={quote(OURS)}&text={coded}" + ("" if gsm7 else "&coding=2"))
    until(lambda: words in whole.replies())
    time.sleep(0.5)
    assert len(whole.network.given) == before  # what a hook answers must never reach her


def test_a_wrong_password_is_a_fault_of_ours_and_no_number_a_fault_of_the_text(whole):
    wrong = replace(whole.profile, settings={"user": "us", "password": "wrong"})
    gateway = HttpGateway(wrong, machine_now)
    assert isinstance(gateway.send(text("8")), Denied)
    gateway.close()
    nobody = replace(text("8"), to="")
    outcome = whole.gateway.send(nobody)
    assert isinstance(outcome, Permanent)

"""`dunnock up` is killed with SIGKILL at random moments while replies stream in, and started again.

Every reply that was answered with 200 is in the database and read, and no text goes out under two ids. The
gateway is a loopback server that keeps every post; a reply that is not answered with 200 is sent again, as
gateways do.
"""

from __future__ import annotations

import json
import os
import random
import signal
import socket
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest
from flask import Flask, request
from sqlalchemy import select, update

from bot.clock import machine_now
from bot.core.pair import Pair
from bot.core.states import InboundState, MessageState
from bot.gateway.memory import MemoryGateway
from bot.gateway.signing import key_of, sign
from bot.store import tables as t
from bot.store.audit import audit
from bot.store.engine import Store
from bot.store.sites import add_site
from tests.support.database import PHONE_KEY, SEAL_KEYS
from tests.support.pairs import a_baby, a_mother, a_pair, a_site, an_id
from tests.support.service import SECRET, Service
from tests.support.standin import serving
from tests.support.texts import GATEWAY

pytestmark = pytest.mark.crash

KILLS = 3  # on each database
MOTHERS = 8
FROM_START_S, BETWEEN_S = (0.0, 1.5), 0.02
LONGEST_S = 30  # for the program to answer, or to come to rest


class Phones:
    """The gateway's side: takes every text, and keeps what was posted."""

    def __init__(self) -> None:
        self.posts: list[tuple[str, str, str]] = []
        self.app = Flask(__name__)
        self.app.add_url_rule("/messages", view_func=self._take, methods=["POST"])

    def _take(self) -> dict[str, str]:
        body: Any = request.get_json()
        self.posts.append((body["id"], body["to"], body["text"]))
        return {"id": f"ref-{body['id']}"}


class Mothers(threading.Thread):
    """Sends replies, each until it is answered with 200, and keeps the ids of those that were."""

    def __init__(self, hook: str) -> None:
        super().__init__(daemon=True)
        self.hook, self.acknowledged, self.refused = hook, list[str](), 0
        self.enough = threading.Event()

    def run(self) -> None:
        with httpx.Client(trust_env=False, timeout=5) as client:
            while not self.enough.is_set():
                self._say(client, f"reply-{len(self.acknowledged)}")

    def _say(self, client: httpx.Client, key: str) -> None:
        n = len(self.acknowledged)
        words = ("please call me", "no", "8", "can you help me", "thank you")[n % 5]
        sent = {"id": key, "from": _number(n % MOTHERS), "to": "+447700900100", "text": words}
        body = json.dumps(sent | {"received_at": machine_now().isoformat()}).encode()
        while not self.enough.is_set():
            at = machine_now()
            headers = {
                "webhook-id": key,
                "webhook-timestamp": str(int(at.timestamp())),
                "webhook-signature": sign(key_of(SECRET), key, at, body),
                "content-type": "application/json",
            }
            try:
                if client.post(self.hook, content=body, headers=headers).status_code == 200:
                    self.acknowledged.append(key)
                    self.enough.wait(BETWEEN_S)
                    return
            except httpx.HTTPError:
                pass
            self.refused += 1
            self.enough.wait(0.05)


def _number(n: int) -> str:
    return f"+4477009001{n:02}"


def _mother(n: int) -> Pair:
    """A mother whose number is verified, discharged yesterday."""
    home = machine_now() - timedelta(days=1)
    pair = a_pair(babies=(a_baby(born_at=home - timedelta(hours=30)),), discharged_at=home)
    return replace(
        pair,
        id=an_id("pair", n),
        external_id=f"K-{n}",
        mother=a_mother(id=an_id("mother", n), phone=_number(n)),
        babies=tuple(replace(baby, id=an_id("baby", n)) for baby in pair.babies),
        assessments=(),
    )


def _set_up(store: Store) -> None:
    with store.write() as conn:
        add_site(conn, a_site())
    service = Service(store, MemoryGateway(), machine_now())
    service.publish()
    service.enrol([_mother(n) for n in range(MOTHERS)])
    service.close()


@contextmanager
def running(environment: dict[str, str], port: int) -> Iterator[subprocess.Popen[bytes]]:
    """Start the program in a process group of its own, and kill that whole group in the end."""
    command = [sys.executable, "-m", "bot.cli", "up", "--port", str(port)]
    root = Path(__file__).parents[1]
    program = subprocess.Popen(
        command, cwd=root, env=os.environ | environment, start_new_session=True, stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        yield program
    finally:
        os.killpg(program.pid, signal.SIGKILL)
        program.wait()


def _wait_for_more(mothers: Mothers) -> None:
    """Until the program, started again, has taken another reply."""
    before, end = len(mothers.acknowledged), time.monotonic() + LONGEST_S
    while len(mothers.acknowledged) == before:
        assert time.monotonic() < end, "the program takes no replies"
        time.sleep(0.02)


def _at_rest(store: Store) -> bool:
    with store.read() as conn:
        unread = conn.scalar(select(t.inbound.c.id).where(t.inbound.c.state == InboundState.stored).limit(1))
        due = (MessageState.queued, MessageState.sending)
        waits = t.message.c.state.in_(due) & (t.message.c.send_after <= machine_now())
        return unread is None and conn.scalar(select(t.message.c.id).where(waits).limit(1)) is None


def _free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        port: int = found.getsockname()[1]
        return port


def _let_leases_lapse(store: Store) -> None:
    """What a dead sender held would be free in a minute; nobody needs to wait for it here."""
    with store.write() as conn:
        sending = t.message.c.state == MessageState.sending
        conn.execute(update(t.message).where(sending).values(lease_until=machine_now() - timedelta(days=1)))


def test_no_reply_that_was_acknowledged_is_lost_and_no_text_has_two_ids(
    store: Store, migrated_url: str, tmp_path: Path
) -> None:
    _set_up(store)
    phones, port = Phones(), _free_port()
    chance = random.Random(7)
    with serving(phones.app) as address:
        config = tmp_path / "dunnock.toml"
        config.write_text(
            f'[gateways.{GATEWAY}]\nurl = "{address}/messages"\nnumber = "+447700900100"\ntoken = "t"\n'
            f'secret = ["{SECRET}"]\n'
        )
        environment = {
            "DUNNOCK_DATABASE_URL": migrated_url, "DUNNOCK_SECRET_KEY": "k" * 32,
            "DUNNOCK_SEAL_KEYS": SEAL_KEYS, "DUNNOCK_PHONE_KEY": PHONE_KEY, "DUNNOCK_CONFIG": str(config),
        }  # fmt: skip
        mothers = Mothers(f"http://127.0.0.1:{port}/hooks/{GATEWAY}/replies")
        mothers.start()
        for _ in range(KILLS):
            with running(environment, port):
                _wait_for_more(mothers)
                time.sleep(chance.uniform(*FROM_START_S))
        _let_leases_lapse(store)
        with running(environment, port):
            _wait_for_more(mothers)
            mothers.enough.set()
            mothers.join()
            end = time.monotonic() + LONGEST_S
            while not _at_rest(store):
                assert time.monotonic() < end, "the program does not come to rest"
                time.sleep(0.1)
    assert mothers.refused > 0, "no kill was felt"
    _nothing_is_lost(store, mothers.acknowledged)
    _nothing_has_two_ids(store, phones.posts)


def _nothing_is_lost(store: Store, acknowledged: list[str]) -> None:
    with store.read() as conn:
        stored = {row.external_key: row.state for row in conn.execute(select(t.inbound))}
        faults = {fault.what for fault in audit(conn, machine_now(), machine_now())}
    assert len(acknowledged) > 2 * KILLS
    assert {key: stored.get(key) for key in acknowledged} == dict.fromkeys(acknowledged, InboundState.read)
    assert faults <= {"nobody has spoken to this mother in time"}


def _nothing_has_two_ids(store: Store, posts: list[tuple[str, str, str]]) -> None:
    """Each text that left is one that was made, in one wording, and what was made has left."""
    with store.read() as conn:
        made = {str(row.id): row for row in conn.execute(select(t.message))}
    words = {(row_id, to, text) for row_id, to, text in posts}
    assert max(Counter(row_id for row_id, _, _ in words).values()) == 1
    left = {row_id for row_id, row in made.items() if row.state is MessageState.accepted}
    assert {row_id for row_id, _, _ in posts} == left
    assert len(posts) > 0
    # One text of a kind for each reply: the key of a text names the reply that it answers.
    assert max(Counter((row.enrolment, row.once_key) for row in made.values()).values()) == 1

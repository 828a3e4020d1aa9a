"""Alerts by mail, over real SMTP on loopback: what goes out, and what each way to fail means."""

from __future__ import annotations

import socketserver
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from email import message_from_bytes, policy

import pytest

from bot.core.outbox import Accepted, Denied, OutboundText, Outcome, Permanent, Temporary, Unknown
from bot.gateway.mail import MailGateway, MailServer

TEXT = OutboundText(
    "0199aaaa-0000-7000-8000-000000000001",
    "night@lakeside.example",
    "Dunnock Lakeside: GO NOW. Phone a mother at once: +447700900123. Baby 3 days old.",
    datetime(2026, 3, 5, 3, 0, tzinfo=UTC),
)


class _Server(socketserver.ThreadingTCPServer):
    """A mail server that answers as told: `says` maps a verb of RFC 5321 to its answer, '' hangs up."""

    daemon_threads = True
    allow_reuse_address = True

    def __init__(self, says: dict[str, str]) -> None:
        super().__init__(("127.0.0.1", 0), _Talk)
        self.says, self.taken = says, list[bytes]()


class _Talk(socketserver.StreamRequestHandler):
    server: _Server

    def handle(self) -> None:
        self._say("220 here")
        for line in self.rfile:
            verb = line.split()[0].decode().upper()
            answer = self.server.says.get(verb, "354 go on" if verb == "DATA" else "250 good")
            if not answer:
                return
            self._say(answer)
            if verb == "DATA" and answer.startswith("354"):
                self._take()
            if verb == "QUIT":
                return

    def _take(self) -> None:
        lines = []
        for line in self.rfile:
            if line == b".\r\n":
                break
            lines.append(line)
        answer = self.server.says.get("END", "250 taken")
        if answer:
            self.server.taken.append(b"".join(lines))
            self._say(answer)
        else:
            self.connection.close()

    def _say(self, words: str) -> None:
        self.wfile.write(words.encode() + b"\r\n")


@contextmanager
def serving(says: dict[str, str] | None = None) -> Iterator[_Server]:
    with _Server(says or {}) as server:
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01}, daemon=True)
        thread.start()
        yield server
        server.shutdown()
        thread.join(5)


def send(port: int, **changes: str) -> Outcome:
    given = {"security": "none"} | changes
    server = MailServer("127.0.0.1", port, "dunnock@lakeside.example", timeout=timedelta(seconds=2), **given)  # type: ignore[arg-type]
    return MailGateway(server).send(TEXT)


def test_an_alert_is_handed_in_with_its_first_sentence_as_subject() -> None:
    with serving() as server:
        assert send(server.server_address[1]) == Accepted(TEXT.id)
        mail = message_from_bytes(server.taken[0], policy=policy.default)
    assert mail["Subject"] == "Dunnock Lakeside: GO NOW"
    assert (mail["From"], mail["To"]) == ("dunnock@lakeside.example", TEXT.to)
    assert mail["Message-ID"] == f"<{TEXT.id}@lakeside.example>"
    assert mail.get_content().strip() == TEXT.text


@pytest.mark.parametrize(
    ("says", "outcome"),
    [
        ({"RCPT": "550 nobody here"}, Permanent("SMTP 550", number=True)),
        ({"RCPT": "451 later"}, Temporary("SMTP 451")),
        ({"MAIL": "452 full"}, Temporary("SMTP 452")),
        ({"DATA": "554 no"}, Permanent("SMTP 554")),
        ({"END": "452 full"}, Temporary("SMTP 452")),
        ({"END": ""}, Unknown("SMTPServerDisconnected")),
    ],
)
def test_what_the_server_says_decides_what_becomes_of_it(says: dict[str, str], outcome: Outcome) -> None:
    """RFC 5321, section 4.2.1: 4yz is refused for now, 5yz for good."""
    with serving(says) as server:
        assert send(server.server_address[1]) == outcome


def test_a_wrong_password_or_no_tls_is_for_a_person_to_mend() -> None:
    with serving({"EHLO": "250-here\r\n250 AUTH PLAIN", "AUTH": "535 no"}) as server:
        refused = send(server.server_address[1], user="dunnock", password="wrong")
        assert refused == Denied("SMTPAuthenticationError")
        assert send(server.server_address[1], security="starttls") == Denied("SMTPNotSupportedError")


def test_nobody_at_the_door_is_tried_again() -> None:
    with serving() as server:
        port = server.server_address[1]
    assert isinstance(send(port), Temporary)

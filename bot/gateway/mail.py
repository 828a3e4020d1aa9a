"""Alerts by electronic mail: an `OutboundText` to an address goes out over SMTP, an Outcome comes back.

Only people on call are mailed, and only words that name nobody: mail lies open on its way. A mail that may
have been taken is handed in again under the same Message-ID, by which most readers show it once.
"""

from __future__ import annotations

import smtplib
import ssl
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import timedelta
from email.message import EmailMessage
from typing import Literal

from bot.core.outbox import Accepted, Denied, OutboundText, Outcome, Permanent, Temporary, Unknown
from bot.core.routing import MAIL

Security = Literal["starttls", "tls", "none"]

_REFUSED = 500  # RFC 5321, section 4.2.1: 4yz is refused for now, 5yz for good
_SPARE = timedelta(seconds=30)


@dataclass(frozen=True, slots=True)
class MailServer:
    """Where mail is handed in, and from whom it comes. Without a user nobody signs in."""

    host: str
    port: int
    sender: str
    security: Security = "starttls"
    user: str = ""
    password: str = field(default="", repr=False)
    rate: float | None = None
    timeout: timedelta = timedelta(seconds=10)

    @property
    def name(self) -> str:
        return MAIL

    def lease(self, claimed: int, in_flight: int) -> timedelta:
        """Give how long a claim may take at worst; each mail has about six turns with the server."""
        return -(-claimed // in_flight) * 6 * self.timeout + _SPARE


class MailGateway:
    """Hands in mail, one connection each: alerts are few, and none may wait behind another's silence."""

    def __init__(self, server: MailServer) -> None:
        self._server = server

    def send(self, text: OutboundText) -> Outcome:
        """Hand it in once. Safe to repeat with the same id."""
        return _outcome(lambda: self._hand_in(text), text.id)

    def _hand_in(self, text: OutboundText) -> None:
        with self._signed_in() as server:
            server.send_message(_mail(text, self._server.sender))

    @contextmanager
    def _signed_in(self) -> Iterator[smtplib.SMTP]:
        to, seconds = self._server, self._server.timeout.total_seconds()
        trusted = ssl.create_default_context()
        if to.security == "tls":
            server: smtplib.SMTP = smtplib.SMTP_SSL(to.host, to.port, timeout=seconds, context=trusted)
        else:
            server = smtplib.SMTP(to.host, to.port, timeout=seconds)
        try:
            if to.security == "starttls":
                server.starttls(context=trusted)
            if to.user:
                server.login(to.user, to.password)
            yield server
        finally:
            server.close()


def _mail(text: OutboundText, sender: str) -> EmailMessage:
    """The first sentence is the subject: it is what a locked screen shows."""
    mail = EmailMessage()
    mail["From"], mail["To"] = sender, text.to
    mail["Subject"] = " ".join(text.text.split(". ", 1)[0].split())
    mail["Message-ID"] = f"<{text.id}@{sender.rpartition('@')[2]}>"
    mail["X-Priority"] = "1"
    mail.set_content(text.text + "\n")
    return mail


def _outcome(hand_in: Callable[[], None], ref: str) -> Outcome:
    """Say what came of it, by where it broke off."""
    try:
        hand_in()
    except (smtplib.SMTPAuthenticationError, smtplib.SMTPNotSupportedError, ssl.SSLError) as error:
        return Denied(type(error).__name__)
    except smtplib.SMTPRecipientsRefused as error:
        codes = [code for code, _ in error.recipients.values()]
        gone = all(code >= _REFUSED for code in codes)
        return Permanent(f"SMTP {codes[0]}", number=True) if gone else Temporary(f"SMTP {codes[0]}")
    except smtplib.SMTPResponseException as error:
        words = f"SMTP {error.smtp_code}"
        return Permanent(words) if error.smtp_code >= _REFUSED else Temporary(words)
    except (smtplib.SMTPServerDisconnected, TimeoutError) as error:
        return Unknown(type(error).__name__)
    except (smtplib.SMTPException, OSError) as error:
        return Temporary(type(error).__name__)
    return Accepted(ref)

"""What must be known of a gateway: its settings come in, a checked `Profile` goes out."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import timedelta

from bot.core.errors import Invalid, Problem
from bot.gateway.signing import key_of

_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,30}")
_URL = re.compile(r"https?://[^\s/]+(/\S*)?")
_TWO_WAY = re.compile(r"\+[1-9]\d{6,14}|\d{3,8}")
_CONNECT_LIMIT = timedelta(seconds=5)
_SPARE = timedelta(seconds=30)


@dataclass(frozen=True, slots=True)
class Profile:
    """A gateway of the `json` kind. `rate` in texts a second, None for no limit; `keys` sign its hooks."""

    name: str
    url: str
    token: str = field(repr=False)
    sender: str
    keys: tuple[bytes, ...] = field(repr=False)
    rate: float | None = None
    timeout: timedelta = timedelta(seconds=10)

    @property
    def connect_timeout(self) -> timedelta:
        return min(self.timeout, _CONNECT_LIMIT)

    def lease(self, claimed: int, in_flight: int) -> timedelta:
        """Give how long a claim may take at worst: every post waits as long as it may."""
        rounds = -(-claimed // in_flight)
        return rounds * (self.connect_timeout + self.timeout) + _SPARE


def make_profile(
    name: str,
    *,
    url: str,
    token: str,
    sender: str,
    secrets: Sequence[str],
    rate: float | None = None,
    timeout: timedelta = timedelta(seconds=10),
) -> Profile:
    """Check a gateway's settings; raise Invalid with every fault. Two secrets hold while one is changed."""
    where = f"gateways.{name}"
    problems = []
    if not _NAME.fullmatch(name):
        problems.append(Problem(where, "Name it with small letters, digits and hyphens."))
    if not _URL.fullmatch(url):
        problems.append(Problem(f"{where}.url", "Give the whole address, from http:// or https:// on."))
    if not token:
        problems.append(Problem(f"{where}.token", "Give the bearer token of the gateway."))
    if not _TWO_WAY.fullmatch(sender):
        problems.append(
            Problem(
                f"{where}.number",
                "Give our number with + and country code, or a short code: mothers can't reply to a name.",
            )
        )
    keys = []
    for secret in secrets:
        try:
            keys.append(key_of(secret))
        except ValueError as error:
            problems.append(Problem(f"{where}.secret", str(error)))
    if not secrets:
        problems.append(Problem(f"{where}.secret", "Give the secret that signs the gateway's hooks."))
    if rate is not None and rate <= 0:
        problems.append(Problem(f"{where}.per_second", "Give a rate above 0, or none for no limit."))
    if problems:
        raise Invalid(problems)
    return Profile(name, url, token, sender, tuple(keys), rate, timeout)

"""A gateway that we use: its settings and the wire they go over come in, a checked `Profile` goes out."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from functools import lru_cache
from ipaddress import IPv4Network, IPv6Network, ip_network

from bot.core.errors import Invalid, Problem
from bot.gateway.signing import key_of
from bot.gateway.wire import Wire, load_wire

_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,30}")
_URL = re.compile(r"https?://[^\s/]+(/\S*)?")
_TWO_WAY = re.compile(r"\+[1-9]\d{6,14}|\d{3,8}")
_REGION = re.compile(r"[A-Z]{2}")
_CONNECT_LIMIT = timedelta(seconds=5)
_SPARE = timedelta(seconds=30)
_LEAST_SECRET = 16  # characters of a secret that stands in an address


@dataclass(frozen=True, slots=True)
class Profile:
    """A gateway by name. `rate` in texts a second, None for no limit; `keys` sign its hooks."""

    name: str
    wire: Wire = field(repr=False)
    url: str
    sender: str
    settings: Mapping[str, str] = field(repr=False)  # what the templates name: token, user, password ...
    secrets: tuple[str, ...] = field(repr=False)
    keys: tuple[bytes, ...] = field(repr=False)
    hooks: str = ""  # our own address for this gateway, as the outside sees it
    addresses: tuple[IPv4Network | IPv6Network, ...] = ()
    region: str | None = None  # where senders without a country code are
    rate: float | None = None
    timeout: timedelta = timedelta(seconds=10)

    @property
    def key(self) -> str:
        """The secret that stands in the addresses we give out."""
        return self.secrets[0] if self.secrets else ""

    @property
    def two_way(self) -> bool:
        """Whether mothers can answer what comes through this gateway."""
        return self.wire.replies is not None and bool(_TWO_WAY.fullmatch(self.sender))

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
    sender: str,
    secrets: Sequence[str] = (),
    token: str = "",
    settings: Mapping[str, str] | None = None,
    wire: Wire | None = None,
    public_url: str = "",
    addresses: Sequence[str] = (),
    region: str | None = None,
    rate: float | None = None,
    timeout: timedelta = timedelta(seconds=10),
) -> Profile:
    """Check a gateway's settings; raise Invalid with every fault. Two secrets hold while one is changed.

    settings    values for the names in braces of the profile, besides token
    wire        the profile; the one named `json` if left out
    public_url  where the outside reaches us, for profiles that tell it to the gateway
    """
    wire = wire or default_wire()
    given = dict(settings or {}) | ({"token": token} if token else {})
    networks = _networks(addresses)
    problems = [
        *_of_settings(wire, name, url, sender, given, public_url),
        *_of_trust(wire, secrets, given, addresses),
        *(Problem("addresses", f"'{each}' is no network such as 192.0.2.0/24.") for each in networks[1]),
    ]
    if region is not None and not _REGION.fullmatch(region):
        problems.append(Problem("region", "Give the country as two letters, such as KE."))
    if rate is not None and rate <= 0:
        problems.append(Problem("per_second", "Give a rate above 0, or none for no limit."))
    if problems:
        where = f"gateways.{name}"
        raise Invalid([Problem(f"{where}.{p.field}" if p.field else where, p.message) for p in problems])
    hooks = f"{public_url.rstrip('/')}/hooks/{name}" if public_url else ""
    keys = tuple(map(key_of, secrets)) if wire.trust.by == "standard" else tuple(s.encode() for s in secrets)
    return Profile(
        name, wire, url, sender, given, tuple(secrets), keys, hooks, tuple(networks[0]), region, rate, timeout
    )


@lru_cache(maxsize=1)
def default_wire() -> Wire:
    """The profile that a gateway has if its settings name none."""
    return load_wire("json")


def _of_settings(
    wire: Wire, name: str, url: str, sender: str, given: Mapping[str, str], public_url: str
) -> Iterator[Problem]:
    if not _NAME.fullmatch(name):
        yield Problem("", "Name it with small letters, digits and hyphens.")
    if not _URL.fullmatch(url):
        yield Problem("url", "Give the whole address, from http:// or https:// on.")
    needed = wire.settings | {"bearer": {"token"}, "basic": {"user", "password"}}.get(wire.send.auth, set())
    for missing in sorted(each for each in needed if not given.get(each)):
        yield Problem(missing, f"Give it: the profile '{wire.name}' needs it for what we send.")
    if wire.replies is not None and not _TWO_WAY.fullmatch(sender):
        yield Problem(
            "number",
            "Give our number with + and country code, or a short code: mothers can't reply to a name.",
        )
    if wire.needs_hooks and not _URL.fullmatch(public_url):
        yield Problem(
            "profile",
            f"'{wire.name}' tells the gateway where to report: set public_url at the top of the file.",
        )


def _of_trust(
    wire: Wire, secrets: Sequence[str], given: Mapping[str, str], addresses: Sequence[str]
) -> Iterator[Problem]:
    match wire.trust.by:
        case "addresses":
            if not addresses:
                yield Problem("addresses", "Give the networks that the gateway's hooks come from.")
            return
        case "basic":
            if not (given.get("hook_user") and secrets):
                yield Problem("hook_user", "Give the user, and as secret the password, of its hooks.")
        case "standard":
            for secret in secrets:
                try:
                    key_of(secret)
                except ValueError as error:
                    yield Problem("secret", str(error))
    if not secrets:
        yield Problem("secret", "Give the secret that proves who sends the gateway's hooks.")
    if wire.trust.by in ("key", "basic") and any(len(secret) < _LEAST_SECRET for secret in secrets):
        yield Problem("secret", f"Give at least {_LEAST_SECRET} random characters: it stands in an address.")


def _networks(addresses: Sequence[str]) -> tuple[list[IPv4Network | IPv6Network], list[str]]:
    found, faults = [], []
    for each in addresses:
        try:
            found.append(ip_network(each))
        except ValueError:
            faults.append(each)
    return found, faults

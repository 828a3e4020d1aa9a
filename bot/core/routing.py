"""Which gateways carry a text, and what it costs there. Pure: the routes and tariffs of the configuration in.

A route has a name of its own, which a queued text carries: senders claim by it, with an index, and the number
itself stays sealed.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

EVERYWHERE = ""  # the route of what no other is for
MAIL = "mail"  # the route, and the gateway, of what goes by electronic mail


@dataclass(frozen=True, slots=True)
class Route:
    """`gateways`: the first is used while it works, the others when it does not."""

    name: str
    gateways: tuple[str, ...]
    site: str | None = None
    prefix: str | None = None

    def is_for(self, site: str | None, phone: str) -> bool:
        return (self.site is None or self.site == site) and phone.startswith(self.prefix or "")


@dataclass(frozen=True, slots=True)
class Tariff:
    """The price of one part of a text from the day `since` on, to numbers that begin with `prefix`."""

    since: date
    prefix: str
    per_segment: Decimal
    currency: str


def routes_of(
    given: Sequence[tuple[str | None, str | None, tuple[str, ...]]], gateways: Sequence[str]
) -> tuple[Route, ...]:
    """Name the routes given as (site, prefix, gateways), and add the one for everything else."""
    named = [Route(_name(site, prefix), through, site, prefix) for site, prefix, through in given]
    return (*named, Route(EVERYWHERE, tuple(gateways)))


def _name(site: str | None, prefix: str | None) -> str:
    return " ".join(part for part in (site, prefix) if part) or "all"


def route_for(routes: Sequence[Route], site: str | None, phone: str) -> str:
    """Give the name of the first route that is for this site and number."""
    return next((route.name for route in routes if route.is_for(site, phone)), EVERYWHERE)


def routes_through(routes: Sequence[Route], gateway: str, resting: Collection[str]) -> frozenset[str]:
    """Give the routes whose texts `gateway` carries now: it is the first of them that does not rest. Where
    all rest, the first one keeps them."""
    mine = set()
    for route in routes:
        able = [each for each in route.gateways if each not in resting] or route.gateways[:1]
        if able[0] == gateway:
            mine.add(route.name)
    return frozenset(mine)


def routes_helped(routes: Sequence[Route], gateway: str) -> frozenset[str]:
    """Give the routes that `gateway` belongs to at all: for texts that the others failed to carry, and for
    what is too urgent to wait."""
    return frozenset(route.name for route in routes if gateway in route.gateways)


def cost(tariffs: Sequence[Tariff], phone: str, on: date, segments: int) -> tuple[Decimal, str] | None:
    """Give what a text costs and in which currency: the longest prefix counts, then the newest tariff that is
    in force; None where nothing is known."""
    known = [each for each in tariffs if each.since <= on and phone.startswith(each.prefix)]
    if not known:
        return None
    tariff = max(known, key=lambda each: (len(each.prefix), each.since))
    return tariff.per_segment * segments, tariff.currency


@dataclass(frozen=True, slots=True)
class Routing:
    """Every route, and the tariffs by gateway."""

    routes: tuple[Route, ...]
    tariffs: Mapping[str, Sequence[Tariff]]


def only(gateway: str) -> Routing:
    """The routing of a program with one gateway."""
    return Routing((Route(EVERYWHERE, (gateway,)),), {})

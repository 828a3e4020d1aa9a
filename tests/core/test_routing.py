"""Which gateways carry a text, what helps when one rests, and what a text costs."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.core.routing import EVERYWHERE, Tariff, cost, route_for, routes_helped, routes_of, routes_through

ROUTES = routes_of(
    [("lakeside", None, ("near", "far")), (None, "+447700", ("far",)), ("coast", "+44", ("far", "near"))],
    ["near", "far"],
)


@pytest.mark.parametrize(
    ("site", "phone", "route"),
    [
        ("lakeside", "+447700900123", "lakeside"),  # the first that fits, as the manager wrote them
        ("coast", "+447700900123", "+447700"),
        ("coast", "+442079460000", "coast +44"),
        ("coast", "+12025550123", EVERYWHERE),
        (None, "+12025550123", EVERYWHERE),
    ],
)
def test_a_text_goes_by_the_first_route_for_its_site_and_number(site, phone, route):
    assert route_for(ROUTES, site, phone) == route


def test_a_fallback_takes_over_while_the_first_rests_and_gives_back_after():
    assert routes_through(ROUTES, "near", ()) == {"lakeside", EVERYWHERE}
    assert routes_through(ROUTES, "far", ()) == {"+447700", "coast +44"}
    assert routes_through(ROUTES, "far", {"near"}) == {"lakeside", "+447700", "coast +44", EVERYWHERE}
    assert routes_through(ROUTES, "near", {"near"}) == frozenset()


@given(st.sets(st.sampled_from(["near", "far"])))
def test_every_route_has_exactly_one_gateway_at_any_time(resting):
    shares = [routes_through(ROUTES, name, resting) for name in ("near", "far")]
    assert shares[0] | shares[1] == {route.name for route in ROUTES}
    assert not shares[0] & shares[1]


def test_what_is_urgent_may_be_helped_by_every_gateway_of_its_route():
    assert routes_helped(ROUTES, "near") == {"lakeside", "coast +44", EVERYWHERE}


@pytest.mark.parametrize(
    ("phone", "on", "segments", "price"),
    [
        ("+447700900123", date(2026, 1, 31), 2, (Decimal("0.08"), "GBP")),
        ("+447700900123", date(2026, 2, 1), 2, (Decimal("0.10"), "GBP")),
        ("+12025550123", date(2026, 2, 1), 1, (Decimal("0.01"), "USD")),
        ("+12025550123", date(2025, 12, 31), 1, None),
    ],
)
def test_the_price_is_that_of_the_longest_prefix_and_the_newest_day(phone, on, segments, price):
    tariffs = [
        Tariff(date(2026, 1, 1), "+", Decimal("0.01"), "USD"),
        Tariff(date(2026, 1, 1), "+44", Decimal("0.04"), "GBP"),
        Tariff(date(2026, 2, 1), "+44", Decimal("0.05"), "GBP"),
    ]
    assert cost(tariffs, phone, on, segments) == price

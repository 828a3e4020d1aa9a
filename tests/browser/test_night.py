"""A whole night in a real browser: a danger at two, a duty phone that taps, two counsellors, the end of a
shift and the arrival, on a clock that moves."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from sqlalchemy import select

from bot.core.follow.events import Woke
from bot.core.pair import OnCall, Pair
from bot.core.states import EpisodeState
from bot.store.sites import change_site
from bot.store.tables import alert
from bot.store.viewer import Role
from tests.support.looks import PHONE, looks_well
from tests.support.ward import Ward

pytestmark = pytest.mark.browser

Open = Callable[..., Page]
PICTURES = os.environ.get("DUNNOCK_PICTURES")  # a folder to look at the pages in, while one works on them


def looked_at(page: Page, name: str) -> None:
    looks_well(page)
    if PICTURES:
        page.screenshot(path=Path(PICTURES) / f"{name}.png", full_page=True)


@pytest.fixture
def danger(ward: Ward) -> Pair:
    """At two in the morning she writes what must wake somebody."""
    on_call = (OnCall("Ward phone", "+447700900910"), OnCall("Head", "+447700900911", manager=True))
    with ward.store.write() as conn:
        ward.sites["lakeside"] = change_site(conn, replace(ward.sites["lakeside"], on_call=on_call))
    ward.add_staff("layla", "Layla", Role.counsellor, "lakeside", language="ar")
    pair = ward.enrol("Amina")
    ward.now = ward.now.replace(hour=23, minute=0)
    return ward.writes(pair, "he is very hot and will not wake")


def later(ward: Ward, pair: Pair, minutes: int) -> None:
    """The clock moves, and what is due is done."""
    ward.now += timedelta(minutes=minutes)
    ward.happens(pair, Woke())


def state(ward: Ward, pair: Pair) -> EpisodeState:
    return ward.load(pair.id).episodes[-1].state


@pytest.mark.parametrize(
    ("first", "look"), [("njeri", {"width": PHONE}), ("layla", {"width": PHONE, "color_scheme": "dark"})]
)
def test_from_the_warning_to_the_arrival(
    ward: Ward, danger: Pair, open_page: Open, first: str, look: dict[str, object]
) -> None:
    case = f"/pairs/{danger.id}"
    later(ward, danger, 12)  # nothing came back: she is told again, and the list is woken

    # The duty phone has no account: its link opens one page, and one tap says 'I have it'.
    with ward.store.read() as conn:
        link = ward.store.sealer.link_token("alert", conn.scalars(select(alert.c.id)).all()[0])
    duty = open_page(**look)
    duty.goto(f"/a/{link}")
    looked_at(duty, f"{first}-duty")
    duty.locator("main button").click()
    expect(duty.locator(".said").first).to_be_visible()

    # The first counsellor takes it, phones, and learns that there is no transport.
    one = open_page(first, **look)
    looked_at(one, f"{first}-inbox")
    one.goto(case)
    looked_at(one, f"{first}-case")
    one.locator("#why .buttons button.main").click()
    one.locator("[name=going][value=cannot]").check()
    one.locator("[name=hindrance]").select_option("transport")
    one.locator("#going button").click()
    expect(one.locator(".way-now")).to_be_visible()
    assert state(ward, danger) is EpisodeState.cannot
    one.locator("#why .buttons button.main").click()  # she has spoken to her
    assert ward.load(danger.id).escalations[-1].spoken_at is not None

    # Her shift ends: it stays hers until the colleague whom she names accepts.
    one.goto("/shift")
    looked_at(one, f"{first}-shift")
    one.locator("select").select_option(str(ward.staff["otieno"]))
    one.locator("main form button.main").click()
    expect(one.locator("#said")).not_to_be_empty()
    item = ward.load(danger.id).open_escalation
    assert item is not None
    assert item.taken_by == ward.staff[first]
    two = open_page("otieno")
    two.goto(case)
    two.get_by_role("button", name="I take it over").click()
    expect(two.locator("#said")).to_contain_text("Yours now")

    # By four they have arrived; in the morning the ward says how it ended, and only that ends it.
    ward.now += timedelta(hours=2)
    two.locator("[name=going][value=on_the_way]").check()
    two.locator("#going button").click()
    two.locator("[name=going][value=arrived]").check()
    two.locator("#going button").click()
    expect(two.locator(".way-now")).to_contain_text("She has arrived")
    two.get_by_text("On the way to hospital", exact=True).click()
    two.get_by_role("group", name="How the danger ended").get_by_label("Admitted").check()
    two.get_by_role("button", name="Close with what was found").click()
    expect(two.locator("#said")).to_contain_text("Closed")
    assert state(ward, danger) is EpisodeState.closed
    one.goto(case)
    looked_at(one, f"{first}-closed")

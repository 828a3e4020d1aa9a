"""The reviews of a day in a real browser: on a phone with one thumb, at night, in Arabic, and on paper."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from playwright.sync_api import Page, expect

from bot.core.pair import Pair
from bot.core.states import ReviewState
from bot.store.viewer import Role
from tests.support.looks import LOOKS, PHONE, follow, looks_well, refused
from tests.support.ward import Ward

pytestmark = pytest.mark.browser

Open = Callable[..., Page]


@pytest.fixture
def twins(ward: Ward) -> Pair:
    """Twins and two more mothers whose reviews were due today; one has written of a danger."""
    ward.add_staff("layla", "Layla", Role.counsellor, "lakeside", language="ar")
    pair = ward.enrol("Wanjiku", babies=2)
    ward.writes(ward.enrol("Zawadi"), "baby very hot and won't wake")
    ward.enrol("Chebet")
    ward.now += timedelta(hours=4)
    return pair


def walk(page: Page) -> None:
    """From the list through a refused weight to what was found and the charts; look at each page."""
    page.goto("/reviews")
    looks_well(page)
    follow(page, page.locator(".visits li", has_text="Wanjiku").locator("a.button").first)
    looks_well(page)
    page.fill("[name=b1_weight_g]", "2400")
    with refused(page):
        page.locator("button.main").click()
    looks_well(page)
    page.locator("[name=b1_sure]").check()
    page.locator("[name=b1_attachment_mouth][value=no]").check()
    page.fill("[name=b2_weight_g]", "3010")
    page.locator("[name=b2_thrush][value=yes]").check()
    page.locator("button.main").click()
    page.wait_for_url("**/found")
    looks_well(page)
    follow(page, page.locator("main a.button[href^='/pairs/']").last)
    expect(page.locator(".chart .band")).to_have_count(2)
    looks_well(page)


@pytest.mark.parametrize(("language", "width", "scheme"), LOOKS)
def test_a_review_is_recorded_and_every_page_looks_well(
    ward: Ward, twins: Pair, open_page: Open, language: str, width: int, scheme: str
) -> None:
    page = open_page("layla" if language == "ar" else "njeri", width=width, color_scheme=scheme)
    walk(page)

    expect(page.locator("html")).to_have_attribute("dir", "rtl" if language == "ar" else "ltr")
    assert ward.load(twins.id).reviews[0].state is ReviewState.attended


def test_the_first_visit_is_seen_without_scrolling_on_a_phone(twins: Pair, open_page: Open) -> None:
    page = open_page("njeri", width=PHONE, height=640)
    page.goto("/reviews")

    bottom = page.locator(".visits li").first.bounding_box()
    assert bottom is not None
    assert bottom["y"] + bottom["height"] <= 640


def test_a_review_is_recorded_by_keyboard_alone(ward: Ward, twins: Pair, open_page: Open) -> None:
    page = open_page("njeri")
    page.goto("/reviews")
    page.locator(".visits li", has_text="Wanjiku").locator("a.button").first.focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/review/*")
    page.locator("[name=b1_weight_g]").focus()
    page.keyboard.type("2900")
    page.keyboard.press("Tab")
    page.keyboard.press("ArrowRight")  # neck: round from 'not seen' to 'yes'
    assert page.locator("[name=b1_position_neck][value=yes]").is_checked()
    page.locator("[name=b1_weight_g]").focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/found")

    assert ward.load(twins.id).assessments[-1].weight_g == 2900


def test_the_printed_list_holds_what_the_day_needs_and_no_buttons(twins: Pair, open_page: Open) -> None:
    page = open_page("njeri")
    page.goto("/reviews")
    page.emulate_media(media="print")

    expect(page.get_by_text("Lakeside Hospital, 2026-03-05")).to_be_visible()
    expect(page.get_by_text("Destroy this list")).to_be_visible()
    expect(page.locator(".visits .box").first).to_be_visible()
    expect(page.locator("button:visible")).to_have_count(0)
    colours = page.evaluate(
        """() => [...document.querySelectorAll('main *')].filter(e => e.offsetParent !== null)
        .flatMap(e => [getComputedStyle(e).color, getComputedStyle(e).backgroundColor])"""
    )
    for colour in set(colours):
        red, green, blue = re.findall(r"\d+", colour)[:3]
        assert red == green == blue, colour

"""The manager's screens in a real browser: a schedule published from a phone, the report, staff."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from playwright.sync_api import Page, expect

from bot.content.factory import load_factory
from bot.steps.content import publish_factory
from bot.store import editions
from bot.store.viewer import Role
from tests.support.looks import LOOKS, PHONE, follow, looks_well, refused
from tests.support.ward import Ward

pytestmark = pytest.mark.browser

Open = Callable[..., Page]
PAGES = (
    "/schedule", "/schedule?pair=small", "/schedule/contacts/day-3", "/schedule/contacts/welcome",
    "/schedule/contacts/small-weekly", "/schedule/contacts/review-evening", "/schedule/settings",
    "/schedule/preview", "/schedule/preview?language=ar", "/schedule/publish", "/schedule/history", "/report",
    "/staff",
)  # fmt: skip


@pytest.fixture
def office(ward: Ward) -> Ward:
    publish_factory(ward.store, load_factory(), ward.now - timedelta(days=30))
    ward.add_staff("amara", "Amara", Role.manager, "lakeside", "coast")
    ward.add_staff("layla", "Layla", Role.manager, "lakeside", "coast", language="ar")
    for name in ("Amina", "Wanjiku", "Zawadi"):
        ward.writes(ward.enrol(name), "baby very hot and won't wake", before=timedelta(hours=2))
    return ward


def change_day_3(page: Page) -> None:
    page.goto("/schedule/contacts/day-3")
    page.locator("[name=clock][value=at]").check()
    page.fill("#at", "14:00")
    page.locator("button.main").click()
    page.wait_for_url("**/schedule#c-day-3")


@pytest.mark.parametrize(("language", "width", "scheme"), LOOKS)
def test_every_page_looks_well_with_a_draft(
    office: Ward, open_page: Open, language: str, width: int, scheme: str
) -> None:
    page = open_page("layla" if language == "ar" else "amara", width=width, color_scheme=scheme)
    change_day_3(page)
    for address in PAGES:
        page.goto(address)
        looks_well(page)


def test_a_schedule_is_changed_and_published_from_a_phone(office: Ward, open_page: Open) -> None:
    page = open_page("amara", width=PHONE)
    change_day_3(page)
    expect(page.locator(".mark.old")).to_have_count(1)
    expect(page.locator(".mark.new")).to_have_count(1)
    follow(page, page.get_by_role("link", name="Look at it before publishing"))
    with refused(page):
        page.get_by_role("button", name="Publish; in force from").click()
    expect(page.get_by_role("alert")).to_contain_text("Say in a few words why")
    looks_well(page)
    page.fill("#why", "Staff come at two.")
    page.get_by_role("button", name="Publish; in force from").click()
    expect(page.get_by_role("status")).to_contain_text("Edition 2 is published.")
    looks_well(page)

    with office.store.read() as conn:
        newest = editions.newest(conn, "schedule", "standard")
    assert newest is not None
    assert newest.why == "Staff come at two."


def test_old_and_new_differ_by_more_than_colour(office: Ward, open_page: Open) -> None:
    page = open_page("amara")
    change_day_3(page)
    fills = page.evaluate(
        """() => ['old', 'new'].map(ink =>
            getComputedStyle(document.querySelector(`.mark.${ink} circle`)).fill)"""
    )
    paper = page.evaluate("getComputedStyle(document.body.parentElement).backgroundColor")

    assert fills[0] == paper  # the old one is an outline on paper
    assert fills[1] != paper


def test_the_picture_is_mirrored_for_a_script_from_right_to_left(office: Ward, open_page: Open) -> None:
    def first_and_last_day(login: str) -> tuple[float, float]:
        page = open_page(login)
        page.goto("/schedule")
        ticks = page.locator(".panels svg").first.locator(".tick")
        days = {tick.text_content(): tick.bounding_box() for tick in ticks.all()}
        day_0, day_8 = days["0"], days["8"]
        assert day_0 is not None
        assert day_8 is not None
        return day_0["x"], day_8["x"]

    left, right = first_and_last_day("amara")
    assert left < right
    left, right = first_and_last_day("layla")
    assert left > right


def test_pages_stay_small(office: Ward, open_page: Open) -> None:
    """Later pages under 30 kB on the wire; gzip of a proxy would only make them smaller."""
    page = open_page("amara")
    change_day_3(page)
    for address in PAGES:
        answer = page.goto(address)
        assert answer is not None
        assert len(answer.body()) < 30_000, address

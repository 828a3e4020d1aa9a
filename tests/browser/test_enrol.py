"""Enrolling at the bedside in a real browser: a phone in one hand, a lost connection, two scripts."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from bot.content.factory import load_factory
from bot.core.follow.events import ConfirmPhone
from bot.store.accounts import account_by_id
from bot.store.views_ward import ward_list
from tests.browser.test_counsellor import no_sideways_scrolling, no_violations, small_targets
from tests.support.bedside import demo_app
from tests.support.ward import PASSWORD, Ward

pytestmark = pytest.mark.browser

Open = Callable[..., Page]
PHONE = {"width": 360, "height": 740}


@pytest.fixture
def ward(ward: Ward) -> Ward:
    """The same ward as a demo, in which numbers reserved for fiction may be enrolled."""
    app = demo_app(ward)
    ward.app = lambda: app  # type: ignore[method-assign]
    return ward


def fill_in(page: Page, **changes: str) -> None:
    texts = {
        "mother.name": "Amina Wanjiru",
        "mother.phone": "+44 7700 900555",
        "babies.0.born_at.day": "2026-03-04",
        "babies.0.born_at.hour": "03:20",
        "babies.0.birth_weight_g": "3100",
        "babies.0.gestation_weeks": "38+3",
    } | {name.replace("__", "."): value for name, value in changes.items()}
    for name, value in texts.items():
        page.fill(f"[name='{name}']", value)
    for name, value in (("mother.phone_shared", "no"), ("mother.language", "en"), ("babies.0.sex", "female")):
        page.check(f"[name='{name}'][value='{value}']")
    for name in ("texts", "calls"):
        page.check(f"[name='consent'][value='{name}']")


def save(page: Page) -> None:
    page.locator("button.main").click()


def test_from_the_empty_form_to_her_answer(ward: Ward, open_page: Open) -> None:
    page = open_page("njeri", **PHONE)
    page.get_by_role("link", name="Ward").click()
    page.get_by_role("link", name="Enrol a pair").click()
    save(page)
    faults = page.get_by_role("alert")
    expect(faults.get_by_role("link")).to_have_count(8)
    expect(faults).to_be_in_viewport()
    faults.get_by_role("link", name="Her name").click()
    expect(page.locator("[id='mother.name']")).to_be_in_viewport()
    fill_in(page, babies__0__birth_weight_g="1400")
    save(page)
    page.get_by_label("Birth weight: is under 1500 g").check()
    save(page)
    expect(page.get_by_role("heading", level=1)).to_contain_text("Amina Wanjiru")
    expect(page.locator("#practice")).to_contain_text("Help her to answer with 1")
    with ward.store.read() as conn:
        account = account_by_id(conn, ward.staff["njeri"])
        assert account is not None
        (found,) = ward_list(conn, account.viewer, ward.now)
    ward.acts("njeri", found.pair, ConfirmPhone())
    expect(page.locator("#practice")).to_contain_text("She has answered", timeout=8000)


def test_nothing_typed_is_lost_when_the_connection_drops(browser: Browser, address: str) -> None:
    # Not by `open_page`: here the browser is right to complain.
    page = browser.new_context(base_url=address, viewport={"width": 360, "height": 740}).new_page()
    page.goto("/login")
    page.fill("#login", "njeri")
    page.fill("#password", PASSWORD)
    page.click("main button")
    page.goto("/enrol")
    fill_in(page)
    page.route("**/enrol", lambda route: route.abort("internetdisconnected"))
    with page.expect_event("requestfailed"):
        save(page)
    expect(page.locator("[id='mother.name']")).to_have_value("Amina Wanjiru")
    expect(page.locator("[name='babies.0.born_at.hour']")).to_have_value("03:20")
    page.unroute("**/enrol")
    save(page)
    expect(page.get_by_role("heading", level=1)).to_contain_text("Amina Wanjiru")
    page.context.close()


def test_twins_get_room_without_losing_what_stands_there(open_page: Open) -> None:
    page = open_page("njeri", **PHONE)
    page.goto("/enrol")
    fill_in(page)
    page.get_by_role("button", name="Add another baby").click()
    expect(page.get_by_role("heading", name="Baby 2")).to_be_visible()
    expect(page.locator("[name='babies.0.birth_weight_g']")).to_have_value("3100")
    page.get_by_role("button", name="Take the last baby out").click()
    expect(page.get_by_role("heading", name="Baby 2")).to_have_count(0)


@pytest.mark.parametrize(("login", "scheme"), [("njeri", "light"), ("njeri", "dark"), ("salma", "light")])
def test_form_faults_and_list_can_be_used_by_everybody(open_page: Open, login: str, scheme: str) -> None:
    page = open_page(login, **PHONE, color_scheme=scheme)
    page.goto("/enrol")
    for _ in range(2):  # as it is, and with its faults
        no_violations(page)
        no_sideways_scrolling(page)
        assert small_targets(page) == []
        save(page)
        page.wait_for_selector(".faults")
    for address in ("/ward", "/slips"):
        page.goto(address)
        no_violations(page)
        no_sideways_scrolling(page)


def test_the_waiting_page_and_the_list_can_be_used_by_everybody(open_page: Open) -> None:
    page = open_page("njeri", **PHONE)
    page.goto("/enrol")
    fill_in(page)
    save(page)
    page.wait_for_selector("#practice")
    for address in (page.url, "/ward", page.url.replace("/practice", "/slip")):
        page.goto(address)
        no_violations(page)
        no_sideways_scrolling(page)
        assert small_targets(page) == []


def test_in_arabic_no_english_is_left_on_form_and_list(open_page: Open) -> None:
    page = open_page("salma", **PHONE)
    for address in ("/enrol", "/ward"):
        page.goto(address)
        assert page.evaluate("document.documentElement.dir") == "rtl"
        said = page.locator("main").inner_text()
        for language in load_factory().languages.values():  # each by its own name
            said = re.sub(re.escape(language.name), "", said, flags=re.IGNORECASE)
        words = set(re.findall(r"[A-Za-z]{3,}", said))
        assert words == set()


def pages_of(pdf: Path) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", pdf.read_bytes()))


@pytest.mark.parametrize("language", ["en", "ar"])
def test_the_slip_is_one_sheet_in_every_language(open_page: Open, tmp_path: Path, language: str) -> None:
    page = open_page("njeri")
    page.goto(f"/slips/lakeside/{language}")
    page.pdf(path=tmp_path / "blank.pdf", prefer_css_page_size=True)
    assert pages_of(tmp_path / "blank.pdf") == 1
    page.goto("/enrol")
    fill_in(page)
    page.fill("[name='babies.0.name']", "Nia Grace Wairimu")
    page.check(f"[name='mother.language'][value='{language}']")
    save(page)
    page.wait_for_selector("#practice")
    page.goto(page.url.replace("/practice", "/slip?names=1"))
    page.pdf(path=tmp_path / "hers.pdf", prefer_css_page_size=True)
    assert pages_of(tmp_path / "hers.pdf") == 1
    page.emulate_media(media="print")
    expect(page.locator("header.head")).to_be_hidden()
    expect(page.get_by_text("Print this page")).to_be_hidden()


@pytest.mark.parametrize("language", ["en", "ar"])
def test_the_slip_is_printed_in_greys(open_page: Open, language: str) -> None:
    page = open_page("njeri", color_scheme="dark")
    page.goto(f"/slips/lakeside/{language}")
    page.emulate_media(media="print", color_scheme="dark")
    coloured = page.evaluate(
        """() => [...document.querySelectorAll('.slip, .slip *')].flatMap(e => {
          const s = getComputedStyle(e);
          return [s.color, s.backgroundColor, s.borderTopColor, s.fill, s.stroke]
            .map(c => c.match(/^rgba?\\((\\d+), (\\d+), (\\d+)/))
            .filter(m => m && (m[1] != m[2] || m[2] != m[3]))
            .map(m => e.tagName + ' ' + m[0]);
        })"""
    )
    assert coloured == []

"""A counsellor's day in a real browser: on a phone and a ward computer, by day and night, in two scripts."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, Request, expect

from bot.core.follow.events import Tried
from bot.core.pair import Pair
from bot.core.states import EscalationState, Urgency
from tests.support.ward import Ward

pytestmark = pytest.mark.browser

Open = Callable[..., Page]
STANDARDS = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}
MINUTES = timedelta(minutes=1)


@pytest.fixture
def amina(ward: Ward) -> Pair:
    """A pair with a danger, a story of three days, and mothers of every other urgency beside her."""
    pair = ward.enrol("Amina")
    ward.texts(pair, "How many times did the baby feed in the last day and night?", before=50 * 60 * MINUTES)
    ward.writes(pair, "9 times", asking=["feeds"], before=49 * 60 * MINUTES)
    ward.writes(pair, "only 5 and it hurts", asking=["feeds"], before=25 * 60 * MINUTES)
    ward.writes(ward.enrol("Halima", phone_shared=True), "please call me", before=30 * MINUTES)
    ward.writes(ward.enrol("Wanjiku"), "feeds 6", asking=["feeds"], before=60 * MINUTES)
    layla = ward.enrol("Layla", code="coast", language="ar")
    ward.writes(layla, "حرارتها عالية ولا تريد الرضاعة", before=6 * MINUTES)
    return ward.writes(pair, "she is very hot and will not wake up", before=3 * MINUTES)


def no_violations(page: Page) -> None:
    """Ask axe for everything that WCAG 2.2 A and AA can be checked for by a program."""
    found = Axe().run(page, options=STANDARDS).response["violations"]
    told = [(fault["id"], [node["target"] for node in fault["nodes"]][:3]) for fault in found]
    assert told == []


def no_sideways_scrolling(page: Page) -> None:
    wide, seen = page.evaluate("[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
    assert wide <= seen


def small_targets(page: Page) -> list[str]:
    """What can be pressed but is under 44 px in both directions; links inside a sentence are exempt."""
    small: list[str] = page.evaluate(
        """() => [...document.querySelectorAll('button, .button, .pick, select, summary, nav a, .who a')]
        .filter(e => e.offsetParent !== null)
        .filter(e => e.getBoundingClientRect().height < (e.closest('.who') ? 24 : 43.5))
        .map(e => e.outerHTML.slice(0, 80))"""
    )
    return small


def test_from_sign_in_to_a_closed_item(ward: Ward, amina: Pair, open_page: Open) -> None:
    page = open_page("njeri", width=360, height=740)
    first = page.locator(".entry").first
    expect(first).to_contain_text("Go now")
    expect(first).to_contain_text("she is very hot and will not wake up")
    first.get_by_role("button", name="Take Amina").click()
    expect(page.locator("#said")).to_contain_text("Yours now: Amina")
    page.locator(".entry").first.get_by_role("link", name="Open").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Amina")
    expect(page.locator('.reach a[href^="tel:"]')).to_be_in_viewport()
    expect(page.locator(".first")).to_be_in_viewport()

    page.get_by_text("Say first: go to the hospital now").first.click()
    page.fill("[id='q.0.feeds']", "3")
    page.get_by_text("Hard to wake, floppy, hardly moves").first.click()
    page.get_by_role("button", name="Store what she said").click()
    expect(page.locator("#said")).to_contain_text("Stored and judged")
    expect(page.locator("#why")).to_contain_text("3 feeds or fewer")
    # What was ticked before is still there: only what changed was loaded anew.
    expect(page.locator('input[value="danger-baby.go"]')).to_be_checked()

    page.get_by_text("On the way to hospital", exact=True).click()
    page.get_by_role("group", name="How the danger ended").get_by_label("Admitted").check()
    page.fill("#note", "Her sister drives them")
    page.get_by_role("button", name="Close with what was found").click()
    expect(page.locator("#said")).to_contain_text("Closed. Who is still in hospital?")
    closed = ward.load(amina.id).escalations[-1]
    assert closed.state is EscalationState.closed
    assert closed.disposition == "on_the_way"
    assert closed.note is not None
    assert "Her sister drives them" in closed.note
    assert "Say first: go to the hospital now" in closed.note


def test_the_inbox_shows_what_is_new_by_itself(ward: Ward, amina: Pair, open_page: Open) -> None:
    page = open_page("njeri")
    expect(page.locator(".entry")).to_have_count(3)
    ward.writes(ward.enrol("Rehema"), "the baby died")
    expect(page.locator(".entry")).to_have_count(4, timeout=15_000)


def test_everything_works_without_javascript(ward: Ward, amina: Pair, open_page: Open) -> None:
    page = open_page("njeri", java_script_enabled=False)
    page.get_by_role("button", name="Take Amina").click()
    page.get_by_role("link", name="Amina").click()
    page.fill("[id='q.0.wet_nappies']", "1")
    page.get_by_role("button", name="Store what she said").click()
    assert "Stored and judged" in page.content()
    page.fill("#text", "I call you at nine.")
    page.get_by_role("button", name="What does it cost?").click()
    assert "1 part is paid for" in page.content()
    assert page.input_value("#text") == "I call you at nine."
    item = ward.load(amina.id).open_escalation
    assert item is not None
    assert item.urgency is Urgency.go_now
    assert item.spoken_at is not None


def test_an_item_is_worked_by_keyboard_alone(ward: Ward, amina: Pair, open_page: Open) -> None:
    page = open_page("njeri")
    page.keyboard.press("Tab")
    expect(page.locator(".skip")).to_be_focused()
    page.keyboard.press("Enter")
    take = page.get_by_role("button", name="Take Amina")
    for _ in range(20):
        page.keyboard.press("Tab")
        if take.evaluate("e => e === document.activeElement"):
            break
    expect(take).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("#said")).to_contain_text("Yours now: Amina")
    item = ward.load(amina.id).open_escalation
    assert item is not None
    assert item.taken_by == ward.staff["njeri"]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 1280])
def test_pages_are_accessible_and_fit(
    ward: Ward, amina: Pair, open_page: Open, scheme: str, width: int
) -> None:
    ward.acts("njeri", ward.enrol("Zawadi"), *[Tried("call", "no_answer")] * 3)
    page = open_page(width=width, color_scheme=scheme)
    no_violations(page)
    page = open_page("njeri", width=width, color_scheme=scheme)
    for address in ("/inbox", "/inbox?show=mine", "/chase", f"/pairs/{amina.id}"):
        page.goto(address)
        for summary in page.locator("details > summary").all():
            summary.click()
        no_violations(page)
        no_sideways_scrolling(page)
        assert small_targets(page) == []


@pytest.mark.parametrize("width", [360, 1280])
def test_arabic_pages_are_mirrored_and_accessible(
    ward: Ward, amina: Pair, open_page: Open, width: int
) -> None:
    page = open_page("salma", width=width)
    expect(page.locator("html")).to_have_attribute("dir", "rtl")
    expect(page.locator(".entry .urgency")).to_have_text("اذهبي الآن")
    no_violations(page)
    no_sideways_scrolling(page)
    when = page.locator(".entry .when").bounding_box()
    what = page.locator(".entry .what").bounding_box()
    assert when is not None
    assert what is not None
    assert when["x"] > what["x"]  # the margin stands on the right
    page.get_by_role("link", name="Layla").click()
    expect(page.locator("blockquote mark").first).to_be_visible()
    no_violations(page)
    no_sideways_scrolling(page)


def test_the_first_load_and_later_pages_are_light(amina: Pair, open_page: Open) -> None:
    page = open_page()
    weights: dict[str, int] = {}

    def weigh(asked: Request) -> None:
        answer = asked.response()
        if answer is not None and answer.ok:
            weights[asked.url] = len(answer.body())

    page.on("requestfinished", weigh)
    page.goto("/login")
    page.wait_for_load_state("networkidle")
    assert 0 < sum(weights.values()) < 100_000
    page.fill("#login", "njeri")
    page.fill("#password", "three invented words")
    for address in ("/inbox", f"/pairs/{amina.id}"):
        if address == "/inbox":
            page.click("main button")
        weights.clear()
        page.goto(address)
        page.wait_for_load_state("networkidle")
        assert 0 < sum(size for url, size in weights.items() if "/static/" not in url) < 60_000

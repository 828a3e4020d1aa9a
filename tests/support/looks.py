"""What every page is looked at for in a real browser: faults of access, sideways scrolling, small targets."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Locator, Page, Route

STANDARDS = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}
PHONE = 360

# A phone by day, a ward computer by night, and a phone by night whose screens run from right to left.
LOOKS = [("en", PHONE, "light"), ("en", 1280, "dark"), ("ar", PHONE, "dark")]


def looks_well(page: Page) -> None:
    """Assert what WCAG 2.2 A and AA can be checked for by a program, that nothing scrolls sideways, and that
    whatever is pressed is at least 44 px high. A click before it must have been waited for: see `follow`."""
    page.wait_for_load_state()
    found = Axe().run(page, options=STANDARDS).response["violations"]
    assert [(fault["id"], [node["target"] for node in fault["nodes"]][:3]) for fault in found] == []
    wide, seen = page.evaluate("[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
    assert wide <= seen
    small = page.evaluate(
        """() => [...document.querySelectorAll('button, .button, .pick, select, input, summary, nav a')]
        .filter(e => e.offsetParent !== null && !e.closest('.pick input') && e.type !== 'hidden')
        .filter(e => !e.matches('.pick input') && e.getBoundingClientRect().height < 43.5)
        .map(e => e.outerHTML.slice(0, 80))"""
    )
    assert small == []


def follow(page: Page, link: Locator) -> None:
    """Press what leads to another page and wait until that page is there; a bare click doesn't wait."""
    with page.expect_navigation():
        link.click()


@contextmanager
def refused(page: Page) -> Iterator[None]:
    """Send a form that must be refused with 422, and show the page that says so.

    The browser writes every such status to its console, where the tests allow no word: it gets the same page
    with 200, after the status was asserted here.
    """
    found: list[int] = []

    def show(route: Route) -> None:
        if route.request.method != "POST":
            route.fallback()
            return
        answer = route.fetch(max_redirects=0)
        found.append(answer.status)
        route.fulfill(response=answer, status=200 if answer.status == 422 else answer.status)

    page.route("**/*", show)
    yield
    page.wait_for_selector("[role=alert]")
    page.unroute("**/*", show)
    assert found == [422]

"""The five-minute walk as a newcomer takes it: one command, then from the bedside to the review in a browser.

Everything is real but the network behind the stand-in: three processes on 127.0.0.1, from an empty folder.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from tests.browser.test_counsellor import STANDARDS, no_sideways_scrolling, small_targets
from tests.support.demo import running_demo

pytestmark = pytest.mark.browser

PATIENT_MS = 30_000  # the clock may have a day to live through


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    folder: Path = tmp_path_factory.mktemp("walk") / "demo"
    with running_demo(folder) as address:
        yield address


@pytest.fixture
def page(browser: Browser, demo: str) -> Iterator[Page]:
    """A page of a newcomer. A word in the console or a call to another host fails the test."""
    faults: list[str] = []
    context = browser.new_context(base_url=demo, viewport={"width": 1280, "height": 900}, locale="en")
    page = context.new_page()
    page.set_default_timeout(PATIENT_MS)
    expect.set_options(timeout=PATIENT_MS)
    page.on("console", lambda said: faults.append(said.text) if said.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on(
        "request",
        lambda asked: None if urlsplit(asked.url).hostname == "127.0.0.1" else faults.append(asked.url),
    )
    yield page
    context.close()
    expect.set_options(timeout=5_000)
    assert faults == []


def programme_now(page: Page) -> datetime:
    return datetime.fromisoformat(page.locator(".demo-time time").get_attribute("datetime") or "")


def newest(page: Page) -> str:
    return page.locator(".screen li.to-her").last.inner_text()


def she_writes(page: Page, text: str, answer: str) -> None:
    """Write on the open phone, and wait until the program's answer holds `answer`."""
    page.get_by_label("Answer for her").fill(text)
    page.get_by_role("button", name="Send").click()
    expect(page.locator(".screen li.to-her").last).to_contain_text(answer)


def move(page: Page, button: str) -> None:
    page.get_by_role("button", name=button).click()
    expect(page.locator("#demo-clock")).not_to_contain_text("The clock is moving")


def to_her_next_text(page: Page, words: str) -> None:
    """Press the button until a text with these words has come."""
    for _ in range(6):
        move(page, "Her next text")
        if words in newest(page):
            return
    raise AssertionError(f"no text with {words!r} came; the last one is {newest(page)!r}")


def enrol_amani(page: Page) -> None:
    page.get_by_role("link", name="Ward").click()
    page.get_by_role("link", name="Enrol a pair").click()
    page.get_by_label("Reedlake Maternity").check()
    born = programme_now(page) - timedelta(days=1)
    for name, value in {
        "mother.name": "Nadia Wafula",
        "mother.phone": "07700 900555",
        "babies.0.name": "Amani",
        "babies.0.born_at.day": born.date().isoformat(),
        "babies.0.born_at.hour": "05:20",
        "babies.0.birth_weight_g": "3200",
        "babies.0.gestation_weeks": "39",
    }.items():
        page.fill(f"[name='{name}']", value)
    chosen = {"mother.phone_shared": "no", "mother.language": "en", "babies.0.sex": "male"}
    for name, value in chosen.items():
        page.check(f"[name='{name}'][value='{value}']")
    for value in ("texts", "calls"):
        page.check(f"[name='consent'][value='{value}']")
    page.get_by_role("button", name="Save and send the practice text").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Nadia Wafula is enrolled")


def test_from_the_bedside_to_the_review(page: Page) -> None:
    page.goto("/")
    page.get_by_role("button", name="Sign in as Ruth Achieng").click()
    expect(page.locator(".entry").first).to_contain_text("Go now")

    # At the bedside she tries her phone.
    enrol_amani(page)
    page.get_by_role("link", name="Her phone").click()
    expect(page.locator(".screen li.to-her").last).to_contain_text("reply with the number 1")
    she_writes(page, "1", "To end the texts, reply STOP")

    # Day 2: she answers, then names a danger.
    to_her_next_text(page, "worried")
    she_writes(page, "0", "how many feeds")
    she_writes(page, "9", "how many wet nappies")
    she_writes(page, "he is hot and will not wake", "Go now to Reedlake Hospital")

    # The counsellor takes it, calls, writes down what she says, closes.
    page.get_by_role("link", name="Staff pages").click()
    hers = page.locator(".entry", has_text="Nadia Wafula")
    expect(hers).to_contain_text("Go now")
    expect(hers).to_contain_text("he is hot and will not wake")
    hers.get_by_role("button", name="Take").click()
    page.locator(".entry", has_text="Nadia Wafula").get_by_role("link", name="Open").click()
    expect(page.get_by_text("Say first: go to the hospital now, day or night.").first).to_be_visible()
    page.get_by_label("Feeds", exact=True).fill("4")
    page.get_by_label("Wet nappies", exact=True).fill("2")
    page.get_by_role("group", name="Danger signs of the baby").get_by_label("Hot, fever").check()
    page.get_by_role("button", name="Store what she said").click()
    expect(page.locator("#said")).to_contain_text("Stored and judged")
    page.get_by_label("On the way to hospital").check()
    page.get_by_role("group", name="How the danger ended").get_by_label("Admitted").check()
    page.get_by_role("button", name="Close with what was found").click()
    expect(page.locator("#said")).to_contain_text("Closed")
    expect(page.locator(".entry", has_text="Nadia Wafula")).to_have_count(0)

    # The next day they come to the review; the latch is not good, so another one is booked.
    move(page, "+1 day")
    page.get_by_role("link", name="Reviews").click()
    page.get_by_role("link", name="Reedlake Maternity").click()
    page.get_by_role("link", name="Came: Nadia Wafula").click()
    page.get_by_label("Weight today, in grams").fill("2990")
    page.get_by_role("group", name="Lower lip turned out").get_by_text("no", exact=True).click()
    page.get_by_role("button", name="Save: they came").click()
    main = page.locator("main")
    expect(main).to_contain_text("210 g less than at birth")
    expect(main).to_contain_text("not well attached")
    page.get_by_role("link", name="Her phone").click()
    expect(page.locator(".screen li.to-her").last).to_contain_text("Reedlake Maternity")


def test_an_arabic_mother_answers_in_arabic(page: Page) -> None:
    page.goto("/demo/phones")
    page.get_by_role("link", name="مريم الخولي").click()
    expect(page.locator(".glass")).to_have_attribute("dir", "rtl")
    to_her_next_text(page, "قلق")  # the day's first question: is anything worrying you?
    she_writes(page, "لا", "رضع")
    she_writes(page, "٩ مرات", "حفاض")
    she_writes(page, "حرارته عالية وما يصحى", "Jasmine Gate Hospital")


def test_the_network_can_be_broken_and_mended(page: Page) -> None:
    page.goto("/demo/network")
    page.get_by_role("button", name="Never report").click()
    expect(page.locator("main")).to_contain_text("Nothing is reported.")
    page.get_by_role("button", name="Back to good").click()
    expect(page.locator("main")).to_contain_text("The network works.")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("locale", ["en", "ar"])
def test_the_pages_of_the_demo_can_be_used_by_everybody(
    browser: Browser, demo: str, scheme: str, locale: str
) -> None:
    context = browser.new_context(
        base_url=demo,
        viewport={"width": 360, "height": 740},
        color_scheme=scheme,  # type: ignore[arg-type]
        locale=locale,
    )
    page = context.new_page()
    for address in ("/login", "/demo/phones", "/demo/phones/+447700900120", "/demo/network"):
        page.goto(address)
        found = Axe().run(page, options=STANDARDS).response["violations"]
        assert [(fault["id"], [node["target"] for node in fault["nodes"]][:3]) for fault in found] == []
        no_sideways_scrolling(page)
        assert small_targets(page) == []
    context.close()

"""Words and texts in a real browser: proposed on a phone by night, decided and read on a ward computer."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from bot.store.viewer import Role
from tests.browser.conftest import Open
from tests.support.looks import PHONE, follow, looks_well
from tests.support.ward import Ward

pytestmark = pytest.mark.browser


def test_a_word_goes_from_a_reply_to_the_lead_and_texts_stand_beside_the_english(
    ward: Ward, open_page: Open
) -> None:
    pair = ward.writes(ward.enrol("Zawadi", language="sw"), "6, ana kichwamoto", asking=["feeds"])
    ward.add_staff("huda", "Huda", Role.lead, "lakeside", language="ar")
    phone = open_page("njeri", width=PHONE, color_scheme="dark")
    phone.goto(f"/pairs/{pair.id}")
    looks_well(phone)
    follow(phone, phone.get_by_role("link", name="Propose words of hers for the reader"))
    looks_well(phone)
    phone.get_by_label("The words").fill("kichwamoto")
    phone.get_by_label("They mean").select_option("Hot, fever")
    follow(phone, phone.get_by_role("button", name="Propose"))
    expect(phone.get_by_text("Proposed. A lead looks at it")).to_be_visible()

    desk = open_page("huda", color_scheme="dark")
    desk.goto("/words")
    desk.locator("summary").first.click()
    looks_well(desk)
    for width in (PHONE, 1280):
        page = open_page("wairimu", width=width)
        page.goto("/texts?language=ur&show=cloth")
        page.locator("summary").first.click()
        looks_well(page)

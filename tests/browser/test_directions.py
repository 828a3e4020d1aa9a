"""Right-to-left texts as a real engine lays them out: every telephone number and every range reads from left
to right. An outside check of the marks: Chromium's own implementation of Unicode Standard Annex 9."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser

from bot.content.check_texts import sample_values
from bot.content.factory import load_factory
from bot.content.texts import is_right_to_left
from bot.core.segments import sendable

pytestmark = pytest.mark.browser

# '+447700900123' and '8:00-17:00': what a right-to-left line would turn around.
NUMBERS = re.compile(r"\+\d{9,}|\d+:\d\d-\d+:\d\d")
# Where each sign of a stretch stands, from left to right.
PLACES = """([n, from, to]) => {
  const text = document.getElementById('t' + n).firstChild
  return Array.from({length: to - from}, (_, i) => {
    const range = document.createRange()
    range.setStart(text, from + i)
    range.setEnd(text, from + i + 1)
    return range.getBoundingClientRect().left
  })
}"""


def test_numbers_in_right_to_left_texts_read_from_left_to_right(browser: Browser) -> None:
    texts = load_factory().texts
    languages = [tag for tag in texts.tags if is_right_to_left(tag)]
    assert languages == ["ar", "ur"]
    said = [
        sendable(texts.render(key, tag, sample_values(tag), neutral=neutral))
        for tag in languages
        for key in texts.keys
        for neutral in (False, True)
    ]
    marked = sorted({text for text in said if NUMBERS.search(text)})
    assert len(marked) > 150
    bare = "\u0627\u062a\u0635\u0644\u064a +447700900123"  # no mark: shows that this test can fail
    page = browser.new_page()
    lines = "".join(f'<p id="t{n}" dir="auto">{text}</p>' for n, text in enumerate([*marked, bare]))
    page.set_content(f"<style>p {{ white-space: nowrap }}</style>{lines}")
    turned = []
    for n, text in enumerate([*marked, bare]):
        for found in NUMBERS.finditer(text):
            places = page.evaluate(PLACES, [n, found.start(), found.end()])
            if places != sorted(places):
                turned.append(text)
    page.close()
    assert turned == [bare]

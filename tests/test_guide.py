"""The contributor guide tells the truth: its diagrams are current and what it names exists."""

from __future__ import annotations

import re

import pytest

from tests.support.diagrams import GUIDE, with_diagrams

ROOT = GUIDE.parent
_NAMED = re.compile(r"`((?:bot|tests|messages|locales|deploy)/[\w./*-]+)`")


def test_the_state_diagrams_are_those_of_the_tables() -> None:
    text = GUIDE.read_text("utf-8")
    assert with_diagrams(text) == text, "run: python -m tests.support.diagrams"


@pytest.mark.parametrize("page", ["DEVELOPERS.md", "README.md"])
def test_every_place_that_is_named_exists(page: str) -> None:
    text = (ROOT / page).read_text("utf-8")
    named = {match[1].rstrip("/") for match in _NAMED.finditer(text)}
    assert named, f"{page} names no place; the pattern may be out of step"
    placeholder = re.compile(r"\b(XX|TOPIC)")  # a recipe's own place to fill in
    missing = [each for each in sorted(named) if not placeholder.search(each) and not list(ROOT.glob(each))]
    assert not missing, f"{page} names what is not there: {missing}"

"""The corpus of replies, by totals: floors a little under what was reached on 25 November 2026.

Half b is never looked at line by line; it may only be measured.
"""

from __future__ import annotations

import pytest

from bot.content.factory import load_factory
from tests.corpus.report import measure

# Shares in percent, in the order of NAMES.
FLOORS = {
    ("en", "a"): (96, 97, 99.5, 100, 98),
    ("en", "b"): (92, 95, 99.5, 100, 96),
    ("ar", "a"): (95, 97, 99.5, 100, 98),
    ("ar", "b"): (84, 91, 98.5, 100, 84),
    ("am", "a"): (98, 98, 99.5, 100, 98),
    ("am", "b"): (96, 97, 99.5, 100, 98),
    ("bn", "a"): (98, 97, 99.5, 100, 98),
    ("bn", "b"): (97, 97, 99.5, 100, 98),
    ("es", "a"): (97, 96, 99.5, 100, 98),
    ("es", "b"): (96, 96, 99.5, 100, 98),
    ("fr", "a"): (98, 97, 99.5, 100, 98),
    ("fr", "b"): (96, 96, 99.5, 100, 96),
    ("ha", "a"): (97, 97, 99.5, 100, 98),
    ("ha", "b"): (95, 97, 99.5, 100, 98),
    ("hi", "a"): (97, 96, 99.5, 100, 98),
    ("hi", "b"): (97, 95, 99.5, 100, 98),
    ("pt", "a"): (98, 98, 99.5, 100, 98),
    ("pt", "b"): (95, 96, 99.5, 99, 95),
    ("en", "d"): (97, 97, 99.5, 100, 97),
    ("en", "e"): (95, 96, 99, 100, 95),
    ("en", "f"): (97, 98, 99.5, 100, 98),
    ("en", "g"): (95, 94, 99, 100, 97),
    ("en", "h"): (95, 93, 99, 100, 97),
    ("es", "d"): (98, 98, 99.5, 100, 98),
    ("es", "e"): (97, 95, 99, 100, 98),
    ("fr", "d"): (96, 96, 99.5, 100, 96),
    ("fr", "e"): (95, 95, 99, 100, 95),
    ("pt", "d"): (97, 96, 99.5, 100, 98),
    ("pt", "e"): (97, 95, 99, 100, 98),
    ("sw", "a"): (96, 94, 99.5, 100, 98),
    ("sw", "b"): (95, 96, 99.5, 100, 94),
    ("ur", "a"): (98, 98, 99.5, 100, 98),
    ("ur", "b"): (97, 97, 99.5, 100, 98),
}
NAMES = ("wholly right", "numbers exact", "not silently wrong", "danger reaches a person", "danger named")


@pytest.mark.parametrize(("language", "half"), FLOORS)
def test_the_reader_stays_as_good_as_it_was(language: str, half: str) -> None:
    reached = measure(f"{language}_{half}", dict(load_factory().lexicons))
    floors = dict(zip(NAMES, FLOORS[language, half], strict=True)) | {
        "opt-out heard": 100,
        "opt-out is one": 100,
    }
    shares = {name: 100 * reached.share(name) for name in floors}
    assert {name: share for name, share in shares.items() if share < floors[name]} == {}

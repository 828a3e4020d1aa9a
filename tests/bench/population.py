"""Invented pairs in any number, each with a phone of its own from the ranges that North America keeps for
fiction (555-0100 to 555-0199 in every area)."""

from __future__ import annotations

from dataclasses import replace

from bot.core.pair import Pair
from tests.support.pairs import a_baby, a_mother, a_pair, a_site, an_assessment, an_id

_MOST = 80_000


def phone(n: int) -> str:
    """Give the n-th number, E.164."""
    if not 0 <= n < _MOST:
        raise ValueError(f"there are {_MOST} numbers")
    return f"+1{200 + n // 100}55501{n % 100:02}"


def population(number: int) -> list[Pair]:
    """Give pairs that are followed by text from their discharge on."""
    site = a_site(region="GB")
    return [
        replace(
            a_pair(site=site, babies=(replace(a_baby(), id=an_id("baby", n)),)),
            id=an_id("pair", n),
            external_id=f"B-{n}",
            mother=a_mother(id=an_id("mother", n), phone=phone(n)),
            assessments=(replace(an_assessment(), id=an_id("seen", n)),),
        )
        for n in range(number)
    ]

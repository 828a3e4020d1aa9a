"""What was written down at discharge that changes what a mother is asked and how soon silence counts.

A ward writes risks as words; those that the program acts on have an id. Any other word is kept and shown
only.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

CAESAREAN: Final = "caesarean"
TEAR: Final = "tear"
HIGH_BLOOD_PRESSURE: Final = "high_blood_pressure"
HEAVY_BLEEDING: Final = "heavy_bleeding_at_birth"

RISKS: Final = (CAESAREAN, TEAR, HIGH_BLOOD_PRESSURE, HEAVY_BLEEDING)
WOUND: Final = frozenset({CAESAREAN, TEAR})

# Signs of a feeding assessment that count as a risk afterwards (common practice, no source).
POOR: Final = frozenset(
    {(f"attachment_{sign}", "no") for sign in ("chin", "mouth", "lower_lip", "areola")}
    | {("suckling", "not_effective"), ("suckling", "not_at_all")}
)


def known_risks(words: Iterable[str], birth_mode: str = "") -> frozenset[str]:
    """Give the ids of the risks that the program acts on.

    words       as the ward wrote them: an id, or its words with spaces or hyphens ('high blood pressure')
    birth_mode  of the enrolment: a caesarean is a wound
    """
    written = {re.sub(r"[\s_-]+", "_", word.strip().casefold()) for word in (*words, birth_mode)}
    return frozenset(risk for risk in RISKS if risk in written)

"""The WHO Child Growth Standards' weight-for-age: weight_for_age.csv comes in, a `Standard` goes out.

The table is no content of a programme: nobody edits it, so it stands beside this code. Days 0 to 366 of age.
"""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

from bot.core.growth import Point, Standard

_FILE = Path(__file__).with_name("weight_for_age.csv")


@cache
def weight_for_age() -> Standard:
    """Read the table; kilograms become grams."""
    with _FILE.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    return {
        sex: tuple(
            Point(float(row[f"{sex}_l"]), 1000 * float(row[f"{sex}_m"]), float(row[f"{sex}_s"]))
            for row in rows
        )
        for sex in ("female", "male")
    }

"""What a run counts: whole numbers under tuples of words, so that the order of adding up changes nothing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any

Key = tuple[str | int, ...]


class Tally:
    """Counts of one batch or of all. `n[("texts", "en")]` are the texts sent in English."""

    __slots__ = ("arrivals", "n")

    def __init__(self) -> None:
        self.n: Counter[Key] = Counter()
        self.arrivals: Counter[tuple[int, int]] = Counter()  # (minute of the run, urgency) -> items

    def add(self, other: Tally) -> None:
        self.n.update(other.n)
        self.arrivals.update(other.arrivals)

    def under(self, name: str) -> Mapping[Any, int]:
        """The counts of one name with one word more, by that word."""
        return {key[1]: count for key, count in self.n.items() if key[0] == name and len(key) == 2}

    def total(self, name: str) -> int:
        return sum(count for key, count in self.n.items() if key[0] == name)

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
        # (minute of the run, urgency, whether who is on call spoke to her) -> calls
        self.arrivals: Counter[tuple[int, int, bool]] = Counter()

    def add(self, other: Tally) -> None:
        self.n.update(other.n)
        self.arrivals.update(other.arrivals)

    def calls(self, *, woken: bool) -> Counter[tuple[int, int]]:
        """(minute of the run, urgency) -> calls that are left to the counsellors; with `woken`, of all."""
        found: Counter[tuple[int, int]] = Counter()
        for (minute, urgency, was_woken), count in self.arrivals.items():
            if woken or not was_woken:
                found[minute, urgency] += count
        return found

    def under(self, *names: str) -> Mapping[Any, int]:
        """The counts of these words with one more, by that word."""
        length = len(names)
        return {
            key[length]: count
            for key, count in self.n.items()
            if len(key) == length + 1 and key[:length] == names
        }

    def total(self, name: str) -> int:
        return sum(count for key, count in self.n.items() if key[0] == name)

"""Draws from a generator that is passed in; the same generator gives the same draws on every machine."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from itertools import accumulate
from math import log
from random import Random
from typing import Generic, TypeVar

T = TypeVar("T")


class Weighted(Generic[T]):
    """Things with weights against each other, in their order."""

    __slots__ = ("_things", "_upto")

    def __init__(self, weights: Mapping[T, float]) -> None:
        self._things = tuple(weights)
        self._upto = tuple(accumulate(weights.values()))

    def draw(self, random: Random) -> T:
        return self._things[
            bisect_right(self._upto, random.random() * self._upto[-1], hi=len(self._upto) - 1)
        ]


def pick(random: Random, things: Sequence[T]) -> T:
    return things[int(random.random() * len(things))]


def exponential(random: Random, mean: float) -> float:
    return -mean * log(1.0 - random.random())


def between(random: Random, low: float, high: float) -> float:
    return low + (high - low) * random.random()


def whole(random: Random, low: int, high: int) -> int:
    """A whole number from `low` to `high`, both included."""
    return low + int(random.random() * (high - low + 1))

"""Outcomes of one run or of two come in, the lines a person reads in a terminal go out."""

from __future__ import annotations

from collections.abc import Sequence

from bot.cohort.outcome import Outcome


def summary(outcomes: Sequence[Outcome]) -> list[str]:
    return []

"""Are we reaching them, and in time? Counts of sites come in, measures with their denominators go out.

Every measure says of how many it is a share. A share is given in per cent from ten on: below that the two
numbers say more. No source for that limit but common practice.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

PERCENT_FROM = 10


class Part(StrEnum):
    """The questions that a report answers, in order."""

    enrolment = "enrolment"
    check_ins = "check_ins"
    texts = "texts"
    in_time = "in_time"
    reviews = "reviews"
    endings = "endings"


@dataclass(frozen=True, slots=True)
class Measure:
    """`key` counts things that are among those that `of` counts; `of` is '' where it is a count alone."""

    key: str
    part: Part
    of: str = ""


URGENCIES = ("go_now", "same_day", "routine")
# What became of an escalation. `due` are those whose time has come: all but `pending`.
OUTCOMES = ("in_time", "late", "closed_unspoken", "overdue", "pending")


def _of_urgency(urgency: str) -> tuple[Measure, ...]:
    """How many were raised, how many of them are not due yet, and what became of the others."""
    due = (Measure(f"{urgency}_{outcome}", Part.in_time, f"{urgency}_due") for outcome in OUTCOMES[:-1])
    raised = f"{urgency}_all"
    return (Measure(raised, Part.in_time), Measure(f"{urgency}_pending", Part.in_time, raised), *due)


MEASURES: tuple[Measure, ...] = (
    Measure("enrolled", Part.enrolment),
    Measure("by_text", Part.enrolment, "enrolled"),
    Measure("verified", Part.enrolment, "by_text"),
    Measure("asked", Part.check_ins),
    Measure("answered", Part.check_ins, "asked"),
    Measure("partly", Part.check_ins, "asked"),
    Measure("silent", Part.check_ins, "asked"),
    Measure("texts", Part.texts),
    Measure("delivered", Part.texts, "texts"),
    Measure("undelivered", Part.texts, "texts"),
    Measure("no_report", Part.texts, "texts"),
    *(measure for urgency in URGENCIES for measure in _of_urgency(urgency)),
    Measure("reviews", Part.reviews),
    Measure("attended", Part.reviews, "reviews"),
    Measure("missed", Part.reviews, "reviews"),
    Measure("still_expected", Part.reviews, "reviews"),
    Measure("stopped", Part.endings, "texted_pairs"),
    Measure("closed", Part.endings),
)


@dataclass(frozen=True, slots=True)
class SiteCounts:
    """What was counted at one site: `counts` by key, `closed` by reason."""

    code: str
    name: str
    counts: Mapping[str, int]
    closed: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class Line:
    """A measure with its numbers; `of` is None for a count alone."""

    measure: Measure
    n: int
    of: int | None

    @property
    def percent(self) -> int | None:
        """The share, rounded; None for a count alone and for shares of few."""
        return percent(self.n, self.of)


def percent(n: int, of: int | None) -> int | None:
    """Give n of `of` in whole per cent, None where `of` is too small for one. Halves are rounded up, but 100
    is said of all alone, and 0 of none."""
    if of is None or of < PERCENT_FROM:
        return None
    rounded = (200 * n + of) // (2 * of)
    return rounded if n in (0, of) else min(max(rounded, 1), 99)


def lines(counts: SiteCounts) -> list[Line]:
    """Give every measure, and after the closed ones each reason as a share of them."""
    full = {**_derived(counts.counts), "closed": sum(counts.closed.values())}
    found = [
        Line(each, full.get(each.key, 0), full.get(each.of, 0) if each.of else None) for each in MEASURES
    ]
    reasons = [
        Line(Measure(f"closed_{reason}", Part.endings, "closed"), n, full["closed"])
        for reason, n in sorted(counts.closed.items(), key=lambda item: (-item[1], item[0]))
    ]
    return found + reasons


def total(sites: Iterable[SiteCounts], name: str = "") -> SiteCounts:
    """Add up sites."""
    counts: Counter[str] = Counter()
    closed: Counter[str] = Counter()
    for site in sites:
        counts.update(site.counts)
        closed.update(site.closed)
    return SiteCounts("", name, counts, closed)


def numbers(counts: SiteCounts) -> Mapping[str, int]:
    """Give every count by its key, those that others are shares of included; what was not counted is 0."""
    full = _derived(counts.counts)
    keys = [key for each in MEASURES for key in (each.key, each.of) if key]
    return {key: full.get(key, 0) for key in [*keys, *full]} | {"closed": sum(counts.closed.values())}


def _derived(counts: Mapping[str, int]) -> dict[str, int]:
    """Counts with those that are sums of others."""
    full = dict(counts)
    full["asked"] = sum(full.get(key, 0) for key in ("answered", "partly", "silent"))
    full["texts"] = sum(full.get(key, 0) for key in ("delivered", "undelivered", "no_report"))
    full["reviews"] = sum(full.get(key, 0) for key in ("attended", "missed", "still_expected"))
    for urgency in URGENCIES:
        of_each = [full.get(f"{urgency}_{outcome}", 0) for outcome in OUTCOMES]
        full[f"{urgency}_due"] = sum(of_each[:-1])
        full[f"{urgency}_all"] = sum(of_each)
    for outcome in (*OUTCOMES, "due", "all"):
        full[outcome] = sum(full.get(f"{urgency}_{outcome}", 0) for urgency in URGENCIES)
    return full

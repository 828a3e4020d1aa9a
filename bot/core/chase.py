"""Whom texts do not reach, how they are tried otherwise, and who comes first: a pair comes in, plain values
go out. The transition in `follow/chase.py` puts pairs on the list and takes them off.

A failed call is one on which she herself was not spoken to. What stands here without a source is common
practice.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from bot.core.pair import Attempt, Pair
from bot.core.plan import latest_birth, poorly_attached, small_or_twin
from bot.core.states import ChaseState, Urgency

# Texts that do not arrive for so long put a pair on the list; calls that fail so often make it a visit.
UNDELIVERED_FOR = timedelta(hours=48)
FAILED_CALLS = 3
# Who stands on the list for so long without a try is shown to a person in the inbox.
LEFT_ALONE = timedelta(hours=48)
YOUNG = timedelta(days=7)

# Why a pair is on the list.
GROUNDS: Mapping[str, str] = {
    "no_phone": "There is no number that can be texted.",
    "opted_out": "She wants no texts.",
    "wrong_number": "The number is not hers.",
    "undelivered": "Texts do not reach her phone.",
    "calls_failed": "She did not answer three calls.",
    "by_hand": "A person put them on the list.",
}
# How they are tried, and what can come of it. A visit without a result is still to be made.
RESULTS: Mapping[str, tuple[str, ...]] = {
    "call": ("reached", "no_answer", "other_person", "wrong_number"),
    "second_contact": ("reached", "passed_on", "no_answer", "not_in_touch"),
    "visit": ("reached", "not_home", "moved", "not_made"),
}
# Why a person gives up. Only the first is refused while something is left to try.
GIVEN_UP: Mapping[str, str] = {
    "all_tried": "Everything was tried.",
    "no_way": "A visit can't be made: too far, or not safe.",
    "moved": "They moved, and nobody knows where to.",
    "refused": "The family wants no contact.",
}

# What makes it more urgent to reach them, gravest first.
RISKS: tuple[str, ...] = ("danger", "under_7_days", "small", "warned", "poor_attachment")


def risks_of(pair: Pair, occasions: Container[str], now: datetime) -> tuple[str, ...]:
    """Give which of RISKS hold, in that order.

    occasions  ids that are no clinical rule: what they raised is no warning about mother or baby
    """
    found = [f for item in pair.escalations for f in item.findings if f.withdrawn_by is None]
    clinical = [f for f in found if f.rule not in occasions and f.urgency >= Urgency.same_day]
    holds = {
        "danger": pair.open_episode is not None,
        "under_7_days": now - latest_birth(pair) < YOUNG,
        "small": small_or_twin(pair),
        "warned": bool(clinical) or bool(pair.episodes),
        "poor_attachment": poorly_attached(pair),
    }
    return tuple(risk for risk in RISKS if holds[risk])


@dataclass(frozen=True, slots=True)
class Place:
    """Where a pair stands on the list. `late`: a visit's day is over without a result."""

    pair: Pair
    risks: tuple[str, ...]
    left: tuple[str, ...]
    late: bool


def ranked(pairs: Iterable[Pair], occasions: Container[str], now: datetime) -> list[Place]:
    """Give those on the list, whom to reach first: an open danger, then who has more risks, then who has the
    graver ones, then who stands there longest."""
    places = [
        Place(pair, risks_of(pair, occasions, now), left_to_try(pair), is_late(pair, now))
        for pair in pairs
        if pair.open_chase is not None
    ]
    return sorted(places, key=_order)


def _order(place: Place) -> tuple[object, ...]:
    chase = place.pair.open_chase
    assert chase is not None
    graver = tuple(risk not in place.risks for risk in RISKS)
    return "danger" not in place.risks, -len(place.risks), graver, chase.opened_at, place.pair.id


# ---------------------------------------------------------------- what was tried, what is left


def heard_at(pair: Pair) -> datetime | None:
    """When she, or somebody of hers who reached her, was last heard: in a text, on the phone or face to
    face."""
    said = [answer.at for answer in pair.answers]
    spoken = [item.spoken_at for item in pair.escalations if item.spoken_at]
    met = [c.closed_at for c in pair.chases if c.closed_at and c.state is ChaseState.reached]
    return max(said + spoken + met, default=None)


def since_heard(pair: Pair) -> tuple[Attempt, ...]:
    """What was tried since she was last heard."""
    heard = heard_at(pair)
    return tuple(each for each in pair.attempts if heard is None or each.at > heard)


def failed_calls(pair: Pair) -> int:
    """How often in a row she was called and not spoken to."""
    calls = [each.result for each in since_heard(pair) if each.kind == "call"]
    return next((n for n, result in enumerate(reversed(calls)) if result == "reached"), len(calls))


def planned_visit(pair: Pair) -> Attempt | None:
    """The visit that is still to be made."""
    return next((each for each in pair.attempts if each.kind == "visit" and not each.result), None)


def may_visit(pair: Pair) -> bool:
    """Whether she agreed to a visit at home. In an open danger that is not waited for."""
    return pair.consent.home_visit or pair.follow_up_by == "visit" or pair.open_episode is not None


def second_contact(pair: Pair) -> tuple[str, str, bool] | None:
    """Name, number and whether they may know what it is about; None where she agreed to nobody."""
    phone = pair.extra.get("second_contact_phone", "")
    if not pair.consent.second_contact or not phone:
        return None
    knows = pair.extra.get("second_contact_may_know") == "yes"
    return pair.extra.get("second_contact_name", ""), phone, knows


def left_to_try(pair: Pair) -> tuple[str, ...]:
    """Give which ways of RESULTS are not exhausted, in the order in which they are tried."""
    tried = since_heard(pair)
    wrong = any(each.result == "wrong_number" for each in tried)
    number = pair.mother.phone is not None and not wrong
    asked = any(each.kind == "second_contact" and each.result != "no_answer" for each in tried)
    rung = sum(each.kind == "second_contact" for each in tried)
    visited = any(each.kind == "visit" and each.result in ("not_home", "moved") for each in tried)
    open_ways = {
        "call": number and failed_calls(pair) < FAILED_CALLS,
        "second_contact": second_contact(pair) is not None and not asked and rung < FAILED_CALLS,
        "visit": may_visit(pair) and not visited,
    }
    return tuple(way for way in RESULTS if open_ways[way])


def is_late(pair: Pair, now: datetime) -> bool:
    """Tell whether a visit's day is over and nobody has said what came of it."""
    visit = planned_visit(pair)
    return visit is not None and visit.on_day is not None and visit.on_day < pair.local(now).date()

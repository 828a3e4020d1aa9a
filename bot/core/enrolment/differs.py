"""A repeated enrolment against what is stored: which fields say something else now."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from bot.core.enrolment.examination import Examined
from bot.core.pair import Baby, Pair

# A number that several mothers have is shared, whatever was said of it at first.
_MAY_HAVE_RISEN = "mother.phone_shared"
_NOT_ABOUT_HER = frozenset(("site", "external_id"))  # by them the two were matched


def differences(again: Examined, stored: Pair) -> tuple[str, ...]:
    """Name, sorted, each field of `again` whose value is not the stored one; a field at fault is another."""
    known = dict(_facts(stored))
    differ = {fault.field for fault in again.faults if not fault.confirm}
    for name in known.keys() | again.facts.keys():
        was, now = _value(known.get(name)), _value(again.facts.get(name))
        if was != now and name not in _NOT_ABOUT_HER and not (name == _MAY_HAVE_RISEN and was):
            differ.add(name)
    return tuple(sorted(differ))


def _value(value: Any) -> Any:
    """Not given, empty, no and not seen are one."""
    return None if value is False or value in ("", "not_seen", frozenset()) else value


_OF_MOTHER = (
    "name", "phone", "language", "latin", "phone_shared", "age", "parity", "birth_mode", "risks",
)  # fmt: skip


def _facts(pair: Pair) -> Iterator[tuple[str, Any]]:
    mother, consent = pair.mother, pair.consent
    yield "discharged_at", pair.discharged_at
    yield "preferred_hour", pair.preferred_hour
    yield "follow_up_by", pair.follow_up_by
    for name in _OF_MOTHER:
        yield f"mother.{name}", getattr(mother, name)
    for name in ("texts", "calls", "second_contact", "home_visit", "research", "taken_by", "language"):
        yield f"consent.{name}", getattr(consent, name)
    for name in ("lives_at", "nearest_facility"):
        yield name, pair.extra.get(name)
    for name in ("name", "phone"):
        yield f"second_contact.{name}", pair.extra.get(f"second_contact_{name}")
    yield "second_contact.may_know", pair.extra.get("second_contact_may_know") == "yes"
    for baby in pair.babies:
        yield from _baby(pair, baby, f"babies.{baby.ordinal - 1}")


def _baby(pair: Pair, baby: Baby, path: str) -> Iterator[tuple[str, Any]]:
    yield f"{path}.born_at", baby.born_at or baby.born_on
    for name in ("name", "sex", "birth_weight_g", "gestation_weeks", "place", "feeding_plan"):
        yield f"{path}.{name}", getattr(baby, name)
    for seen in pair.assessments:
        if seen.baby == baby.ordinal and seen.occasion == "discharge":
            for sign, value in seen.signs.items():
                yield f"{path}.assessment.{sign.replace('_', '.', 1)}", value
            yield f"{path}.assessment.weight_g", seen.weight_g

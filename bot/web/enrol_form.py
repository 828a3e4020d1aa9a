"""The bedside form as it was sent -> discharge details, and what the form itself must still ask: a fact that
nobody filled in is not yet a fact that nobody knows."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

from werkzeug.datastructures import MultiDict

from bot.core.enrolment import Fault
from bot.core.enrolment.babies import MOST_BABIES
from bot.web.words import lazy

Form = MultiDict[str, str]

_TEXTS = (
    "mother.name", "mother.phone", "mother.language", "mother.age", "mother.parity", "mother.birth_mode",
    "mother.risks", "lives_at", "nearest_facility", "feeding_plan", "preferred_hour", "follow_up_by",
    "second_contact.name", "second_contact.phone",
)  # fmt: skip
_OF_BABY = (
    "name",
    "place",
    "birth_weight_g",
    "gestation_weeks",
    "assessment.suckling",
    "assessment.weight_g",
)
_SIGN = re.compile(r"babies\.\d\.assessment\.(position|attachment)\.\w+")
MADE_UP = "bed-"  # begins the number of a form that the ward gave none; it says nothing to people
NOT_SAID = lazy("fill it in, or tick that it is not known")


def babies_on(form: Form) -> int:
    """Give how many babies the form has room for."""
    n = form.get("babies", "1")
    return min(max(int(n), 1), MOST_BABIES) if n.isdecimal() and len(n) < 3 else 1


def details(form: Form, now: datetime, taken_by: str) -> dict[str, Any]:
    """Give the details as `enrol` takes them. What was left empty is left out."""
    flat: dict[str, Any] = {name: form[name] for name in _TEXTS if form.get(name, "").strip()}
    flat["external_id"] = form.get("external_id", "").strip() or form.get("key", "")
    flat["site"] = form.get("site", "")
    flat["mother.latin"] = "mother.latin" in form
    flat["mother.phone_shared"] = form.get("mother.phone_shared", "yes")
    flat["discharged_at"] = now.isoformat() if form.get("leaves") == "now" else form.get("discharged_at", "")
    agreed = form.getlist("consent")
    flat |= {f"consent.{name}": True for name in agreed}
    flat |= (
        {"consent.taken_by": taken_by, "consent.language": form.get("mother.language", "")} if agreed else {}
    )
    if form.get("second_contact.name") or form.get("second_contact.phone"):
        flat["second_contact.may_know"] = "second_contact.may_know" in form
    flat |= {name: value for name, value in form.items() if _SIGN.fullmatch(name)}
    for n in range(babies_on(form)):
        flat |= dict(_baby(form, f"babies.{n}"))
    return _nested(flat) | {"confirmed": form.getlist("confirmed")}


def unanswered(form: Form) -> Iterator[Fault]:
    """Give what the form asks and nobody answered, not even with 'not known'."""
    if form.get("mother.phone", "").strip() and "mother.phone_shared" not in form:
        yield _fault("mother.phone_shared", lazy("ask her, and choose one"))
    if "leaves" not in form:
        yield _fault("discharged_at", lazy("choose one"))
    for n in range(babies_on(form)):
        at = f"babies.{n}"
        if not form.get(f"{at}.born_at.hour") and f"{at}.born_at.unknown" not in form:
            yield _fault(f"{at}.born_at", lazy("fill in the hour, or tick that it is not known"))
        if f"{at}.sex" not in form:
            yield _fault(f"{at}.sex", lazy("choose one"))
        for name in ("birth_weight_g", "gestation_weeks"):
            if not form.get(f"{at}.{name}", "").strip() and f"{at}.{name}.unknown" not in form:
                yield _fault(f"{at}.{name}", NOT_SAID)


def _fault(field: str, words: str) -> Fault:
    return Fault(field, words, words)


def _baby(form: Form, at: str) -> Iterator[tuple[str, str]]:
    day, hour = form.get(f"{at}.born_at.day", ""), form.get(f"{at}.born_at.hour", "")
    known = hour and f"{at}.born_at.unknown" not in form
    yield f"{at}.born_at", f"{day}T{hour}" if known and day else day
    if form.get(f"{at}.sex") != "unknown":
        yield f"{at}.sex", form.get(f"{at}.sex", "")
    for name in _OF_BABY:
        if f"{at}.{name}.unknown" not in form:
            yield f"{at}.{name}", form.get(f"{at}.{name}", "")


def _nested(flat: Mapping[str, Any]) -> dict[str, Any]:
    """Dotted names to objects in objects; figures name places of a list."""
    nested: dict[str, Any] = {}
    babies: dict[int, dict[str, Any]] = {}
    for dotted, value in flat.items():
        path = dotted.split(".")
        inner = nested
        if path[0] == "babies":
            inner = babies.setdefault(int(path[1]), {})
            path = path[2:]
        for step in path[:-1]:
            inner = inner.setdefault(step, {})
        inner[path[-1]] = value
    return nested | {"babies": [babies[n] for n in sorted(babies)]}

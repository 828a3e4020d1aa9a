"""JSON facts -> `Facts`, or every fault at once.

Numbers stand as `8` or `{"low": 8, "high": 10}`; an end may be null or left out; both are null where she was
asked and does not know. null beside a known key means that nobody knows: she was not asked. Unknown keys are
refused, so that no fact is silently passed over.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import isfinite
from typing import Any, Final

from bot.core.errors import Invalid, Problem
from bot.core.facts import Earlier, Facts, FactSpec, Kind, Span, Value, Vocabulary, Weight
from bot.core.risks import RISKS

POSITION: Final = ("neck", "turned", "close", "supported")
ATTACHMENT: Final = ("chin", "mouth", "lower_lip", "areola")
SEEN: Final = ("yes", "no", "not_seen")
SUCKLING: Final = ("effective", "not_effective", "not_at_all", "not_seen")
OLDEST_DAYS: Final = 366
BIRTH_WEIGHT_G: Final = (400, 7000)
LATER_WEIGHT_G: Final = (300, 15000)
RECORDS: Final = frozenset(
    {
        "age_days", "age_hours", "answers", "danger_signs", "birth_weight_g", "gestation_weeks", "sex",
        "weights", "assessment", "history", "risks",
    }
)  # fmt: skip
_PLAIN: Final = (float, int)
GIVEN: Final = (Kind.number, Kind.flag, Kind.sign, Kind.choice)


def facts_from_json(data: object, vocabulary: Vocabulary) -> Facts:
    """Read one case. Raises `Invalid` with every fault, each named by its dotted path."""
    reader = _Reader(vocabulary)
    facts = reader.facts(data)
    if reader.problems or facts is None:
        raise Invalid(reader.problems)
    return facts


@dataclass(slots=True)
class _Reader:
    vocabulary: Vocabulary
    problems: list[Problem] = field(default_factory=list)

    def fault(self, path: str, message: str) -> None:
        self.problems.append(Problem(path, message))

    def facts(self, data: object) -> Facts | None:
        if not isinstance(data, Mapping):
            self.fault("", "must be an object of facts.")
            return None
        values: dict[str, Value] = {}
        for key, raw in data.items():
            if key not in RECORDS:
                self.given(key, key, raw, values)
        self.answers(data.get("answers"), values)
        self.danger_signs(data.get("danger_signs"), values)
        age_days, age_hours = self.age(data)
        own_weight, assessment = self.assessment(data.get("assessment"))
        weights = self.weights(data.get("weights"), age_days)
        if own_weight is not None and not weights:
            weights = (Weight(age_days, own_weight),)  # an assessment carries no age: taken as of now
        sex = data.get("sex")
        if sex not in ("female", "male", None):
            self.fault("sex", "must be female, male or null.")
        return Facts(
            age_days=age_days,
            age_hours=age_hours,
            values=values,
            birth_weight_g=self.number(data.get("birth_weight_g"), "birth_weight_g", *BIRTH_WEIGHT_G),
            gestation_weeks=self.number(data.get("gestation_weeks"), "gestation_weeks", 22, 45),
            sex=sex,
            weights=weights,
            assessment=assessment,
            history=self.history(data.get("history"), age_days),
            risks=self.risks(data.get("risks")),
        )

    # -- single facts ---------------------------------------------------------------------------------------

    def given(self, key: object, path: str, raw: object, values: dict[str, Value]) -> None:
        """Read one fact into `values`, refusing what is unknown or stands there twice with another value."""
        spec = self.vocabulary.facts.get(key) if isinstance(key, str) else None
        if spec is None or spec.kind not in GIVEN:
            self.fault(path, "is not a fact; `dunnock triage --facts` lists them.")
            return
        if raw is None:
            return
        value = self.value(spec, path, raw)
        if value is None:
            return
        if values.setdefault(spec.id, value) != value:
            self.fault(path, "is given twice with different values.")

    def value(self, spec: FactSpec, path: str, raw: Any) -> Value | None:
        if spec.kind is Kind.number:
            return self.span(spec, path, raw)
        if spec.kind is Kind.choice:
            if isinstance(raw, str) and raw in spec.values:
                return raw
            for place, value in enumerate(spec.values, 1):
                if raw == {"low": place, "high": place}:
                    return value  # a stored choice, by its place
            self.fault(path, f"must be one of {', '.join(spec.values)}.")
            return None
        if isinstance(raw, bool):
            return raw
        if raw in ({"low": 0, "high": 0}, {"low": 1, "high": 1}):
            return bool(raw["low"])  # a stored yes or no
        self.fault(path, "must be true or false.")
        return None

    def span(self, spec: FactSpec, path: str, raw: object) -> Span | None:
        lowest, highest = spec.lowest or 0.0, spec.highest or 0.0
        if not isinstance(raw, Mapping):
            exact = self.number(raw, path, lowest, highest, spec.whole)
            return None if exact is None else Span(exact, exact)
        if not raw or not set(raw) <= {"low", "high"}:
            self.fault(path, 'must be a number or {"low": n, "high": n}, null for an end that is open.')
            return None
        before = len(self.problems)
        low, high = (
            self.number(raw.get(end), f"{path}.{end}", lowest, highest, spec.whole) for end in ("low", "high")
        )
        if len(self.problems) > before:
            return None
        if low is not None and high is not None and low > high:
            self.fault(path, "has its low end above its high end.")
            return None
        return Span(low, high)

    def number(
        self, raw: object, path: str, lowest: float, highest: float, whole: bool = False
    ) -> float | None:
        """A number within its possible range; None when it is null or refused."""
        if raw is None:
            return None
        if isinstance(raw, bool) or not isinstance(raw, (int, float)) or not isfinite(raw):
            self.fault(path, "must be a number.")
        elif not lowest <= raw <= highest:
            self.fault(path, f"must lie between {lowest:g} and {highest:g}.")
        elif whole and raw != int(raw):
            self.fault(path, "must be a whole number.")
        else:
            return raw
        return None

    # -- records --------------------------------------------------------------------------------------------

    def age(self, data: Mapping[str, Any]) -> tuple[int, float | None]:
        """Age in days and hours; the days follow from the hours where only these are given."""
        before = len(self.problems)
        days = self.number(data.get("age_days"), "age_days", 0, OLDEST_DAYS, whole=True)
        hours = self.number(data.get("age_hours"), "age_hours", 0, 24.0 * (OLDEST_DAYS + 1))
        if len(self.problems) > before:
            return 0, None
        if days is None and hours is None:
            self.fault("age_days", "is needed: whole days since the date of birth (or age_hours).")
            return 0, None
        if days is None:
            return int((hours or 0) // 24), hours
        # A day of 25 hours when clocks go back allows one hour more on either side.
        if hours is not None and not 24 * (days - 1) - 1 <= hours <= 24 * (days + 1) + 1:
            self.fault("age_hours", f"cannot be {hours:g} at {days:g} days of age.")
        return int(days), hours

    def answers(self, raw: object, values: dict[str, Value], path: str = "answers") -> None:
        if raw is None:
            return
        if not isinstance(raw, Mapping):
            self.fault(path, "must be an object: question id to value.")
            return
        for key, value in raw.items():
            span = self.plain(key, value)
            if span is not None and key not in values:
                values[key] = span
            else:
                self.given(key, f"{path}.{key}", value, values)

    def plain(self, key: object, raw: object) -> Span | None:
        """The number of an answer as this program writes it, without a fault; else None. Nearly all are so,
        and a case holds all that a pair ever answered: read in one go, not check by check."""
        spec = self.vocabulary.facts.get(key) if isinstance(key, str) else None
        if spec is None or spec.kind is not Kind.number or type(raw) is not dict or len(raw) != 2:
            return None
        low: Any = raw.get("low")
        high: Any = raw.get("high")
        lowest, highest = spec.lowest or 0.0, spec.highest or 0.0
        fits = type(low) in _PLAIN and type(high) in _PLAIN and lowest <= low <= high <= highest
        return Span(low, high) if fits and not (spec.whole and (low % 1 or high % 1)) else None

    def danger_signs(self, raw: object, values: dict[str, Value]) -> None:
        if raw is None:
            return
        if not isinstance(raw, list | tuple | set | frozenset):
            self.fault("danger_signs", "must be a list of sign ids.")
            return
        known = self.vocabulary.signs
        for sign in raw:
            if not isinstance(sign, str) or sign not in known:
                self.fault("danger_signs", f"{sign!r} is not a sign; `dunnock triage --facts` lists them.")
            else:
                values[sign] = True  # named anywhere counts, whatever an answer says beside it

    def risks(self, raw: object) -> frozenset[str]:
        if raw is None:
            return frozenset()
        if not isinstance(raw, list | tuple | set | frozenset) or not set(map(str, raw)) <= set(RISKS):
            self.fault("risks", f"must be a list of {', '.join(RISKS)}.")
            return frozenset()
        return frozenset(map(str, raw))

    def items(self, raw: object, path: str, keys: set[str]) -> list[tuple[str, Mapping[str, Any]]]:
        """The well-formed objects of a list, each with its path; the rest are faults."""
        if raw is None:
            return []
        if not isinstance(raw, list | tuple):
            self.fault(path, "must be a list.")
            return []
        good: list[tuple[str, Mapping[str, Any]]] = []
        for index, item in enumerate(raw):
            where = f"{path}[{index}]"
            if isinstance(item, Mapping) and set(item) == keys:
                good.append((where, item))
            else:
                self.fault(where, f"must be an object with exactly {' and '.join(sorted(keys))}.")
        return good

    def past_age(self, raw: object, path: str, age_days: int) -> int | None:
        days = self.number(raw, path, 0, OLDEST_DAYS, whole=True)
        if raw is None:
            self.fault(path, "is needed.")
        if days is not None and days > age_days:
            self.fault(path, "lies after the age of this case.")
        return None if days is None else int(days)

    def weights(self, raw: object, age_days: int) -> tuple[Weight, ...]:
        found: list[Weight] = []
        for where, item in self.items(raw, "weights", {"age_days", "grams"}):
            days = self.past_age(item["age_days"], f"{where}.age_days", age_days)
            grams = self.number(item["grams"], f"{where}.grams", *LATER_WEIGHT_G)
            if item["grams"] is None:
                self.fault(f"{where}.grams", "is needed.")
            if days is not None and grams is not None:
                found.append(Weight(days, grams))
        return tuple(sorted(found, key=lambda weight: weight.age_days))

    def history(self, raw: object, age_days: int) -> tuple[Earlier, ...]:
        found: list[Earlier] = []
        for where, item in self.items(raw, "history", {"age_days", "answers"}):
            days = self.past_age(item["age_days"], f"{where}.age_days", age_days)
            answers: dict[str, Value] = {}
            self.answers(item["answers"], answers, f"{where}.answers")
            if days is not None:
                if found and days < found[-1].age_days:
                    self.fault(where, "must come after the one before it: oldest first.")
                found.append(Earlier(days, answers))
        return tuple(found)

    def assessment(self, raw: object) -> tuple[float | None, dict[str, str]]:
        """The weight taken with it, and its signs flattened as position_neck .. suckling."""
        if raw is None:
            return None, {}
        if not isinstance(raw, Mapping):
            self.fault("assessment", "must be an object.")
            return None, {}
        signs: dict[str, str] = {}
        for key, value in raw.items():
            if key == "suckling":
                self.word(value, "assessment.suckling", SUCKLING, "suckling", signs)
            elif key in ("position", "attachment"):
                self.group(key, value, POSITION if key == "position" else ATTACHMENT, signs)
            elif key != "weight_g":
                self.fault(f"assessment.{key}", "is not part of an assessment.")
        return self.number(raw.get("weight_g"), "assessment.weight_g", *LATER_WEIGHT_G), signs

    def group(self, name: str, raw: object, parts: tuple[str, ...], signs: dict[str, str]) -> None:
        if raw is None:
            return
        if not isinstance(raw, Mapping):
            self.fault(f"assessment.{name}", f"must be an object of {', '.join(parts)}.")
            return
        for part, value in raw.items():
            if part in parts:
                self.word(value, f"assessment.{name}.{part}", SEEN, f"{name}_{part}", signs)
            else:
                self.fault(f"assessment.{name}.{part}", f"is not one of {', '.join(parts)}.")

    def word(self, raw: object, path: str, allowed: tuple[str, ...], key: str, signs: dict[str, str]) -> None:
        if isinstance(raw, str) and raw in allowed:
            signs[key] = raw
        elif raw is not None:
            self.fault(path, f"must be one of {', '.join(allowed)}.")

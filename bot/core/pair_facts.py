"""A pair and a moment -> the facts that triage looks at, one baby at a time with its mother's facts.

The facts come out in the form of the `dunnock triage` interface, so that what was judged can be stored,
shown and judged again.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from bot.core.checkin import unanswered_in_a_row
from bot.core.pair import Answer, Assessment, Baby, Pair

# A danger sign named in the last day is judged together with what she says now. A count is judged at the age
# at which she gave it: with what else she said within half a day, not again at tomorrow's age.
SIGNS_LAST = timedelta(hours=24)
ANSWERS_LAST = timedelta(hours=12)


@dataclass(frozen=True, slots=True)
class Known:
    """How the key of an answer is understood. `facts` are what triage knows and `signs` those of them that
    stand in a list; what is asked in a check-in is never a sign, and what triage does not know (the practice
    answer) is not judged."""

    questions: frozenset[str]
    facts: frozenset[str]
    signs: frozenset[str]

    def is_sign(self, key: str) -> bool:
        return key in self.signs and key not in self.questions

    def is_answer(self, key: str) -> bool:
        return key in self.facts and not self.is_sign(key)


def facts_of(
    pair: Pair, baby: Baby, now: datetime, known: Known, *, silence: bool = False
) -> dict[str, object]:
    """What triage looks at for `baby` at `now`.

    The row of unanswered check-ins is a fact only when `silence` is being judged: an answer just given
    ends it.
    """
    standing = [
        answer
        for answer in pair.answers
        if answer.superseded_by is None and answer.baby in (None, baby.ordinal)
    ]
    told = [answer for answer in standing if known.is_answer(answer.key)]
    signs = [answer for answer in standing if known.is_sign(answer.key) and answer.high]
    facts: dict[str, object] = {
        "age_days": age_days(pair, baby, now),
        "answers": {a.key: value_of(a) for a in told if now - a.at < ANSWERS_LAST},
        "danger_signs": sorted({a.key for a in signs if now - a.at < SIGNS_LAST}),
        "history": _history(pair, baby, told, now),
        "weights": _weights(pair, baby),
    }
    optional = {
        "age_hours": _age_hours(baby, now),
        "birth_weight_g": baby.birth_weight_g,
        "gestation_weeks": baby.gestation_weeks,
        "sex": baby.sex,
        "assessment": _latest_assessment(pair, baby),
        "unanswered_check_ins": unanswered_in_a_row(pair) if silence else None,
    }
    return facts | {key: value for key, value in optional.items() if value is not None}


def age_days(pair: Pair, baby: Baby, at: datetime) -> int:
    """Difference of local dates; 0 on the day of birth, never below."""
    return max(0, (pair.local(at).date() - baby.born_on).days)


def _age_hours(baby: Baby, at: datetime) -> float | None:
    """Elapsed hours, so that a change of clocks can't shift them. None when the hour of birth is unknown."""
    return None if baby.born_at is None else max(0.0, (at - baby.born_at) / timedelta(hours=1))


def value_of(answer: Answer) -> object:
    """An answer as the interface writes it: {"low", "high"}."""
    return {"low": answer.low, "high": answer.high}


def _history(pair: Pair, baby: Baby, told: list[Answer], now: datetime) -> list[dict[str, object]]:
    """Her earlier answers by day of life, oldest first."""
    by_age: dict[int, dict[str, object]] = {}
    for answer in sorted(told, key=lambda a: a.at):
        if now - answer.at >= ANSWERS_LAST:
            by_age.setdefault(age_days(pair, baby, answer.at), {})[answer.key] = value_of(answer)
    return [{"age_days": age, "answers": answers} for age, answers in sorted(by_age.items())]


def _weights(pair: Pair, baby: Baby) -> list[dict[str, int]]:
    return [
        {"age_days": age_days(pair, baby, a.at), "grams": a.weight_g}
        for a in sorted(pair.assessments, key=lambda a: a.at)
        if a.baby == baby.ordinal and a.weight_g is not None
    ]


def _latest_assessment(pair: Pair, baby: Baby) -> dict[str, object] | None:
    """The newest assessment in the nested form of the enrolment interface."""
    latest: Assessment | None = max(
        (a for a in pair.assessments if a.baby == baby.ordinal and a.signs), key=lambda a: a.at, default=None
    )
    if latest is None:
        return None
    nested: dict[str, object] = {"position": {}, "attachment": {}}
    for name, seen in latest.signs.items():
        group, _, sign = name.partition("_")
        inner = nested.get(group)
        if isinstance(inner, dict):
            inner[sign] = seen
        else:
            nested[name] = seen
    return nested

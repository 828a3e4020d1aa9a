"""A pair and a moment -> the facts that triage looks at, one baby at a time with its mother's facts.

The facts come out in the form of the `dunnock triage` interface, so that what was judged can be stored,
shown and judged again.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from bot.core.checkin import unanswered_in_a_row
from bot.core.pair import Answer, Assessment, Baby, Pair

# Counts are asked for the last 24 hours, so answers and signs of the last day are judged together.
WINDOW = timedelta(hours=24)


@dataclass(frozen=True, slots=True)
class Known:
    """How the key of an answer is understood: `questions` are asked and answered, `facts` are what triage
    knows. A fact that is no question is a danger sign or something a person entered; a question that is no
    fact (is she coming to the review?) is not judged."""

    questions: frozenset[str]
    facts: frozenset[str]

    def is_answer(self, key: str) -> bool:
        return key in self.questions and key in self.facts

    def is_sign(self, key: str) -> bool:
        return key not in self.questions and key in self.facts


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
    fresh = [answer for answer in standing if now - answer.at < WINDOW]
    facts: dict[str, object] = {
        "age_days": age_days(pair, baby, now),
        "answers": {a.key: value_of(a) for a in fresh if known.is_answer(a.key)},
        "danger_signs": sorted({a.key for a in fresh if known.is_sign(a.key) and a.high}),
        "history": _history(pair, baby, standing, now, known),
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


def _history(
    pair: Pair, baby: Baby, standing: list[Answer], now: datetime, known: Known
) -> list[dict[str, object]]:
    """Her earlier answers by day of life, oldest first."""
    by_age: dict[int, dict[str, object]] = {}
    for answer in sorted(standing, key=lambda a: a.at):
        if now - answer.at >= WINDOW and known.is_answer(answer.key):
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

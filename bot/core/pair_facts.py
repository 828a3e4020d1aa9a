"""A pair and a moment -> the facts that triage looks at, one baby at a time with its mother's facts.

The facts come out in the form of the `dunnock triage` interface, so that what was judged can be stored,
shown and judged again.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from bot.core.checkin import unanswered_in_a_row
from bot.core.pair import Answer, Assessment, Baby, Pair
from bot.core.risks import POOR, known_risks
from bot.core.states import Urgency

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
    pair: Pair,
    baby: Baby,
    now: datetime,
    known: Known,
    *,
    silence: bool = False,
    without: frozenset[str] = frozenset(),
) -> dict[str, object]:
    """What triage looks at for `baby` at `now`, leaving out the answers and signs `without`.

    The row of unanswered check-ins is a fact only when `silence` is being judged: an answer just given
    ends it. What a person saw and weighed is judged once, when it is recorded, and for a day with what she
    says then; afterwards it counts as an earlier warning if it was one.
    """
    standing = [
        answer
        for answer in pair.answers
        if answer.superseded_by is None and answer.baby in (None, baby.ordinal) and answer.key not in without
    ]
    told = [answer for answer in standing if known.is_answer(answer.key)]
    signs = [answer for answer in standing if known.is_sign(answer.key) and answer.high]
    facts: dict[str, object] = {
        "age_days": age_days(pair, baby, now),
        "answers": {a.key: value_of(a) for a in told if now - a.at < ANSWERS_LAST},
        "danger_signs": sorted({a.key for a in signs if now - a.at < SIGNS_LAST}),
        "history": _history(pair, baby, told, now),
        "twin": len(pair.babies) > 1,
        "earlier_warning": _was_warned(pair, baby),
        "risks": sorted(known_risks(pair.mother.risks, pair.mother.birth_mode)),
    }
    seen = _assessments(pair, baby)
    is_news = bool(seen) and seen[-1].occasion == "review" and now - seen[-1].at < SIGNS_LAST
    optional = {
        "age_hours": _age_hours(baby, now),
        "birth_weight_g": baby.birth_weight_g,
        "gestation_weeks": baby.gestation_weeks,
        "sex": baby.sex,
        "weights": _weights(pair, baby, seen) if is_news else None,
        "assessment": _nested(seen[-1]) if is_news and seen[-1].signs else None,
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


def _assessments(pair: Pair, baby: Baby) -> list[Assessment]:
    """What was seen of this baby, oldest first."""
    return sorted((a for a in pair.assessments if a.baby == baby.ordinal), key=lambda a: a.at)


def _was_warned(pair: Pair, baby: Baby) -> bool:
    """Tell whether something was found before that makes silence and doubt count sooner: a warning, or a baby
    last seen to be poorly attached or not suckling well."""
    warned = any(item.urgency >= Urgency.same_day for item in pair.escalations if item.closed_at)
    seen = [a for a in _assessments(pair, baby) if a.signs]
    return warned or (bool(seen) and not POOR.isdisjoint(seen[-1].signs.items()))


def _weights(pair: Pair, baby: Baby, seen: list[Assessment]) -> list[dict[str, int]]:
    return [
        {"age_days": age_days(pair, baby, a.at), "grams": a.weight_g} for a in seen if a.weight_g is not None
    ]


def _nested(assessment: Assessment) -> dict[str, object]:
    """An assessment in the nested form of the enrolment interface."""
    nested: dict[str, object] = {"position": {}, "attachment": {}}
    for name, seen in assessment.signs.items():
        group, _, sign = name.partition("_")
        inner = nested.get(group)
        if isinstance(inner, dict):
            inner[sign] = seen
        else:
            nested[name] = seen
    return nested

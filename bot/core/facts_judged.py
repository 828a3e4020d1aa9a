"""`Facts` -> the facts as judged: one badness per axis, larger is worse, nothing for what is not known.

A range is judged by its worse end; where that is open, by its known end if it has one, and `open_answer` is
set. What no single answer says (loss of weight, yellow with its extent, whether urine ever passed) is worked
out here, before any rule looks, so that rules only compare. The numbers come from messages/facts.toml.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from bot.core import growth
from bot.core.facts import Axis, AxisKind, Facts, Span, Value, Vocabulary
from bot.core.facts_trend import answers_disagree, feeds_drop, pain_rise, wet_drop, wet_falls

Badness = dict[str, float]
OPEN_ANSWER: Final = "open_answer"


def judged(facts: Facts, vocabulary: Vocabulary) -> Badness:
    """The badness of every axis about which something is known and not plainly fine."""
    point: Badness = {}
    open_answer = False
    for id, value in facts.values.items():
        for axis in vocabulary.facts[id].axes:
            bad, is_open = _badness(axis, value)
            if bad is not None:
                point[axis.id] = bad
            open_answer = open_answer or (is_open and axis.ask_if_open)
    if open_answer:
        point[OPEN_ANSWER] = 1.0
    for spec in vocabulary.worked_out:
        worker = WORKED_OUT.get(spec.id)
        found = None if worker is None else worker(facts, vocabulary)
        if found is not None:
            axis = spec.axes[0]
            bad, _ = _badness(axis, found)
            if bad is not None:
                point[axis.id] = bad
    return point


def _badness(axis: Axis, value: Value | float) -> tuple[float | None, bool]:
    """How bad `value` is on `axis` (None: fine), and whether its worse end was open."""
    if isinstance(value, Span):
        worse, known = (value.high, value.low) if axis.direction > 0 else (value.low, value.high)
        is_open = worse is None
        end = known if worse is None else worse
        return (None if end is None else axis.direction * end), is_open
    if axis.kind is AxisKind.flag:
        return (1.0 if value is (axis.worse_word == "yes") else None), False
    if isinstance(value, str):
        return float(axis.values.index(value) + 1), False
    return axis.direction * float(value), False


def _small(facts: Facts, vocabulary: Vocabulary) -> bool:
    limits = vocabulary.facts["baby_small"].limits
    weight, weeks = facts.birth_weight_g, facts.gestation_weeks
    return (weight is not None and weight < limits["birth_weight_under_g"]) or (
        weeks is not None and weeks < limits["gestation_under_weeks"]
    )


def _born_grams(facts: Facts, _: Vocabulary) -> float | None:
    return facts.birth_weight_g


def _born_weeks(facts: Facts, _: Vocabulary) -> float | None:
    return facts.gestation_weeks


def _at_risk(facts: Facts, vocabulary: Vocabulary) -> bool:
    return (
        any(facts.values.get(id) is True for id in ("twin", "earlier_warning", "jaundice"))
        or "jaundice_extent" in facts.values
        or bool(facts.risks)
        or _seen_no(facts, "attachment_")
        or facts.assessment.get("suckling") in ("not_effective", "not_at_all")
        or _small(facts, vocabulary)
    )


def _yellow(facts: Facts, _: Vocabulary) -> str | None:
    extent = facts.values.get("jaundice_extent")
    if isinstance(extent, str):
        return extent
    return "unknown" if facts.values.get("jaundice") is True else None


def _fever_cause(facts: Facts, _: Vocabulary) -> str:
    cause = facts.values.get("fever_cause")
    return cause if isinstance(cause, str) else "unknown"


def _urine_since_birth(facts: Facts, _: Vocabulary) -> str | None:
    said = facts.values.get("no_urine") is True
    return _since_birth(facts, "no_urine_since_birth", "wet_nappies", said=said)


def _stool_since_birth(facts: Facts, _: Vocabulary) -> str | None:
    return _since_birth(facts, "no_stool_since_birth", "dirty_nappies", said=False)


def _since_birth(facts: Facts, fact: str, count: str, *, said: bool) -> str | None:
    """passed, not_known or never; None when nothing points to an absence.

    A count of 0 covers the last 24 hours only, so alone it proves nothing about the time before. Up to
    day 2 the history may: any earlier count above 0 means passed, earlier counts of 0 only mean never.
    Later, rules on the count itself are the stricter ones.
    """
    stated = facts.values.get(fact)
    if isinstance(stated, bool):
        return "never" if stated else "passed"
    now = facts.values.get(count)
    if not said and not (isinstance(now, Span) and now.low == 0):
        return None
    if facts.k > 2:
        return None
    before = [e.answers[count] for e in facts.history if count in e.answers]
    spans = [span for span in before if isinstance(span, Span) and span != Span(None, None)]
    if any((span.high if span.high is not None else span.low or 0) > 0 for span in spans):
        return "passed"
    return "never" if spans else "not_known"


def _loss_percent(facts: Facts, _: Vocabulary) -> float | None:
    """Percent of birth weight lost at the last weighing; negative after regain."""
    if not facts.weights or facts.birth_weight_g is None:
        return None
    return 100 * (facts.birth_weight_g - facts.weights[-1].grams) / facts.birth_weight_g


def _below_birth_weight_day(facts: Facts, _: Vocabulary) -> float | None:
    if not facts.weights or facts.birth_weight_g is None:
        return None
    last = facts.weights[-1]
    return last.age_days if last.grams < facts.birth_weight_g else None


def _still_losing(facts: Facts, vocabulary: Vocabulary) -> bool:
    if len(facts.weights) < 2:
        return False
    before, last = facts.weights[-2:]
    return last.age_days > vocabulary.facts["still_losing"].limits["after_day"] and last.grams < before.grams


def _gain(facts: Facts, vocabulary: Vocabulary) -> float | None:
    """Grams a day from the latest weight that is old enough to the last one; None without two such."""
    if not facts.weights:
        return None
    limits = vocabulary.facts["gain_g_per_day"].limits
    last = facts.weights[-1]
    for before in reversed(facts.weights[:-1]):
        days = last.age_days - before.age_days
        if before.age_days >= limits["from_day"] and days >= limits["days_apart"]:
            return (last.grams - before.grams) / days
    return None


def _weight_for_age(facts: Facts, vocabulary: Vocabulary) -> float | None:
    """The z-score of the last weight; None in the first week, when loss and birth weight say more."""
    if (
        not facts.weights
        or facts.weights[-1].age_days < vocabulary.facts["weight_for_age_z"].limits["from_day"]
    ):
        return None
    last = facts.weights[-1]
    found = growth.standing(vocabulary.standard, facts.sex, last.grams, last.age_days, facts.gestation_weeks)
    return found.z if found else None


def _seen_no(facts: Facts, prefix: str) -> bool:
    return any(word == "no" for sign, word in facts.assessment.items() if sign.startswith(prefix))


def _poor_position(facts: Facts, _: Vocabulary) -> bool:
    return _seen_no(facts, "position_")


def _poor_attachment(facts: Facts, _: Vocabulary) -> bool:
    return _seen_no(facts, "attachment_")


def _poor_suckling(facts: Facts, _: Vocabulary) -> str | None:
    word = facts.assessment.get("suckling")
    return word if word in ("not_effective", "not_at_all") else None


WORKED_OUT: Final[Mapping[str, Callable[[Facts, Vocabulary], float | bool | str | None]]] = {
    "born_grams": _born_grams,
    "born_weeks": _born_weeks,
    "baby_small": _small,
    "at_risk": _at_risk,
    "yellow": _yellow,
    "fever_cause_judged": _fever_cause,
    "urine_since_birth": _urine_since_birth,
    "stool_since_birth": _stool_since_birth,
    "weight_loss_percent": _loss_percent,
    "below_birth_weight_day": _below_birth_weight_day,
    "still_losing": _still_losing,
    "gain_g_per_day": _gain,
    "weight_for_age_z": _weight_for_age,
    "poor_position": _poor_position,
    "poor_attachment": _poor_attachment,
    "poor_suckling": _poor_suckling,
    "feeds_drop_percent": feeds_drop,
    "wet_drop_percent": wet_drop,
    "wet_falls": wet_falls,
    "pain_rise": pain_rise,
    "answers_disagree": answers_disagree,
}

"""What rules look at, in short words on the screens: axes come in, words go out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from bot.core.explain import Compared
from bot.core.facts import Axis, AxisKind
from bot.core.states import Urgency
from bot.web.fact_names import WORDS
from bot.web.formats import number, urgency_word
from bot.web.labels import amount, answer_label, is_labelled, seen_label
from bot.web.words import _, lazy

# What no answer says by itself; an axis of an answer has the name of its fact.
_AXES = {
    "unanswered_check_ins": lazy("Check-ins without an answer, in a row"),
    "yellow": lazy("Yellow down to"),
    "fever_cause_judged": lazy("Cause of the fever"),
    "urine_since_birth": lazy("Urine since birth"),
    "stool_since_birth": lazy("Stool since birth"),
    "poor_suckling": lazy("Suckling"),
    "born_grams": lazy("Birth weight in grams"),
    "born_weeks": lazy("Weeks of pregnancy at birth"),
    "baby_small": lazy("Small or early baby"),
    "at_risk": lazy("A pair at risk"),
    "weight_loss_percent": lazy("Weight lost, in % of birth weight"),
    "below_birth_weight_day": lazy("Below birth weight at the age in days of"),
    "still_losing": lazy("Still losing weight"),
    "gain_g_per_day": lazy("Grams gained a day"),
    "feeds_drop_percent": lazy("Feeds fewer than before, in %"),
    "wet_drop_percent": lazy("Wet nappies fewer than before, in %"),
    "wet_falls": lazy("Times in a row that wet nappies fell"),
    "pain_rise": lazy("Points of pain more than before"),
    "feeds_finding": lazy("Finding on too few feeds"),
    "wet_finding": lazy("Finding on wet nappies"),
    "feeding_findings": lazy("Findings on feeding together"),
    "weight_for_age_z": lazy("Weight for age, z-score"),
}
_COUNTED = frozenset({"feeding_findings"})  # an outcome that counts; the others are urgencies


def sentences(lines: Sequence[Compared]) -> list[str]:
    """Say each comparison of a rule with the value that was judged: 'Feeds: 5 (threshold: at most 5)'.

    A yes or no that is all the rule looks at, or that has no short name, is left to the rule's reason, which
    says it already.
    """
    if len(lines) == 1 and lines[0].axis.kind is AxisKind.flag:
        return []
    return list(dict.fromkeys(_sentences(lines)))


def _sentences(lines: Sequence[Compared]) -> Iterator[str]:
    for line in lines:
        name = axis_label(line.axis)
        if not name:
            continue
        if line.axis.kind is AxisKind.flag:
            yield _("%(fact)s: %(value)s", fact=name, value=_("yes") if line.value else _("no"))
        else:
            yield _(
                "%(fact)s: %(value)s (threshold: %(threshold)s)",
                fact=name,
                value=_value(line),
                threshold=_threshold(line),
            )


def axis_label(axis: Axis) -> str:
    """Name what a rule looks at; '' where there is no short name."""
    if axis.id in _AXES:
        return _(_AXES[axis.id])
    return answer_label(axis.fact) if is_labelled(axis.fact) else ""


def _value(line: Compared) -> str:
    if line.value is None:
        return _("not known")
    if isinstance(line.value, str):
        return _choice(line.value)
    return _figure(line, float(line.value))


def _threshold(line: Compared) -> str:
    """Where a rule begins to hold, in words: 'at most 5', 'above 6', 'legs or worse'."""
    if line.axis.kind is AxisKind.choice:
        return _or_worse(_choice(line.bound), is_worst=line.bound == line.axis.values[-1])
    if line.bound in Urgency.__members__:
        urgency = Urgency[line.bound]
        return _or_worse(_figure(line, float(urgency)), is_worst=urgency is max(Urgency))
    at = float(line.bound)
    match line.operator:
        case "at most":
            return amount(None, at)
        case "at least":
            return amount(at, None)
        case "below":
            return _("below %(n)s", n=number(at))
        case _:
            return _("above %(n)s", n=number(at))


def _or_worse(words: str, *, is_worst: bool) -> str:
    return words if is_worst else _("%(what)s or worse", what=words)


def _figure(line: Compared, value: float) -> str:
    if line.axis.kind is AxisKind.outcome and line.axis.id not in _COUNTED:
        return urgency_word(Urgency(int(value)))
    return number(round(value, 2))  # 9.97 % is below 10, a z-score of -2.02 below -2


def _choice(value: str) -> str:
    return _(WORDS[value]) if value in WORDS else seen_label("", value)[1]

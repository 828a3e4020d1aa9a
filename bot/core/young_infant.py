"""How a baby is classified at a review: what was seen, said and weighed comes in, what was found goes out.

The young-infant chart of WHO IMCI (chart booklet 2014, from memory; Open University HEAT IMNCI Session 10
Table 10.2, seen in part): a baby that can't feed is referred at once; any feeding problem, thrush or low
weight for age is one class, counselled and seen again; else there is no feeding problem. Position counts as
in the HEAT edition. Danger signs that are no part of feeding are for triage. A sign that nobody looked at is
no problem, and not well either: it is named among the missing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum

from bot.core import growth
from bot.core.facts import Vocabulary
from bot.core.growth import ForAge, Standing, Weight
from bot.core.pair import Answer, Assessment, Baby, Pair
from bot.core.schedule import ReviewPolicy

POSITION = ("position_neck", "position_turned", "position_close", "position_supported")
ATTACHMENT = ("attachment_chin", "attachment_mouth", "attachment_lower_lip", "attachment_areola")
SUCKLING = "suckling"
RECENT = timedelta(days=2)  # answers given this long before a review still tell how the baby feeds


class Sign(StrEnum):
    """What makes the class; what was not looked at is named by the same words."""

    position = "position"
    attachment = "attachment"
    suckling = "suckling"
    feeds = "feeds"
    other_food = "other_food"
    thrush = "thrush"
    weight = "weight"


class Outcome(StrEnum):
    """The row of the chart. `unsure`: nothing was found, but not everything was looked at."""

    refer = "refer"
    problem = "problem"
    none = "none"
    unsure = "unsure"


_POOR_SAID = {Sign.feeds: "few", Sign.other_food: "yes", Sign.thrush: "yes"}
BESIDES = (
    *(f"{sign}={poor}" for sign, poor in _POOR_SAID.items()),
    "weight=low",
    "weight=very_low",
    "weight=low_lasting",
)
_POOR = frozenset({"no", "not_effective", "not_at_all"})
_GOOD = frozenset({"yes", "effective"})

# What the chart looks at in every baby; a breastfeed is watched where one of these is poor or unknown.
ALWAYS = (Sign.feeds, Sign.other_food, Sign.thrush, Sign.weight)


@dataclass(frozen=True, slots=True)
class Classified:
    """One baby. `standing` is its weight beside the standard, None where that can't be judged. `lasting`: low
    weight found before and still there, while it lost weight or has a feeding problem: refer."""

    outcome: Outcome
    signs: tuple[Sign, ...]
    missing: tuple[Sign, ...]
    standing: Standing | None = None
    lasting: bool = False

    @property
    def feeding(self) -> tuple[Sign, ...]:
        """The problems seen again first: all but low weight."""
        return tuple(sign for sign in self.signs if sign is not Sign.weight)

    @property
    def besides(self) -> tuple[str, ...]:
        """What counselling can answer besides the signs of the breastfeed: some of `BESIDES`."""
        found = [f"{sign}={_POOR_SAID[sign]}" for sign in self.signs if sign in _POOR_SAID]
        if self.standing is not None and Sign.weight in self.signs:
            found.append(f"weight={self.standing.for_age}")
        return (*found, "weight=low_lasting") if self.lasting else tuple(found)


def classify(
    pair: Pair,
    baby: Baby,
    seen: Assessment | None,
    at: datetime,
    policy: ReviewPolicy,
    vocabulary: Vocabulary,
) -> Classified:
    """Classify `baby` by what was `seen` at the moment `at` and what was said in the two days before it."""
    at = at.astimezone(UTC)  # two moments of one zone would be compared by the wall, across clock changes
    said = {
        answer.key: answer
        for answer in sorted(pair.answers, key=lambda each: each.at)
        if answer.baby in (None, baby.ordinal)
        and answer.superseded_by is None
        and timedelta(0) <= at - answer.at < RECENT
    }
    standing = _judged(pair, baby, seen, vocabulary) if seen else None
    found = {
        **_breastfeed(seen.signs if seen else {}),
        Sign.feeds: _few(said.get("feeds"), policy.feeds_at_least),
        Sign.other_food: _yes(said.get("other_food")),
        Sign.thrush: _yes(said.get("thrush")),
        Sign.weight: _low(pair, baby, seen, standing, vocabulary),
    }
    signs = tuple(sign for sign, is_poor in found.items() if is_poor)
    missing = tuple(sign for sign, is_poor in found.items() if is_poor is None)
    return Classified(
        _outcome(signs, missing, seen),
        signs,
        missing,
        standing,
        lasting=Sign.weight in signs
        and seen is not None
        and _was_low(pair, baby, seen, vocabulary)
        and (len(signs) > 1 or _lost(pair, baby, seen)),
    )


def standing_of(pair: Pair, baby: Baby, seen: Assessment, vocabulary: Vocabulary) -> Standing | None:
    """Set the weight of an assessment beside the standard, whatever the age."""
    if seen.weight_g is None:
        return None
    age = _age(pair, baby, seen)
    return growth.standing(vocabulary.standard, baby.sex, seen.weight_g, age, baby.gestation_weeks)


def weights_before(pair: Pair, baby: Baby, moment: datetime) -> list[Weight]:
    """Give the weights of a baby known before a moment, that at birth among them."""
    known = [
        Weight(pair.local(a.at).date(), a.weight_g)
        for a in pair.assessments
        if a.baby == baby.ordinal and a.weight_g is not None and a.at < moment
    ]
    if baby.birth_weight_g is not None:
        known.append(Weight(baby.born_on, baby.birth_weight_g, at_birth=True))
    return known


def _outcome(signs: tuple[Sign, ...], missing: tuple[Sign, ...], seen: Assessment | None) -> Outcome:
    if seen is not None and seen.signs.get(SUCKLING) == "not_at_all":
        return Outcome.refer
    if signs:
        return Outcome.problem
    return Outcome.none if set(ALWAYS).isdisjoint(missing) else Outcome.unsure


def _breastfeed(signs: Mapping[str, str]) -> dict[Sign, bool | None]:
    """Each group of signs: poor, good, or None where it can't be said."""
    groups = {
        Sign.position: [signs.get(sign) for sign in POSITION],
        Sign.attachment: [signs.get(sign) for sign in ATTACHMENT],
        Sign.suckling: [signs.get(SUCKLING)],
    }
    return {
        group: True if not _POOR.isdisjoint(seen) else None if not _GOOD.issuperset(seen) else False
        for group, seen in groups.items()
    }


def _few(feeds: Answer | None, at_least: int) -> bool | None:
    """A range is judged by its lower end; 'less than 8' by its upper one."""
    fewest = None if feeds is None else feeds.high if feeds.low is None else feeds.low
    return None if fewest is None else fewest < at_least


def _yes(answer: Answer | None) -> bool | None:
    return None if answer is None else answer.high == 1


def _low(
    pair: Pair, baby: Baby, seen: Assessment | None, standing: Standing | None, vocabulary: Vocabulary
) -> bool | None:
    """A weight too young for the standard is not low; one not taken, or of unknown sex, is missing."""
    if seen is None or seen.weight_g is None:
        return None
    if standing is not None:
        return standing.for_age is not ForAge.not_low
    return None if baby.sex is None and _makes_a_class(pair, baby, seen, vocabulary) else False


def _judged(pair: Pair, baby: Baby, seen: Assessment, vocabulary: Vocabulary) -> Standing | None:
    """The weight beside the standard, from the age on at which it makes a class."""
    if not _makes_a_class(pair, baby, seen, vocabulary):
        return None
    return standing_of(pair, baby, seen, vocabulary)


def _makes_a_class(pair: Pair, baby: Baby, seen: Assessment, vocabulary: Vocabulary) -> bool:
    return _age(pair, baby, seen) >= vocabulary.facts["weight_for_age_z"].limits["from_day"]


def _was_low(pair: Pair, baby: Baby, seen: Assessment, vocabulary: Vocabulary) -> bool:
    earlier = [a for a in pair.assessments if a.baby == baby.ordinal and a.at < seen.at]
    found = [_judged(pair, baby, each, vocabulary) for each in earlier]
    return any(each is not None and each.for_age is not ForAge.not_low for each in found)


def _lost(pair: Pair, baby: Baby, seen: Assessment) -> bool:
    if seen.weight_g is None:
        return False
    since_birth, since_last = growth.changes(
        weights_before(pair, baby, seen.at), seen.weight_g, pair.local(seen.at).date()
    )
    latest = since_last or since_birth
    return latest is not None and latest.grams < 0


def _age(pair: Pair, baby: Baby, seen: Assessment) -> int:
    return (pair.local(seen.at).date() - baby.born_on).days

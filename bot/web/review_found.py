"""What a review found of one baby: an assessment and what triage made of it come in, words go out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from bot.content.counselling import LOSS, Step, counselling, steps_for
from bot.core import growth
from bot.core.follow import Content
from bot.core.follow.reviews import WEIGH_AGAIN
from bot.core.pair import Assessment, Pair
from bot.core.states import Urgency
from bot.core.young_infant import classify, standing_of, weights_before
from bot.store.views_reviews import Judged
from bot.web.formats import age_words, urgency_mark, urgency_word
from bot.web.growth_words import MISSING, OUTCOMES, found_words, standing_words
from bot.web.labels import seen_label
from bot.web.reasons import Why, why
from bot.web.story import baby_name
from bot.web.words import _


@dataclass(frozen=True, slots=True)
class Found:
    """What a review found of one baby. A change is None where there is nothing to compare with."""

    name: str
    age: str
    weight_g: int | None
    since_birth: growth.Change | None
    since_last: growth.Change | None
    gain: float | None  # grams a day since the last weight
    regained: growth.Weight | None
    standing: str  # beside the standard, in words
    poor: tuple[str, ...]
    outcome: str
    problems: tuple[str, ...]
    missing: tuple[str, ...]
    steps: tuple[Step, ...]
    urgency: str
    mark: str
    reasons: tuple[Why, ...]


def found_of(
    pair: Pair, seen: Assessment, judged: Sequence[Judged], content: Content, now: datetime
) -> Found:
    """Give what an assessment found of its baby.

    judged   what triage made of it, of every baby of the pair
    content  with the rules in force at the site
    """
    baby = next(each for each in pair.babies if each.ordinal == seen.baby)
    verdict = next((each for each in judged if each.baby == seen.baby), None)
    vocabulary, policy = content.rules.vocabulary, content.schedule.review
    classified = classify(pair, baby, seen, seen.at, policy, vocabulary)
    known, on = weights_before(pair, baby, seen.at), pair.local(seen.at).date()
    since_birth = since_last = gain = regained = None
    if seen.weight_g is not None:
        weighed = growth.Weight(on, seen.weight_g)
        since_birth, since_last = growth.changes(known, seen.weight_g, on)
        gain = growth.gain_a_day(since_last.since, weighed) if since_last else None
        regained = growth.regained([*known, weighed])
    urgency = verdict.urgency if verdict else Urgency.none
    fired = [str(each["rule"]) for each in verdict.fired] if verdict else []
    return Found(
        name=baby_name(pair, baby.ordinal),
        age=age_words(baby, now, pair.tz),
        weight_g=seen.weight_g,
        since_birth=since_birth,
        since_last=since_last,
        gain=gain,
        regained=regained,
        standing=standing_words(baby, standing_of(pair, baby, seen, vocabulary), classified.standing),
        poor=tuple(_poor(sign, value) for sign, value in seen.signs.items() if _is_poor(value)),
        outcome=_(OUTCOMES[classified.outcome]),
        problems=tuple(found_words(sign, policy.feeds_at_least) for sign in classified.signs),
        missing=tuple(_(MISSING[sign]) for sign in classified.missing),
        steps=steps_for(seen.signs, counselling(), (*classified.besides, *_lost(content, fired))),
        urgency=urgency_word(urgency) if urgency else "",
        mark=urgency_mark(urgency) if urgency else "",
        reasons=tuple(why(content, rule) for rule in fired),
    )


def _lost(content: Content, fired: Sequence[str]) -> tuple[str, ...]:
    rules = (content.rules.rule(each) for each in fired)
    return (LOSS,) if any(rule and rule.ladder in WEIGH_AGAIN for rule in rules) else ()


def _is_poor(value: str) -> bool:
    return value in ("no", "not_effective", "not_at_all")


def _poor(sign: str, value: str) -> str:
    name, words = seen_label(sign, value)
    return f"{name}: {words}"

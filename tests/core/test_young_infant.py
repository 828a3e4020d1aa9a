"""How a baby is classified at a review.

Sources: WHO IMCI chart booklet 2014, sick young infant, "Then check for feeding problem or low weight for
age" (from memory), and Open University HEAT IMNCI Session 10 Table 10.2 (T10.2, seen in part). Weights: WHO
Child Growth Standards 2006, boys: at 14 days -2 SD is 2798 g, at 28 days 3305 g.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.content.rules import load_rules
from bot.content.source import content_root
from bot.core.growth import ForAge
from bot.core.pair import Answer
from bot.core.schedule import ReviewPolicy
from bot.core.young_infant import ATTACHMENT, POSITION, Classified, Outcome, Sign, classify
from tests.support.pairs import BORN, ZONE, a_baby, a_pair, an_assessment, an_id

VOCABULARY = load_rules(content_root()).vocabulary
DAY = timedelta(days=1)
AT = datetime(2026, 3, 16, 10, 20, tzinfo=ZoneInfo(ZONE))  # 14 days old
BOY = a_baby(sex="male", birth_weight_g=2700)
WELL = (("feeds", 9, 9), ("other_food", 0, 0), ("thrush", 0, 0))


def an_answer(key: str, low: float | None, high: float | None, at: datetime = AT, **changes: Any) -> Answer:
    answer = Answer(id=an_id("answer", key, at, low), key=key, baby=1, low=low, high=high, at=at)
    return replace(answer, **changes)


def found(
    said: Any = WELL, *, baby: Any = BOY, at: datetime = AT, earlier: Any = (), more: Any = (), **signs: Any
) -> Classified:
    """Classify a boy of 14 days, all well but for what is given."""
    answers = (*(an_answer(key, low, high, at) for key, low, high in said), *more)
    seen = an_assessment(at, occasion="review", **{"weight_g": 2900} | signs)
    pair = a_pair(babies=[baby], answers=answers, assessments=(*earlier, seen))
    return classify(pair, baby, seen, at, ReviewPolicy(), VOCABULARY)


def but(**changed: tuple[float | None, float | None]) -> tuple[Any, ...]:
    """Everything said was well, except this."""
    return tuple((key, *changed.get(key, ends)) for key, *ends in WELL)


@pytest.mark.parametrize(
    ("said", "signs", "outcome", "expected"),
    [
        pytest.param(WELL, {}, Outcome.none, (), id="IMCI: no other sign of inadequate feeding"),
        pytest.param(
            WELL, {"suckling": "not_at_all"}, Outcome.refer, (Sign.suckling,), id="IMCI: not able to feed"
        ),
        pytest.param(
            WELL, {"suckling": "not_effective"}, Outcome.problem, (Sign.suckling,), id="T10.2: suckling"
        ),
        pytest.param(
            WELL, {"attachment_areola": "no"}, Outcome.problem, (Sign.attachment,), id="T10.2: attachment"
        ),
        pytest.param(
            WELL, {"position_close": "no"}, Outcome.problem, (Sign.position,), id="T10.2 only: position"
        ),
        pytest.param(but(feeds=(7, 7)), {}, Outcome.problem, (Sign.feeds,), id="T10.2: fewer than 8 feeds"),
        pytest.param(but(feeds=(8, 8)), {}, Outcome.none, (), id="T10.2: 8 feeds"),
        pytest.param(but(feeds=(7, 9)), {}, Outcome.problem, (Sign.feeds,), id="7 to 9 feeds: the lower end"),
        pytest.param(but(feeds=(None, 5)), {}, Outcome.problem, (Sign.feeds,), id="'less than 6' feeds"),
        pytest.param(but(feeds=(8, None)), {}, Outcome.none, (), id="8 feeds or more"),
        pytest.param(
            but(other_food=(1, 1)), {}, Outcome.problem, (Sign.other_food,), id="T10.2: other food or drink"
        ),
        pytest.param(but(thrush=(1, 1)), {}, Outcome.problem, (Sign.thrush,), id="T10.2: thrush"),
        pytest.param(
            WELL, {"weight_g": 2790}, Outcome.problem, (Sign.weight,), id="T10.2: low weight for age"
        ),
        pytest.param(WELL, {"weight_g": 2800}, Outcome.none, (), id="just not low"),
        pytest.param(
            but(thrush=(1, 1)),
            {"weight_g": 2790, "attachment_chin": "no"},
            Outcome.problem,
            (Sign.attachment, Sign.thrush, Sign.weight),
            id="several at once",
        ),
    ],
)
def test_a_baby_is_classified_as_the_chart_does(said, signs, outcome, expected):
    classified = found(said, **signs)

    assert (classified.outcome, classified.signs) == (outcome, expected)


@pytest.mark.parametrize(
    ("said", "signs", "outcome", "missing"),
    [
        pytest.param(WELL[1:], {}, Outcome.unsure, (Sign.feeds,), id="feeds not asked"),
        pytest.param(WELL[:2], {}, Outcome.unsure, (Sign.thrush,), id="mouth not looked into"),
        pytest.param(WELL, {"weight_g": None}, Outcome.unsure, (Sign.weight,), id="not weighed"),
        pytest.param(
            WELL, {"suckling": "not_seen"}, Outcome.none, (Sign.suckling,), id="a breastfeed need not be seen"
        ),
        pytest.param(
            WELL[1:],
            {"position_neck": "no"},
            Outcome.problem,
            (Sign.feeds,),
            id="a problem is one all the same",
        ),
    ],
)
def test_what_nobody_looked_at_is_named_and_is_not_called_well(said, signs, outcome, missing):
    classified = found(said, **signs)

    assert (classified.outcome, classified.missing) == (outcome, missing)


@pytest.mark.parametrize(
    ("baby", "days", "grams", "low", "is_missing"),
    [
        # The first week is judged by loss, an early baby from 40 weeks on (both from memory).
        pytest.param({}, 6, 2300, None, False, id="first week"),
        pytest.param({}, 7, 2570, ForAge.low, False, id="from day 7: -2 SD is 2579 g"),
        pytest.param({"gestation_weeks": 34}, 28, 2100, None, False, id="34 weeks, before term"),
        pytest.param({"gestation_weeks": 34}, 56, 2790, ForAge.low, False, id="34 weeks, corrected 14 days"),
        pytest.param({}, 28, 2700, ForAge.very_low, False, id="-3 SD at 28 days is 2854 g"),
        pytest.param({"sex": None}, 14, 2300, None, True, id="sex not known"),
        pytest.param({"sex": None}, 6, 2300, None, False, id="sex not known, first week"),
    ],
)
def test_a_weight_makes_a_class_only_where_the_standard_can(baby, days, grams, low, is_missing):
    classified = found(baby=replace(BOY, **baby), at=AT + (days - 14) * DAY, weight_g=grams)

    assert (classified.standing and classified.standing.for_age) == low
    assert (Sign.weight in classified.signs, Sign.weight in classified.missing) == (
        low is not None,
        is_missing,
    )


def weighed(days: int, grams: int) -> Any:
    return an_assessment(BORN + days * DAY, occasion="review", weight_g=grams)


@pytest.mark.parametrize(
    ("earlier", "said", "grams", "lasting"),
    [
        # "Still low: again in 14 days; lost weight or feeding not improving: refer" (IMCI 2014, from memory).
        pytest.param([(14, 2700)], WELL, 3200, False, id="still low, gaining and feeding well"),
        pytest.param([(14, 2700)], but(feeds=(6, 6)), 3200, True, id="still low, few feeds"),
        pytest.param([(14, 2780)], WELL, 2750, True, id="still low, weight lost"),
        pytest.param([(14, 2900)], WELL, 2880, False, id="low for the first time"),
        pytest.param([(14, 2700)], but(feeds=(6, 6)), 3400, False, id="no longer low"),
    ],
)
def test_low_weight_that_lasts_with_a_problem_is_referred(earlier, said, grams, lasting):
    before = [weighed(*each) for each in earlier]

    assert found(said, at=BORN + 28 * DAY, earlier=before, weight_g=grams).lasting is lasting


def test_the_newest_answer_that_stands_counts_and_those_of_a_twin_do_not():
    old = an_answer("feeds", 6, 6, AT - DAY)
    assert found(WELL, more=[old]).outcome is Outcome.none
    assert found(WELL[1:], more=[old]).signs == (Sign.feeds,)
    assert found(WELL[1:], more=[replace(old, superseded_by=an_id("x"))]).missing == (Sign.feeds,)
    assert found(WELL[1:], more=[replace(old, baby=2)]).missing == (Sign.feeds,)
    assert found(WELL[1:], more=[replace(old, baby=None)]).signs == (Sign.feeds,)
    assert found(WELL[1:], more=[replace(old, at=AT - 2 * DAY)]).missing == (Sign.feeds,)


def test_a_baby_that_nobody_saw_is_not_called_well():
    pair = a_pair(babies=[BOY], answers=tuple(an_answer(*each) for each in WELL))

    assert classify(pair, BOY, None, AT, ReviewPolicy(), VOCABULARY).outcome is Outcome.unsure


SEEN = st.sampled_from(["yes", "no", "not_seen"])


@given(
    st.fixed_dictionaries(dict.fromkeys(POSITION + ATTACHMENT, SEEN)),
    st.sampled_from(["effective", "not_effective", "not_at_all", "not_seen"]),
    st.lists(st.sampled_from([*WELL, *but(feeds=(5, 5), other_food=(1, 1), thrush=(1, 1))]), max_size=3),
    st.none() | st.integers(2000, 3500),
)
def test_one_more_poor_sign_never_makes_a_milder_class(signs, suckling, said, grams):
    order = (Outcome.none, Outcome.unsure, Outcome.problem, Outcome.refer)
    before = found(said, suckling=suckling, weight_g=grams, **signs)
    after = found(said, suckling=suckling, weight_g=grams, **signs | {"attachment_chin": "no"})

    assert order.index(after.outcome) >= order.index(before.outcome)
    assert set(before.signs) <= set(after.signs)
    assert not set(before.signs) & set(before.missing)

"""The number of a mother is tried again, or changed, by a person on the ward."""

from __future__ import annotations

from datetime import timedelta

import pytest

from bot.content.factory import load_factory
from bot.core.errors import Conflict
from bot.core.follow import Content, follow
from bot.core.follow.events import Cancel, ChangePhone, Effect, Enrolled, Say, SendPractice, StaffActed
from bot.core.pair import Pair
from bot.core.states import Texting
from tests.support.pairs import DISCHARGED, a_mother, a_pair, an_id

WHO = an_id("staff")
LATER = DISCHARGED + timedelta(minutes=10)


def content() -> Content:
    factory = load_factory()
    return Content(
        schedule=factory.schedules["standard"],
        rules=factory.rules,
        occasions=factory.occasions,
        questions=frozenset(factory.questions),
    )


def unverified() -> Pair:
    pair, _ = follow(
        a_pair(mother=a_mother(texting=Texting.unverified)), Enrolled(True), content(), DISCHARGED
    )
    return pair


def said(effects: tuple[Effect, ...]) -> list[tuple[str, str]]:
    return [(effect.text_key, effect.once_key) for effect in effects if isinstance(effect, Say)]


def test_the_practice_text_goes_again_at_once_and_a_doubled_click_makes_one_text():
    pair = unverified()
    after, effects = follow(pair, StaffActed(WHO, SendPractice("k1")), content(), LATER)
    assert said(effects) == [("practice", "practice:k1")]
    assert said(follow(after, StaffActed(WHO, SendPractice("k1")), content(), LATER)[1]) == said(effects)


def test_a_number_that_has_answered_is_not_tried_again():
    with pytest.raises(Conflict):
        follow(a_pair(), StaffActed(WHO, SendPractice("k1")), content(), LATER)


@pytest.mark.parametrize("before", list(Texting))
def test_a_changed_number_is_tried_like_the_first_whatever_became_of_the_old(before):
    phone = None if before is Texting.none else "+447700900123"
    pair = a_pair(mother=a_mother(texting=before, phone=phone))
    after, effects = follow(pair, StaffActed(WHO, ChangePhone("+447700900124", True)), content(), LATER)
    assert (after.mother.phone, after.mother.phone_shared) == ("+447700900124", True)
    assert after.mother.texting is Texting.unverified
    assert [effect.which for effect in effects if isinstance(effect, Cancel)] == ["all"]
    assert [key for key, _ in said(effects)] == ["practice"]

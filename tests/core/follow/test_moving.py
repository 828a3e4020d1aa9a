"""Another site takes over; a mother dies and the baby lives."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from bot.core.errors import Conflict, Invalid
from bot.core.follow.events import (
    AcceptMove,
    ChangePhone,
    Note,
    OfferMove,
    RecordMotherDeath,
    WithdrawMove,
)
from bot.core.states import EnrolmentState, MotherState, Texting
from tests.support.life import Life, a_life
from tests.support.pairs import a_site, an_id

OTHER = replace(a_site(), id=an_id("site", "hill"), code="hill", name="Hill Clinic", open_days=frozenset({4}))


def notes(life: Life, subject: str) -> list[tuple[str, str]]:
    return [(n.before, n.after) for n in life.last if isinstance(n, Note) and n.subject == subject]


def test_they_stay_here_until_the_other_site_accepts():
    life = a_life()
    here = life.pair.site
    life.staff(OfferMove(OTHER.id))
    assert (life.pair.site, life.pair.offered_to) == (here, OTHER.id)
    assert notes(life, "move") == [("", "offered")]
    assert life.wake_until("day-3").pair.site == here  # the schedule goes on meanwhile


def test_the_open_item_and_the_review_go_along_and_she_is_told_the_new_numbers():
    life = a_life().reply("I want to talk to somebody")
    item = life.item
    assert item is not None
    life.staff(OfferMove(OTHER.id)).staff(AcceptMove(OTHER))
    assert (life.pair.site, life.pair.offered_to) == (OTHER, None)
    assert life.item is not None
    assert life.item.id == item.id
    review = life.pair.expected_review
    assert review is not None
    assert OTHER.is_open(review.on_day)
    assert life.new_texts == ["site-changed"]
    assert notes(life, "move") == [("lakeside", "hill")]


def test_without_an_open_day_nearby_a_person_finds_one():
    closed = replace(OTHER, open_days=frozenset())
    life = a_life().staff(OfferMove(OTHER.id)).staff(AcceptMove(closed))
    assert "no_open_day" in life.rules


def test_who_gets_no_texts_is_told_by_a_person():
    life = a_life().reply("stop the messages").staff(OfferMove(OTHER.id)).staff(AcceptMove(OTHER))
    assert "site_changed_untold" in life.rules
    assert life.new_texts == []


def test_only_what_is_offered_can_be_accepted_and_only_once():
    life = a_life()
    with pytest.raises(Conflict):
        life.staff(AcceptMove(OTHER))
    with pytest.raises(Conflict):
        life.staff(WithdrawMove("withdrawn"))
    with pytest.raises(Invalid):
        life.staff(OfferMove(life.pair.site.id))
    life.staff(OfferMove(OTHER.id)).staff(WithdrawMove("declined"))
    assert life.pair.offered_to is None
    with pytest.raises(Conflict):
        life.staff(AcceptMove(OTHER))


def test_after_the_mothers_death_nothing_is_texted_and_people_follow_the_baby():
    life = a_life().wake_until("day-3").staff(RecordMotherDeath())
    assert life.withdrawn == ["all"]
    assert life.pair.mother.state is MotherState.died
    assert life.pair.mother.texting is Texting.none
    assert life.pair.state is EnrolmentState.following
    assert life.rules >= {"mother_died"}
    before = len(life.texts)
    life.wake_for(days=14)
    assert len(life.texts) == before
    assert life.outcome("day-7") == "call"


def test_a_dead_mothers_number_is_never_texted_again_whatever_is_pressed():
    life = a_life().staff(RecordMotherDeath())
    with pytest.raises(Conflict):
        life.staff(RecordMotherDeath())
    with pytest.raises(Conflict):
        life.staff(ChangePhone("+447700900155", False))
    life.reply("start", timedelta(hours=1))
    assert life.pair.mother.texting is Texting.none

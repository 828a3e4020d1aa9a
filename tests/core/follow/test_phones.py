"""Phones as they are: missed calls, other numbers, a text that corrects the one before, another language."""

from __future__ import annotations

from datetime import timedelta

import pytest

from bot.content.factory import load_factory
from bot.core.checkin import amended, asked, question_at
from bot.core.follow.events import ChangePhone as Change
from bot.core.follow.events import RangUs, ReplyRead, StaffActed
from bot.core.outbox import Priority
from bot.core.reader import read
from bot.core.reader.language import wished_language
from bot.core.states import EnrolmentState, Texting, Urgency
from tests.support.life import COUNSELLOR, Life, a_life
from tests.support.pairs import an_id

MINUTE = timedelta(minutes=1)


def rings(life: Life, n: int = 1, **changes: bool) -> Life:
    life.now += MINUTE
    return life.happens(RangUs(an_id("ring", n), life.now, **changes))


def other_phone_says(life: Life, text: str) -> Life:
    life.now += MINUTE
    reading = read(text, [], None, load_factory().lexicons["en"])
    return life.happens(ReplyRead(an_id("other", 1), life.now, reading, None, False, hers=False))


def in_check_in() -> Life:
    return a_life().wake_until("day-3")


def test_a_missed_call_means_please_call_me():
    life = rings(a_life())
    assert life.rules == {"missed_call"}
    assert life.item is not None
    assert life.item.urgency is Urgency.same_day
    assert life.new_texts == ["call-coming"]
    assert life.priorities == [Priority.answer]


def test_many_rings_are_one_item():
    """The text that answers a ring has one key an hour: the store makes it once."""
    life = rings(rings(a_life()), 2)
    assert life.count("missed_call") == 2
    keys = [effect.once_key for effect in life.effects if getattr(effect, "text_key", "") == "call-coming"]
    assert len(set(keys)) == 1


def test_a_missed_call_settles_no_question():
    life = in_check_in()
    before = life.open_question
    assert rings(life).open_question == before


def test_a_ring_from_a_closed_pair_lets_a_person_look():
    life = a_life().live_until("finished")
    life.wake_for(days=3)
    assert life.pair.closed_reason == "finished"
    assert rings(life).rules == {"missed_call"}
    assert life.pair.state is EnrolmentState.held
    assert life.new_texts == []


def test_words_from_another_number_of_hers_go_to_a_person_and_end_nothing():
    life = other_phone_says(a_life(), "stop the messages")
    assert life.rules == {"other_number"}
    assert life.pair.mother.texting is Texting.on


def test_a_number_that_is_not_hers_verifies_nothing():
    life = other_phone_says(a_life(verified=False), "8")
    assert life.pair.mother.texting is Texting.unverified


def test_a_danger_from_another_number_of_hers_is_her_danger():
    life = other_phone_says(a_life(), "the baby is very hot and won't wake up")
    assert life.item is not None
    assert life.item.urgency is Urgency.go_now
    assert life.new_texts == ["advice-go-now"]


def test_a_phone_number_in_a_reply_is_looked_at_today():
    life = a_life().reply("my new number is +44 7700 900155")
    assert life.rules == {"new_number"}
    assert life.item is not None
    assert life.item.urgency is Urgency.same_day
    assert life.new_texts == ["person-reads"]


def test_a_changed_number_must_answer_first_and_nothing_meant_for_the_old_one_goes_out():
    life = in_check_in()
    life.happens(StaffActed(COUNSELLOR, Change("+447700900155", False)))
    assert life.withdrawn == ["all"]
    assert life.pair.mother.texting is Texting.unverified
    assert life.new_texts == ["practice"]


def test_sorry_7_corrects_the_answer_before_it_when_the_next_question_has_hardly_come():
    life = in_check_in().reply("no")
    first = asked(life.pair.open_check_in)
    assert first is not None
    life.reply("6")
    later = life.now + timedelta(seconds=40)
    current = question_at(life.pair, later)
    assert current is not None
    assert current.id != first.id
    about = amended(life.pair, current, later)
    assert about is not None
    assert about.id == first.id
    slow = amended(life.pair, current, life.now + timedelta(minutes=10))
    assert slow is not None
    assert slow.id == current.id


@pytest.mark.parametrize("text", ["sorry 7", "i mean 7", "oops 7", "no sorry 7"])
def test_the_reader_says_that_a_text_takes_something_back(text):
    assert "amends" in read(text, ["feeds"], 5, load_factory().lexicons["en"]).notes


@pytest.mark.parametrize("text", ["7", "7 sorry for the delay", "thank you"])
def test_other_texts_take_nothing_back(text):
    assert "amends" not in read(text, ["feeds"], 5, load_factory().lexicons["en"]).notes


WISHES = [
    ("en", "arabic please", "ar"),
    ("en", "العربية", "ar"),
    ("en", "ARABIC", "ar"),
    ("ar", "english please", "en"),
    ("ar", "بالانجليزي لو سمحتم", "en"),
    ("en", "english", ""),  # she has it already
    ("en", "no arabic", ""),  # asks for it, or refuses it: a person reads
    ("en", "arabic or english", "ar"),
    ("en", "8 arabic", ""),  # an answer first
    ("en", "my husband is an arabic teacher and he works in town", ""),
    ("en", "baby is hot arabic", ""),
]


@pytest.mark.parametrize(("own", "text", "language"), WISHES)
def test_a_short_text_that_names_another_language_asks_for_it(own, text, language):
    factory = load_factory()
    reading = read(text, ["feeds"], 5, factory.lexicons[own])
    assert wished_language(text, reading, factory.lexicons[own], factory.language_names) == language


def test_her_language_changes_and_the_open_question_comes_again_in_it():
    life = in_check_in()
    question = asked(life.pair.open_check_in)
    assert question is not None
    reading = read("arabic please", [question.key], 5, load_factory().lexicons["en"])
    event = ReplyRead(an_id("inbound", 77), life.now + MINUTE, reading, question.id, language="ar")
    life.happens(event, MINUTE)
    assert life.pair.mother.language == "ar"
    assert life.new_texts == ["language-changed", f"again-{question.key}"]
    assert life.rules == {"language_changed"}
    assert any(getattr(e, "subject", "") == "language" for e in life.last)  # the line of the audit

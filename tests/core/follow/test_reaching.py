"""Who can't be texted, or not now, is reached by a person: unverified, without a phone, stopped, busy."""

from __future__ import annotations

from datetime import timedelta
from functools import partial

import pytest

from bot.core.errors import Conflict
from bot.core.follow.events import ConfirmPhone, Delivered, Enrolled, StopTexts, Undelivered
from bot.core.plan import next_contact
from bot.core.states import Texting, Urgency
from tests.support.life import Life, a_life, standard_content
from tests.support.pairs import a_mother, a_pair

HOURS = timedelta(hours=1)


def without_phone() -> Life:
    pair = a_pair(mother=a_mother(phone=None, texting=Texting.none))
    return Life(pair, pair.discharged_at).happens(Enrolled(bedside=True))


def by_person(way: str) -> Life:
    """She has a number, and agreed to be called on it or visited, not to be texted."""
    pair = a_pair(mother=a_mother(texting=Texting.stopped), follow_up_by=way)
    return Life(pair, pair.discharged_at).happens(Enrolled(bedside=True))


# ---------------------------------------------------------------- until she answers the practice text


def test_until_she_answers_nothing_but_the_practice_text_goes_out() -> None:
    life = a_life(verified=False)
    assert life.new_texts == ["practice"]
    assert life.wake_for(days=6).texts_since == []


def test_a_contact_waits_two_hours_for_her_answer_and_then_becomes_a_call() -> None:
    life = a_life(verified=False).wake_until("welcome")
    assert life.now - life.pair.discharged_at == 2 * HOURS
    assert life.outcome("welcome") == "call"
    assert life.rules == {"contact_by_call"}


def test_a_contact_that_would_be_over_by_then_becomes_a_call_at_once_and_is_not_lost() -> None:
    life = a_life(verified=False).wake_until("review-evening")
    assert life.outcome("review-evening") == "call"
    assert {done.outcome for done in life.pair.contacts} == {"call"}


def test_silence_to_the_practice_text_is_no_unanswered_check_in() -> None:
    life = a_life(verified=False).wake_for(days=8)
    assert not {rule for rule in life.rules if rule.startswith("silence")}
    assert life.pair.check_ins == ()


@pytest.mark.parametrize("words", ["1", "yes", "hello?", "who is this"])
def test_whatever_she_answers_the_number_is_hers_and_texts_begin(words: str) -> None:
    life = a_life(verified=False).reply(words)
    assert life.pair.mother.texting is Texting.on
    life.wake_until("welcome")
    assert life.outcome("welcome") == "texted"


def test_staff_may_confirm_the_number_instead() -> None:
    life = a_life(verified=False).staff(ConfirmPhone()).wake_until("welcome")
    assert life.outcome("welcome") == "texted"


def test_staff_cant_undo_her_stop() -> None:
    life = a_life(verified=False).reply("STOP")
    with pytest.raises(Conflict):
        life.staff(ConfirmPhone())
    assert life.pair.mother.texting is Texting.stopped


# ---------------------------------------------------------------- followed by call or visit


def stopped_by_staff() -> Life:
    return a_life().staff(StopTexts("she asked on the phone"))


def refused_by_network() -> Life:
    return a_life().happens(Undelivered("contact:welcome:1", permanent=True))


def opted_out_at_network() -> Life:
    return a_life().happens(Undelivered("contact:welcome:1", permanent=False, opted_out=True))


@pytest.mark.parametrize(
    "begin",
    [
        without_phone,
        stopped_by_staff,
        refused_by_network,
        opted_out_at_network,
        partial(by_person, "call"),
        partial(by_person, "visit"),
    ],
)
def test_each_contact_becomes_a_call_or_visit_and_no_text_goes_out(begin) -> None:
    life = begin()
    life.wake_for(days=4)
    assert life.texts_since == []
    assert life.outcome("day-2") == life.outcome("day-3") == "call"
    assert "contact_by_call" in life.rules


def test_a_refused_number_is_reached_again_once_a_text_was_delivered() -> None:
    life = refused_by_network()
    assert life.pair.mother.texting is Texting.unreachable
    assert "unreachable" in life.rules
    assert life.happens(Delivered("contact:welcome:1")).pair.mother.texting is Texting.on


@pytest.mark.parametrize("permanent", [False, True])
def test_a_warning_that_did_not_arrive_is_for_a_person_at_once(permanent: bool) -> None:
    life = a_life().wake_until("day-2").reply("he is very hot")
    key = next(e.once_key for e in life.last if "advice-go-now" in e.once_key)
    life.happens(Undelivered(key, permanent=permanent))
    assert "warning_not_delivered" in life.rules
    assert life.item is not None
    assert life.item.urgency is Urgency.go_now


# ---------------------------------------------------------------- a phone that two mothers use


def test_a_check_in_waits_while_the_phone_carries_another_mothers_question() -> None:
    life = a_life().wake_until("practise-attach")
    due = next_contact(life.pair, standard_content().schedule, life.now)
    assert due is not None
    while life.now < due.due_at:
        life.wake(phone_busy=True)
    assert (due.key, life.outcome("day-2")) == ("day-2", None)
    assert life.pair.wake_at == life.now + timedelta(minutes=30)
    life.wake()
    assert life.outcome("day-2") == "texted"


def test_a_check_in_that_the_phone_never_has_room_for_becomes_a_call() -> None:
    life = a_life()
    while life.outcome("day-2") is None:
        life.wake(phone_busy=True)
    assert life.outcome("day-2") == "call"
    assert "contact_by_call" in life.rules


def test_reminders_and_advice_do_not_wait_for_another_mothers_answer() -> None:
    life = a_life()
    while life.outcome("review-morning") is None:
        life.wake(phone_busy=True)
    assert {life.outcome(key) for key in ("welcome", "review-evening", "review-morning")} == {"texted"}


def test_from_a_reply_that_may_be_another_mothers_only_dangers_and_wishes_are_taken() -> None:
    life = a_life().wake_until("day-2").reply("9", sure=False)
    assert life.pair.answers == tuple(a for a in life.pair.answers if a.key == "practice")
    assert life.rules == {"shared_phone_who"}
    assert life.open_question == "worry"
    life.reply("my baby is having fits", sure=False)
    assert life.item is not None
    assert life.item.urgency is Urgency.go_now
    assert life.new_texts == ["advice-go-now"]


def test_a_pair_without_any_number_still_gets_its_review() -> None:
    assert without_phone().pair.expected_review is not None

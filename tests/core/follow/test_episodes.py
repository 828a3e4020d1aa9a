"""From the warning to the arrival: one text, looks while nothing comes back, help on the way, an end that a
person states. The minutes are common practice, no source."""

from __future__ import annotations

from dataclasses import replace
from datetime import time, timedelta
from typing import Any

import pytest

from bot.content.factory import load_factory
from bot.core.errors import Conflict, Invalid
from bot.core.follow import events as act
from bot.core.follow.events import Delivered, Finish, HeadsUp, Undelivered
from bot.core.pair import Episode, Hours, OnCall, Place
from bot.core.states import EpisodeState, EscalationState, MessageState, Texting, Urgency
from tests.support.life import COLLEAGUE, COUNSELLOR, Life, a_life
from tests.support.pairs import a_site, some_numbers

MINUTE, HOUR = timedelta(minutes=1), timedelta(hours=1)
WARD, NURSE = OnCall("Ward phone", "+447700900110"), OnCall("Night nurse", "+447700900111")
HEAD = OnCall("Head", "+447700900112", manager=True)
SITE = a_site(
    on_call=(HEAD, WARD, NURSE),
    cover=(Hours(frozenset(range(7)), time(7), time(19)),),
    numbers=some_numbers(transport="+447700900160"),
)


def a_night_life(**changes: Any) -> Life:
    return a_life(site=replace(SITE, **changes)).wake_until("day-2")


@pytest.fixture
def danger() -> Life:
    return a_night_life().reply("he is very hot and will not wake")


def episode_of(life: Life) -> Episode:
    assert life.pair.open_episode is not None
    return life.pair.open_episode


def told(life: Life, state: MessageState) -> Life:
    """What the network says of the text that told her."""
    changed = tuple(replace(e, delivery=state) if e.closed_at is None else e for e in life.pair.episodes)
    life.pair = replace(life.pair, episodes=changed)
    return life


# ---------------------------------------------------------------- telling her, waking staff


def test_a_danger_begins_an_episode_with_one_text_and_wakes_one_after_the_other(danger: Life) -> None:
    assert danger.new_texts == ["advice-go-now"]
    assert episode_of(danger).state is EpisodeState.told
    assert danger.woken == ["go_now 0 Ward phone", "go_now 1 Night nurse", "go_now 2 Head"]
    waits = [e.send_after - danger.now for e in danger.last if isinstance(e, act.Alert)]
    assert waits == [timedelta(0), 5 * MINUTE, 10 * MINUTE]


def test_an_alert_holds_her_number_and_nothing_of_her(danger: Life) -> None:
    for alert in (e for e in danger.last if isinstance(e, act.Alert)):
        assert set(alert.values) == {"site", "phone", "age", "enrolment"}
        assert "Amina" not in str(alert.values)


def test_a_panicked_mother_gets_one_text_not_one_for_each_reply(danger: Life) -> None:
    danger.reply("HE IS HOT", MINUTE)
    assert danger.new_texts == []
    danger.reply("he has a fit now", MINUTE)
    assert danger.new_texts == []
    assert danger.woken  # what is new wakes again
    danger.reply("he is so hot", 31 * MINUTE)
    assert danger.new_texts == ["advice-go-now"]


def test_who_takes_it_withdraws_the_other_steps(danger: Life) -> None:
    danger.staff(act.Take())
    assert [e.how for e in danger.last if isinstance(e, act.Heeded)] == ["taken"]


def test_the_place_near_her_is_named() -> None:
    hill = Place("Hill Health Centre", "+447700900150", near=("Hillside",))
    life = a_life(site=replace(SITE, places=(hill,)), extra={"lives_at": "Hillside"}).wake_until("day-2")
    life.reply("he has fits")
    said = next(e for e in life.last if isinstance(e, act.Say))
    assert (said.values["place"], said.values["place_call"]) == ("Hill Health Centre", "+447700900150")
    assert episode_of(life).place == "Hill Health Centre"


def test_an_empty_list_is_written_into_the_audit() -> None:
    life = a_life().wake_until("day-2").reply("he has fits")
    assert life.woken == []
    notes = [e.after for e in life.last if isinstance(e, act.Note) and e.subject == "alert"]
    assert notes == ["go_now: nobody is on the list"]


# ---------------------------------------------------------------- a number alone; what is never named


@pytest.mark.parametrize(("asked", "text"), [("feeds", "check-feeds"), ("wet_nappies", "check-wet_nappies")])
def test_a_count_alone_joins_check_and_action_in_one_text(asked: str, text: str) -> None:
    life = a_night_life()
    while life.open_question != asked:
        life.reply("no" if life.open_question == "worry" else "9")
    life.reply("0")
    assert life.new_texts == [text]
    said = next(e for e in life.last if isinstance(e, act.Say))
    assert said.values["count"] == "0"
    assert life.woken
    life.reply("9")
    assert life.rules >= {"number_again"}
    assert life.new_texts == ["person-reads"]
    assert episode_of(life).state is EpisodeState.told  # only a person stands it down
    life.close(outcome="stood_down")
    assert life.pair.open_episode is None


def test_a_sign_after_a_count_is_told_plainly() -> None:
    life = a_night_life().answer("no").reply("0")
    assert life.new_texts == ["check-feeds"]
    life.reply("he will not wake up")
    assert life.new_texts == ["advice-go-now"]


def test_despair_is_never_echoed_nor_repeated_and_a_person_phones() -> None:
    life = a_night_life().reply("I want to die")
    assert life.new_texts == ["advice-call-you"]
    life.wake_for(hours=2)
    assert life.texts_since == []
    assert "no_answer" in life.reasons


# ---------------------------------------------------------------- looks while nothing comes back


def test_what_the_gateway_does_not_take_in_two_minutes_wakes_somebody(danger: Life) -> None:
    told(danger, MessageState.queued).wake()
    assert danger.now - episode_of(danger).opened_at == 2 * MINUTE
    assert danger.woken[0] == "not_reached 0 Ward phone"


def test_what_is_not_delivered_in_five_minutes_wakes_somebody(danger: Life) -> None:
    told(danger, MessageState.accepted).wake()
    assert danger.woken == []
    danger.wake()
    assert danger.now - episode_of(danger).opened_at == 5 * MINUTE
    assert danger.woken[0] == "not_reached 0 Ward phone"


def test_what_is_delivered_is_noted_and_repeated_at_10_and_30_minutes_without_answer(danger: Life) -> None:
    begun = danger.now
    danger.happens(Delivered(episode_of(danger).told_key), MINUTE)
    assert episode_of(danger).state is EpisodeState.delivered
    told(danger, MessageState.delivered).wake_for(minutes=60)
    assert danger.texts_since == ["go-repeat", "go-repeat"]
    repeats = [e for e in danger.effects if isinstance(e, act.Say) and e.text_key == "go-repeat"]
    assert [e.send_after - begun for e in repeats] == [10 * MINUTE, 30 * MINUTE]
    assert danger.reasons == {"go_now", "no_answer"}


def test_after_that_somebody_is_woken_every_hour_until_she_is_spoken_to(danger: Life) -> None:
    danger.wake_for(hours=5)
    late = {
        e.send_after
        for e in danger.effects
        if isinstance(e, act.Alert) and e.reason == "no_answer" and not e.step
    }
    assert len(late) >= 5
    danger.staff(act.Take()).staff(act.Spoke())
    danger.effects.clear()
    danger.wake_for(hours=1.5)
    assert danger.reasons == set()


def test_a_text_that_fails_wakes_somebody_at_once(danger: Life) -> None:
    danger.happens(Undelivered(episode_of(danger).told_key, permanent=False))
    assert "warning_not_delivered" in danger.rules
    assert danger.woken


def test_after_an_outage_no_look_is_made_up_for(danger: Life) -> None:
    danger.now += timedelta(hours=3)
    danger.wake()
    assert danger.new_texts.count("go-repeat") == 0
    assert danger.pair.wake_at is not None
    assert danger.pair.wake_at > danger.now


def test_questions_are_held_meanwhile(danger: Life) -> None:
    assert danger.pair.open_check_in is None
    told(danger, MessageState.delivered).wake_for(hours=20)
    assert set(danger.texts_since) <= {"go-repeat"}


# ---------------------------------------------------------------- what she answers


def test_on_the_way_ends_the_repeats_and_tells_the_place() -> None:
    life = a_night_life(places=(Place("Lakeside", near=("x",), heads_up="+447700900151"),))
    life.pair = replace(life.pair, extra={"lives_at": "x"})
    life.reply("he has fits").reply("1")
    assert episode_of(life).state is EpisodeState.on_the_way
    assert life.new_texts == ["go-safely"]
    heads_up = [e for e in life.last if isinstance(e, HeadsUp)]
    assert [e.phone for e in heads_up] == ["+447700900151"]
    assert set(heads_up[0].values) == {"site", "ref"}
    assert life.wake_for(hours=1.9).texts_since == []
    life.wake_for(hours=0.2)
    assert "not_arrived" in life.rules
    assert "not_arrived" in life.reasons


@pytest.mark.parametrize(
    ("digit", "state", "why", "text"),
    [
        ("1", EpisodeState.cannot, "transport", "go-help"),
        ("2", EpisodeState.cannot, "permission", "go-help"),
        ("3", EpisodeState.cannot, "alone", "go-help"),
        ("4", EpisodeState.doubts, "", "go-doubts"),
    ],
)
def test_who_cannot_go_is_asked_why_and_a_person_is_woken(
    danger: Life, digit: str, state: EpisodeState, why: str, text: str
) -> None:
    danger.reply("0")
    assert danger.new_texts == ["go-cannot"]
    assert episode_of(danger).state is EpisodeState.cannot
    assert danger.woken[0] == "cannot 0 Ward phone"
    danger.reply(digit)
    assert (episode_of(danger).state, episode_of(danger).why) == (state, why)
    assert danger.new_texts == [text]


def test_a_new_danger_is_no_answer_to_whether_she_goes(danger: Life) -> None:
    danger.reply("no he is not breathing well and his lips are blue")
    assert episode_of(danger).state is EpisodeState.told


@pytest.mark.parametrize(
    ("replies", "text"),
    [
        (["1"], "go-safely-alone"),
        (["0"], "go-cannot"),
        (["0", "1"], "go-help-alone"),
        (["0", "4"], "go-doubts-alone"),
    ],
)
def test_after_a_death_what_is_said_about_her_own_way_names_no_baby(replies: list[str], text: str) -> None:
    recorded = a_life(site=SITE).wake_until("day-2").staff(act.RecordDeath(1))
    written = a_life(site=SITE).wake_until("day-2").reply("my baby died this morning")
    for life in (recorded, written):
        life.reply("I am bleeding heavily")
        for each in replies:
            life.reply(each)
        assert life.new_texts == [text]


def test_a_way_that_began_for_the_baby_is_not_spoken_of_after_its_death(danger: Life) -> None:
    danger.reply("he has died").reply("0")
    assert danger.new_texts == []
    assert "cannot" in danger.reasons


def test_who_is_asked_again_while_her_baby_is_away_is_not_told_to_keep_it_warm() -> None:
    life = a_life(site=SITE).live_until("day-2")
    life.staff(act.Away(life.pair.local(life.now).date() + timedelta(days=9), "baby in hospital"))
    life.wake_until("day-4").reply("i am bleeding heavily")
    assert life.wake_for(hours=1).texts_since == ["go-repeat-alone", "go-repeat-alone"]


def test_who_is_stopped_on_the_way_is_heard_and_a_person_is_woken(danger: Life) -> None:
    danger.reply("1").reply("I cannot go, no money")
    assert episode_of(danger).state is EpisodeState.cannot
    assert danger.new_texts == ["go-cannot"]
    assert danger.woken[0] == "cannot 0 Ward phone"
    danger.reply("1").reply("1")
    assert episode_of(danger).state is EpisodeState.on_the_way
    assert danger.new_texts == ["go-safely"]


def test_the_same_word_about_the_way_again_is_read_by_a_person_and_not_answered(danger: Life) -> None:
    danger.reply("1").reply("1")
    assert episode_of(danger).state is EpisodeState.on_the_way
    assert danger.new_texts == []
    assert "reply_to_read" in danger.rules


# ---------------------------------------------------------------- how it ends


def test_only_a_person_ends_it_and_says_how(danger: Life) -> None:
    danger.reply("I am there now, thank you")
    danger.staff(act.Take()).staff(act.Spoke())
    with pytest.raises(Invalid, match="how the danger ended"):
        danger.staff(act.Close("advised"))
    danger.staff(act.Going(EpisodeState.arrived)).staff(act.Close("sent_to_hospital", outcome="admitted"))
    ended = danger.pair.episodes[-1]
    assert (ended.state, ended.outcome, ended.closed_by) == (EpisodeState.closed, "admitted", COUNSELLOR)
    assert danger.item is None


def test_who_has_arrived_is_asked_about_every_day_until_the_outcome_is_known(danger: Life) -> None:
    danger.staff(act.Take()).staff(act.Spoke()).staff(act.Going(EpisodeState.arrived))
    danger.wake_for(days=2.1)
    assert danger.count("outcome_awaited") == 2


def test_a_hindrance_is_named(danger: Life) -> None:
    with pytest.raises(Invalid, match="keeps her"):
        danger.staff(act.Going(EpisodeState.cannot))
    assert episode_of(danger.staff(act.Going(EpisodeState.cannot, "permission"))).why == "permission"


def test_where_nobody_spoke_to_her_the_note_says_why_it_is_closed(danger: Life) -> None:
    with pytest.raises(Invalid, match="Nobody has spoken to her"):
        danger.staff(act.Close("advised", outcome="stood_down"))
    danger.staff(act.Close("advised", "The same baby is on my ward.", "stood_down"))
    assert danger.item is None


def test_lowering_the_urgency_stands_it_down_and_raising_it_begins_one() -> None:
    life = a_night_life().reply("his skin is yellow").staff(act.Take())
    life.staff(act.SetUrgency(Urgency.go_now, "sleepy on the phone"))
    assert episode_of(life).state is EpisodeState.told
    life.staff(act.SetUrgency(Urgency.same_day, "another baby"))
    assert life.pair.open_episode is None
    assert life.pair.episodes[-1].outcome == "stood_down"


@pytest.mark.parametrize(("reason", "outcome"), [("admitted", "admitted"), ("baby_died", "died")])
def test_the_end_of_the_follow_up_may_say_how_it_ended(danger: Life, reason: str, outcome: str) -> None:
    danger.staff(Finish(reason))
    assert danger.pair.episodes[-1].outcome == outcome


def test_no_other_reason_ends_a_follow_up_in_danger(danger: Life) -> None:
    with pytest.raises(Conflict, match="how it ended"):
        danger.staff(Finish("declined"))


# ---------------------------------------------------------------- claims, shifts, nights


def test_a_claim_without_contact_lapses_and_wakes_again(danger: Life) -> None:
    danger.staff(act.Take())
    danger.wake_for(minutes=16)
    assert danger.item is not None
    assert (danger.item.state, danger.item.taken_by) == (EscalationState.waiting, None)
    assert "lapsed" in danger.reasons


def test_a_claim_with_contact_stays(danger: Life) -> None:
    danger.staff(act.Take()).staff(act.Spoke()).wake_for(hours=1)
    assert danger.item is not None
    assert danger.item.taken_by == COUNSELLOR


def test_a_danger_cant_be_put_off_and_something_new_ends_a_delay(danger: Life) -> None:
    with pytest.raises(Conflict, match="can't be put off"):
        danger.staff(act.PutOff(danger.now + HOUR, "busy"))
    life = a_night_life().reply("please call me")
    life.staff(act.PutOff(life.now + HOUR, "she asked for the evening"))
    assert life.item is not None
    assert life.item.not_before is not None
    assert life.reply("my breast is red and hurts").item is not None
    assert life.item.not_before is None


def test_a_hand_over_counts_only_when_it_is_accepted(danger: Life) -> None:
    danger.staff(act.Take()).staff(act.HandOver(COLLEAGUE))
    danger.staff(act.Take(), by=COUNSELLOR)
    with pytest.raises(Conflict):
        danger.staff(act.AcceptHandOver(), by=COLLEAGUE)  # taken again by who had offered it


def test_at_night_what_is_for_today_wakes_the_first_once() -> None:
    life = a_night_life()
    life.answer("no", "9", "6")
    life.now = life.pair.local(life.now).replace(hour=23)
    life.reply("please call me")
    assert life.woken == ["no_cover 0 Ward phone"]
    keys = {e.once_key for e in life.last if isinstance(e, act.Alert)}
    life.reply("his skin is yellow")
    assert keys >= {e.once_key for e in life.last if isinstance(e, act.Alert)}


def test_by_day_nobody_is_woken_for_it() -> None:
    assert a_night_life().reply("please call me").woken == []


def test_a_pair_without_a_phone_wakes_people_all_the_same() -> None:
    life = a_night_life().staff(act.StopTexts("her wish"))
    life.pair = replace(life.pair, mother=replace(life.pair.mother, phone=None, texting=Texting.none))
    life.staff(act.EnterAnswers({}, frozenset({"convulsions"})))
    assert life.woken
    assert episode_of(life).told_at is None


@pytest.mark.parametrize(
    ("extra", "told"), [({}, "?"), ({"second_contact_phone": "+447700900188"}, "+447700900188")]
)
def test_the_alert_about_a_mother_without_a_number_can_still_be_put_into_words(extra, told):
    life = a_night_life()
    mother = replace(life.pair.mother, texting=Texting.none, phone=None)
    life.pair = replace(life.pair, mother=mother, extra=extra)
    life.staff(act.EnterAnswers({}, frozenset({"convulsions"})))
    alert = next(each for each in life.last if isinstance(each, act.Alert))
    assert told in load_factory().texts.render(alert.text_key, "en", alert.values)

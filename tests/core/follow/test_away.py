"""Mother or baby is away: what is asked of her meanwhile, and how the follow-up begins anew at home."""

from __future__ import annotations

from datetime import timedelta

import pytest

from bot.content.factory import load_factory
from bot.core.follow.events import Ask, Away, Finish, RecordDeath, Resume, Say
from bot.core.pair import Review
from bot.core.plan import DAY
from bot.core.states import EnrolmentState, ReviewState, Urgency
from tests.support.life import Life, a_life, twins
from tests.support.pairs import a_mother


def away(life: Life, days: int = 9) -> Life:
    """The baby is kept in hospital; a person looks again in so many days."""
    return life.staff(Away(life.pair.local(life.now).date() + days * DAY, "baby in hospital"))


def asked_meanwhile(life: Life) -> list[str]:
    return [key for key in life.texts_since if key.startswith("ask-")]


# ---------------------------------------------------------------- meanwhile


def test_nappies_and_feeds_are_not_asked_but_her_own_signs_and_expressing_are() -> None:
    life = away(a_life().live_until("day-2")).wake_until("day-4")
    assert life.open_question == "mother_danger"
    life.reply("no")
    assert life.open_question == "expressing"
    life.reply("8")
    assert life.new_texts == ["thanks-away"]
    assert life.item is None


def test_in_all_the_time_away_nothing_speaks_of_a_baby_at_the_breast() -> None:
    life = away(a_life().live_until("day-2"), days=30).wake_for(days=29)
    assert set(life.texts_since) <= {"ask-mother_danger", "again-mother_danger", "ask-expressing"}
    assert life.texts_since


def test_what_is_asked_of_her_own_body_goes_on() -> None:
    mother = a_mother(birth_mode="caesarean", risks=frozenset({"high_blood_pressure"}))
    life = away(a_life(mother=mother).live_until("day-5")).wake_until("day-7")
    said = []
    while (key := life.open_question) is not None:
        said.append(key)
        life.reply("9" if key == "expressing" else "no")
    assert said == ["mother_danger", "wound", "headache_or_sight", "expressing"]


@pytest.mark.parametrize(
    ("times", "told", "found"),
    [  # WHO Infant and young child feeding, model chapter (2009) p.74: at least 8 times in 24 hours
        ("7", "advice-express", {"expressing-under-8"}),
        ("0", "advice-express", {"expressing-under-8"}),
        ("8", "thanks-away", set()),
        ("11", "thanks-away", set()),
    ],
)
def test_too_little_expressing_is_for_a_person_within_two_days(
    times: str, told: str, found: set[str]
) -> None:
    life = away(a_life().live_until("day-2")).wake_until("day-4").answer("no", times)
    assert told in life.new_texts
    assert life.rules == found
    assert life.item is None or life.item.urgency is Urgency.routine


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("i am bleeding heavily", "advice-go-now-alone"),
        ("my breast is red hot and very painful", "advice-same-day-alone"),
    ],
)
def test_a_danger_of_hers_is_told_without_a_baby_to_take_along(words: str, told: str) -> None:
    life = away(a_life().live_until("day-2")).wake_until("day-4").reply(words)
    assert [key for key in life.new_texts if key.startswith("advice")] == [told]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("please call me", "advice-same-day-alone"),
        ("where is the ward you spoke of?", "person-reads-alone"),
        ("STOP", "opt-out-done-alone"),
    ],
)
def test_what_she_writes_meanwhile_is_answered_without_a_word_of_the_baby(words: str, told: str) -> None:
    life = away(a_life().live_until("day-2")).wake_until("day-4").reply(words)
    assert life.new_texts == [told]


def test_the_same_danger_at_home_names_the_baby() -> None:
    life = a_life().live_until("day-2").wake_until("day-4").reply("i am bleeding heavily")
    assert "advice-go-now-mother" in life.new_texts


def test_silence_is_heard_as_at_home() -> None:
    life = away(a_life().live_until("day-2"), days=30).wake_for(days=12)
    assert any(rule.startswith("silence") for rule in life.rules)


def test_a_number_that_gets_no_texts_is_called() -> None:
    life = away(a_life().live_until("day-2").reply("STOP")).close().wake_until("day-4")
    assert life.outcome("day-4") == "call"


def test_they_are_not_expected_at_the_review() -> None:
    life = away(a_life().live_until("day-2"), days=30)
    assert [review.state for review in life.pair.reviews] == [ReviewState.cancelled]
    assert "missed_review" not in life.wake_for(days=20).rules


def test_on_the_day_set_and_every_morning_after_a_person_looks() -> None:
    life = away(a_life().live_until("day-2"), days=3).wake_for(days=2)
    assert "back_from_away" not in life.rules
    assert "back_from_away" in life.wake_for(days=1).rules
    first = life.count("back_from_away")
    assert life.wake_for(days=2).count("back_from_away") == first + 2


# ---------------------------------------------------------------- home again


def home(life: Life) -> Life:
    return life.staff(Resume())


def expected(life: Life) -> Review:
    review = life.pair.expected_review
    assert review is not None
    return review


def test_home_again_she_is_asked_on_the_first_and_third_day_and_seen_in_two() -> None:
    life = home(away(a_life().live_until("day-2"), days=20).wake_for(days=12))
    came = life.pair.local(life.now).date()
    assert expected(life).on_day == came + 2 * DAY
    assert "review-moved" in life.new_texts
    for contact, days in (("home-day-1", 1), ("home-day-3", 3)):
        life.live_until(contact)
        assert life.pair.local(life.now).date() == came + days * DAY
        assert life.open_question == "worry"


def test_what_was_missed_is_never_sent_late() -> None:
    life = home(away(a_life().live_until("day-2"), days=20).wake_for(days=12))
    came, before = life.now, len(life.pair.contacts)
    life.live_until("home-day-3")
    late = [done for done in life.pair.contacts[before:] if done.due_at < came]
    assert {done.outcome for done in late} == {"skipped"}


def test_a_check_in_of_a_mother_without_her_baby_ends_when_it_is_home() -> None:
    life = home(away(a_life().live_until("day-2")).wake_until("day-4"))
    assert life.open_question is None


def test_a_day_has_one_check_in() -> None:
    """Home on day 6: day 7 has a check-in of its own, in whose place stands the one after coming home."""
    life = home(away(a_life().live_until("day-5"), days=20).wake_for(days=1))
    life.live_until("home-day-1")
    assert life.outcome("day-7") is None
    assert life.outcome("home-day-1") == "texted"


def test_who_comes_home_twice_is_asked_twice() -> None:
    life = home(away(a_life().live_until("day-2"), days=20).wake_for(days=3)).live_until("home-day-3")
    while life.open_question is not None:
        life.reply("no" if life.open_question == "worry" else "9")
    life = home(away(life, days=20).wake_for(days=4))
    life.wake_for(days=1)
    assert [done.key for done in life.pair.contacts].count("home-day-1") == 2


def test_followed_again_after_a_stay_in_hospital_is_home_again() -> None:
    life = home(a_life().live_until("day-2").staff(Finish("admitted")).wake_for(days=0))
    assert life.pair.home_at == life.now
    assert expected(life).kind == "follow_up"


def test_who_was_only_held_is_not_home_again() -> None:
    life = twins().live_until("day-2").staff(RecordDeath(1))
    assert life.pair.state is EnrolmentState.held
    assert home(life).pair.home_at is None


def test_a_danger_open_at_home_still_holds_the_questions() -> None:
    life = away(a_life().live_until("day-2"), days=9).wake_until("day-4").reply("i am bleeding heavily")
    life = home(life).wake_for(days=1, hours=6)
    assert life.outcome("home-day-1") == "call"
    assert timedelta(0) < life.now - (life.pair.home_at or life.now)


@pytest.mark.parametrize("words", ["call me please", "START", "STOP", "maybe stop", "hello", "can you help"])
def test_no_answer_to_what_she_writes_names_an_absent_baby(words: str) -> None:
    life = away(a_life().live_until("day-2")).wake_until("day-4").reply(words)
    texts = load_factory().texts
    for effect in life.last:
        if isinstance(effect, Say | Ask):
            name = life.pair.babies[0].name
            assert name not in texts.render(effect.text_key, "en", effect.values, neutral=False)

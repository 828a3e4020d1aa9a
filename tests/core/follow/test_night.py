"""Whatever she writes, staff do, clocks and networks bring, in any order: a pair has an owner, an episode is
ended by a person only, and no danger waits without somebody being woken."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from datetime import date, datetime, time, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from bot.core.errors import DunnockError
from bot.core.escalation import is_danger
from bot.core.follow import events as act
from bot.core.follow.events import Action, Delivered, Undelivered
from bot.core.pair import Episode, Hours, OnCall
from bot.core.states import ChaseState, EnrolmentState, EpisodeState, EscalationState, Texting, Urgency
from tests.support.life import COLLEAGUE, COUNSELLOR, Life, a_life
from tests.support.pairs import a_site

SITE = a_site(
    on_call=(OnCall("Ward", "+447700900110"), OnCall("Head", "+447700900112", manager=True)),
    cover=(Hours(frozenset(range(6)), time(7), time(19)),),
)
# The longest that a danger about which nobody spoke to her goes without another look: an hour, and the event.
NEXT_LOOK = timedelta(hours=1)

REPLIES = (
    "8", "0", "1", "2", "no", "yes", "he is hot and will not wake", "I want to die", "please call me",
    "his skin is yellow", "STOP", "START", "wrong number", "my baby died", "what if he has fits?",
    "I bleed a lot", "thank you", "only 2 feeds", "he has a fit",
)  # fmt: skip
ACTS: tuple[Callable[[Life], Action], ...] = (
    lambda life: act.Take(),
    lambda life: act.Release(),
    lambda life: act.HandOver(COLLEAGUE),
    lambda life: act.AcceptHandOver(),
    lambda life: act.Spoke(),
    lambda life: act.PutOff(life.now + timedelta(hours=3), "later"),
    lambda life: act.Going(EpisodeState.on_the_way),
    lambda life: act.Going(EpisodeState.cannot, "alone"),
    lambda life: act.Going(EpisodeState.arrived),
    lambda life: act.Close("advised", "seen", "treated_home"),
    lambda life: act.Close("advised"),
    lambda life: act.SetUrgency(Urgency.go_now, "worse"),
    lambda life: act.SetUrgency(Urgency.routine, "better"),
    lambda life: act.EnterAnswers({"feeds": (9.0, 9.0)}),
    lambda life: act.EnterAnswers({}, frozenset({"convulsions"})),
    lambda life: act.StopTexts("her wish"),
    lambda life: act.ChangePhone("+447700900177", False),
    lambda life: act.Hold("unsure"),
    lambda life: act.Away(date(2026, 3, 20), "at her mother's"),
    lambda life: act.Resume(),
    lambda life: act.RecordDeath(1),
    lambda life: act.RecordMotherDeath(),
    lambda life: act.Finish("admitted"),
    lambda life: act.Finish("declined"),
)
# What is done to reach her otherwise.
TRIES: tuple[Callable[[Life], Action], ...] = (
    lambda life: act.Tried("call", "no_answer"),
    lambda life: act.Tried("call", "wrong_number"),
    lambda life: act.Tried("call", "reached"),
    lambda life: act.PlanVisit(life.now.date() + timedelta(days=1), "Sister Atieno"),
    lambda life: act.Visited("not_home"),
    lambda life: act.GiveUp("no_way"),
    lambda life: act.SignUnresolved(),
    lambda life: act.TryOn(),
    lambda life: act.SheRang(),
)

Step = Callable[[Life], None]


def _writes(text: str) -> Step:
    return lambda life: _do(lambda: life.reply(text))


def _acts(action: Callable[[Life], Action], by_colleague: bool) -> Step:
    by = COLLEAGUE if by_colleague else COUNSELLOR
    return lambda life: _do(lambda: life.staff(action(life), by))


def _time(hours: float) -> Step:
    def wake(life: Life) -> None:
        life.wake_for(hours=hours)

    return wake


def _late(hours: float) -> Step:
    """Every worker was down so long; then the pair is woken once."""

    def wake(life: Life) -> None:
        life.now += timedelta(hours=hours)
        if life.pair.wake_at is not None and life.pair.wake_at <= life.now:
            life.wake()

    return wake


def _network(delivered: bool) -> Step:
    def report(life: Life) -> None:
        episode = life.pair.open_episode
        if episode is not None and episode.told_key:
            key = episode.told_key
            life.happens(Delivered(key) if delivered else Undelivered(key, permanent=False))

    return report


def _do(step: Callable[[], object]) -> None:
    with suppress(DunnockError):  # a person asked for what can't be
        step()


steps = st.lists(
    st.one_of(
        st.sampled_from(REPLIES).map(_writes),
        st.builds(_acts, st.sampled_from(ACTS), st.booleans()),
        st.builds(_acts, st.sampled_from(TRIES), st.booleans()),
        st.sampled_from((0.05, 0.2, 1, 9, 30)).map(_time),
        st.sampled_from((0.2, 3, 30)).map(_late),
        st.booleans().map(_network),
    ),
    max_size=14,
)


@settings(max_examples=300)
@given(steps, st.booleans())
def test_no_order_of_events_loses_a_pair_or_lets_a_danger_wait(happenings: list[Step], silent: bool) -> None:
    life = a_life(site=SITE).wake_until("day-2")
    if silent:  # one person has given up on her already
        life.reply("STOP").staff(act.GiveUp("no_way"))
    for happens in happenings:
        before = life.pair.open_episode
        life.last = ()
        effects = len(life.effects)
        happens(life)
        _has_an_owner(life)
        _danger_has_an_episode(life)
        _is_looked_at(life)
        _was_ended_by_a_person(life, before, effects)
        _woke_somebody(life, before, effects)
        _is_looked_for(life)
    for by_colleague in (False, True):  # and at the end of every night both would like to sign
        _acts(lambda life: act.SignUnresolved(), by_colleague)(life)
        _is_looked_for(life)


def _has_an_owner(life: Life) -> None:
    pair = life.pair
    assert (pair.state is EnrolmentState.closed) == (pair.wake_at is None)
    assert (pair.state is EnrolmentState.closed) == (pair.closed_reason is not None)
    assert sum(item.state is not EscalationState.closed for item in pair.escalations) <= 1


def _danger_has_an_episode(life: Life) -> None:
    item, episode = life.item, life.pair.open_episode
    assert sum(each.state is not EpisodeState.closed for each in life.pair.episodes) <= 1
    assert is_danger(item) == (episode is not None)
    assert episode is None or (item is not None and episode.escalation == item.id)


def _is_looked_at(life: Life) -> None:
    """A danger about which nobody spoke to her is looked at within the hour, in any state."""
    item, episode = life.item, life.pair.open_episode
    if item is None or episode is None:
        return
    assert episode.look_at is not None
    assert life.pair.wake_at is not None
    assert life.pair.wake_at <= episode.look_at
    heard = item.spoken_at or episode.state in (EpisodeState.on_the_way, EpisodeState.arrived)
    assert heard or episode.look_at <= life.now + NEXT_LOOK


def _was_ended_by_a_person(life: Life, before: Episode | None, effects: int) -> None:
    if before is None or any(each.id == before.id and each.closed_at is None for each in life.pair.episodes):
        return
    ended = next(each for each in life.pair.episodes if each.id == before.id)
    assert ended.closed_by in (COUNSELLOR, COLLEAGUE)
    assert ended.outcome in act.OUTCOMES


def _woke_somebody(life: Life, before: Episode | None, effects: int) -> None:
    """A danger that was not there before has woken somebody, unless a person raised it and is on it."""
    episode, item = life.pair.open_episode, life.item
    if episode is None or item is None or (before is not None and before.id == episode.id):
        return
    woken = [e for e in life.effects[effects:] if isinstance(e, act.Alert)]
    raised = [e for e in life.effects[effects:] if isinstance(e, act.Note) and e.after == "go_now" and e.by]
    assert woken or raised


def _is_looked_for(life: Life) -> None:
    """Who is followed and can't be texted has come onto the list of those to be reached; nobody in danger is
    given up on, and no one person alone signs that a pair was not reached."""
    pair, silent = life.pair, (Texting.none, Texting.stopped, Texting.unreachable)
    assert sum(each.closed_at is None for each in pair.chases) <= 1
    if pair.state is not EnrolmentState.closed and pair.mother.texting in silent:
        assert pair.chases
    for each in pair.chases:
        if each.state is ChaseState.unresolved and each.closed_at is not None:
            assert {each.given_up_by, each.closed_by} == {COUNSELLOR, COLLEAGUE}
            assert not any(_was_open(episode, each.closed_at) for episode in pair.episodes)


def _was_open(episode: Episode, at: datetime) -> bool:
    return episode.opened_at < at and (episode.closed_at is None or episode.closed_at > at)

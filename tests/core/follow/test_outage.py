"""Who could not be heard because we were deaf is not taken for silent; what is grave opens an entry."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from bot.core.follow import events as act
from bot.core.follow.events import Adverse, CatchUp
from bot.core.states import CheckInState
from tests.support.life import Life, a_life

HOUR = timedelta(hours=1)


def expired(life: Life, hours: float) -> Life:
    """Let the open check-in run out, `hours` of which the program was not at work."""
    check_in = life.pair.open_check_in
    assert check_in is not None
    begins = check_in.opened_at + HOUR
    life.content = replace(life.content, outages=((begins, begins + hours * HOUR),))
    life.now = check_in.expires_at
    return life.happens(act.Woke())


def test_after_a_long_outage_she_is_listed_and_no_silence_is_judged() -> None:
    life = expired(a_life().wake_until("day-2"), 12)
    assert [each for each in life.effects if isinstance(each, CatchUp)]
    assert life.item is None
    assert life.pair.check_ins[-1].state is CheckInState.dropped


def test_a_short_outage_excuses_nobody() -> None:
    life = expired(a_life().wake_until("day-2"), 2)
    assert not [each for each in life.effects if isinstance(each, CatchUp)]
    assert life.pair.check_ins[-1].state is CheckInState.expired  # counts towards her silence


@pytest.mark.parametrize(
    ("actions", "kinds"),
    [
        ([act.RecordDeath(1)], {("baby_died", 1)}),
        ([act.RecordMotherDeath()], {("mother_died", None)}),
        ([act.Finish("admitted")], {("admitted", None)}),
        ([act.Finish("moved")], set()),
    ],
)
def test_what_is_grave_opens_one_entry(actions: list[act.Action], kinds: set[tuple[str, int | None]]) -> None:
    life = a_life()
    for action in actions:
        life.staff(action)
    found = [each for each in life.effects if isinstance(each, Adverse)]
    assert {(each.kind, each.baby) for each in found} == kinds
    assert len(found) == len(kinds)


def test_an_episode_that_ends_in_hospital_opens_an_entry() -> None:
    life = a_life().wake_until("day-2").reply("he is very hot and will not wake")
    life.staff(act.Take()).staff(act.Spoke()).staff(act.Close("advice_given", outcome="admitted"))
    assert [each.kind for each in life.effects if isinstance(each, Adverse)] == ["admitted"]

"""Mothers on the virtual clock: the same seed, the same run; what is counted adds up; nothing of them is
kept."""

from __future__ import annotations

import gc
import json
import tomllib
from dataclasses import replace
from functools import cache

import pytest

from bot.cohort.desk import BESIDES, UNHEARD
from bot.cohort.life import Life, live
from bot.cohort.outcome import Outcome, outcome
from bot.cohort.people import Woman
from bot.cohort.programme import languages, read_schedule, shipped, world_of
from bot.cohort.run import BATCH, run
from bot.cohort.says import ASKS, GO_NOW
from bot.cohort.tally import Tally
from bot.content.factory import changed_body, load_factory, rules_body, rules_of
from bot.content.source import content_root

MOTHERS, DAYS = 60, 16
NOBODY_ILL = "[trouble]\nshare = 0\n[dangers]\nchance = [[0, 0]]\n"
ALL_ILL = (
    "[trouble]\nshare = 1\nonset = [[1, 1], [2, 1], [3, 0]]\nlasts_days = 30\n[replies]\nanswers = [[0, 1]]"
)


@cache
def found(seed: int = 1, assume: str = "") -> Outcome:
    world = world_of(shipped(), assume, DAYS, seed)
    return outcome(world, run(world, MOTHERS), MOTHERS, 2)


def test_the_same_seed_gives_the_same_run_in_any_number_of_processes():
    mothers = 2 * BATCH + 10
    runs = []
    for processes in (1, 2):
        world = world_of(shipped(), days=2, seed=9)
        result = outcome(world, run(world, mothers, processes), mothers, 3)
        runs.append(json.dumps(result, sort_keys=True))
    assert runs[0] == runs[1]
    assert json.loads(runs[0])["texts"]["segments"] > mothers


def test_another_seed_gives_other_mothers():
    assert found(1)["texts"] != found(2)["texts"]


def test_a_mother_is_the_same_whoever_lives_beside_her():
    world, alone, among = world_of(shipped(), days=DAYS), Tally(), Tally()
    live(7, world, alone)
    for index in (3, 4):
        live(index, world, Tally())
    live(7, world, among)
    assert (alone.n, alone.arrivals) == (among.n, among.arrivals)


@pytest.mark.parametrize("seed", [1, 2])
def test_what_is_counted_adds_up(seed):
    each = found(seed)
    texts, inbox = each["texts"], each["inbox"]
    assert sum(texts["segments_by_day"]) == texts["segments"]
    assert sum(of["mothers"] for of in texts["by_language"].values()) == MOTHERS
    assert inbox["items"] == sum(inbox["by_urgency"].values())
    for name, hours in inbox["by_hour"].items():
        assert sum(hours) == inbox["by_urgency"][name] == each["waiting"][name]["items"]
        assert each["waiting"][name]["in_time"] <= each["waiting"][name]["items"]
        assert each["waiting"][name]["share_by_minutes"] == sorted(each["waiting"][name]["share_by_minutes"])
    for kind in each["true"].values():
        assert sum(kind["heard_by"].values()) == kind["heard"] <= kind["true"]
    assert all(of["true"] <= of["raised"] for of in inbox["by_rule"].values())
    for ends in each["at_the_end"].values():
        assert sum(ends.values()) == MOTHERS


def test_with_nobody_ill_every_alarm_is_false():
    each = found(assume=NOBODY_ILL)
    assert each["true"]["trouble"]["true"] == each["true"]["danger"]["true"] == 0
    assert each["false_alarms"]["percent_of_alarms"] == 100
    assert not any(of["true"] for of in each["inbox"]["by_rule"].values())


def test_when_all_are_in_trouble_and_answer_most_are_heard_of():
    each = found(assume=ALL_ILL)
    assert each["true"]["trouble"]["true"] > 0.9 * MOTHERS
    assert each["true"]["trouble"]["heard_percent"] > 80
    assert each["true"]["trouble"]["heard_by"]["reply"] > 0


def test_languages_that_nobody_signed_bring_every_reply_to_a_person():
    each = found(assume='unsigned = ["en", "sw", "ar"]')
    assert each["inbox"]["by_rule"]["language_unsigned"]["raised"] > 0
    assert "language_unsigned" not in found()["inbox"]["by_rule"]


def test_a_mother_without_a_phone_gets_no_text_and_is_called():
    each = found(assume="[phones]\nnone = 1")
    assert each["texts"]["segments"] == each["texts"]["replies_per_mother"] == 0
    assert each["inbox"]["by_rule"]["contact_by_call"]["raised"] > MOTHERS


def test_the_same_mothers_live_under_changed_rules_and_a_changed_schedule():
    path = content_root() / "messages" / "schedules" / "standard.toml"
    row = "[[contacts]]\n"
    fewer = row.join(path.read_text("utf-8").split(row)[:-6])
    assert tomllib.loads(fewer)["name"] == "standard"
    rules = rules_of(changed_body(rules_body(), "", ["wet-falling"]))
    world = world_of(replace(shipped(), schedule=read_schedule(fewer), rules=rules), days=42)
    before = world_of(shipped(), days=42)
    now, then = (outcome(each, run(each, 40), 40, 2) for each in (world, before))
    assert "wet-falling" in then["inbox"]["by_rule"]
    assert "wet-falling" not in now["inbox"]["by_rule"]
    assert now["texts"]["segments"] < then["texts"]["segments"]
    assert now["assumed"] == then["assumed"]


@pytest.mark.parametrize("language", sorted(languages()))
def test_mothers_can_be_invented_in_every_language(language):
    world, tally = world_of(shipped(), f"[languages]\n{language} = 1\n{ALL_ILL}", days=6), Tally()
    for index in range(3):
        live(index, world, tally)
    assert tally.n["replies", language] > 0
    assert tally.n["texts", language] > tally.n["mothers", language] == 3


def test_every_language_of_the_program_can_be_chosen():
    assert languages() == frozenset(load_factory().languages)


def test_nothing_of_a_mother_is_kept_when_she_has_lived():
    world, tally = world_of(shipped(), days=4), Tally()
    for index in range(10):
        live(index, world, tally)
    gc.collect()
    assert not [each for each in gc.get_objects() if isinstance(each, Life | Woman)]


def test_what_the_cohort_knows_by_name_is_there():
    factory = load_factory()
    assert set(factory.occasions) >= BESIDES | UNHEARD
    assert set(factory.texts.keys) >= GO_NOW
    assert all(any(key.startswith(begins) for key in factory.texts.keys) for begins in ASKS)


def test_who_is_on_call_speaks_to_mothers_while_nobody_is_there():
    alone = found(assume="[staff]\non_call = 0")
    assert sum(alone["on_call"]["spoke_to"].values()) == 0
    assert sum(alone["on_call"]["alerts"].values()) > 0
    woken = found(assume="[staff]\non_call = 1\non_call_minutes = 1")
    assert woken["on_call"]["spoke_to"]["go_now"] > 0
    assert woken["waiting"]["go_now"]["in_time_percent"] > alone["waiting"]["go_now"]["in_time_percent"]

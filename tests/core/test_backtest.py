"""Two rule sets over the same judgements: what is new, lost, graver, milder, and the load a day."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from bot.core.backtest import Judged, Tally, compare
from bot.core.states import Urgency
from bot.core.triage import Finding, Verdict
from tests.support.pairs import an_id

MONDAY = date(2026, 3, 2)
PAIRS = [an_id("pair", n) for n in range(3)]


def verdict(*held: tuple[str, Urgency]) -> Verdict:
    fired = tuple(Finding(rule, urgency, f"why {rule}", "", "baby", "", "") for rule, urgency in held)
    return Verdict(max((urgency for _, urgency in held), default=Urgency.none), fired, ())


FEW = ("feeds-few", Urgency.same_day)
GRAVE = ("feeds-few", Urgency.go_now)
WET = ("wet-few", Urgency.routine)


def test_a_day_counts_once_by_the_gravest_and_names_what_only_one_rule_set_has() -> None:
    tally = Tally()
    judged = [
        Judged(PAIRS[0], MONDAY, verdict(WET), verdict(WET)),
        Judged(PAIRS[0], MONDAY, verdict(WET), verdict(FEW, WET)),
        Judged(PAIRS[0], MONDAY + timedelta(days=1), verdict(), verdict(WET)),
        Judged(PAIRS[1], MONDAY, verdict(FEW), verdict()),
        Judged(PAIRS[2], MONDAY, verdict(GRAVE), verdict(FEW)),
    ]
    changes = list(compare(judged, tally))
    assert [(c.pair, c.day, c.kind, c.before.name, c.after.name) for c in changes] == [
        (PAIRS[0], MONDAY, "graver", "routine", "same_day"),
        (PAIRS[0], MONDAY + timedelta(days=1), "new", "none", "routine"),
        (PAIRS[1], MONDAY, "lost", "same_day", "none"),
        (PAIRS[2], MONDAY, "milder", "go_now", "same_day"),
    ]
    assert [found.rule for found in changes[0].why] == ["feeds-few"]
    assert [found.urgency for found in changes[3].why] == [Urgency.go_now]
    assert (tally.judgements, tally.pairs, len(tally.days)) == (5, 3, 2)
    assert tally.load(Urgency.same_day) == (0.5, 1.0)
    assert tally.rules["feeds-few", "gained"] == tally.rules["feeds-few", "dropped"] == 1


VERDICTS = st.lists(
    st.tuples(st.sampled_from("abc"), st.sampled_from([u for u in Urgency if u])), max_size=3
).map(lambda held: verdict(*held))
JUDGED = st.lists(
    st.builds(
        Judged,
        st.sampled_from(PAIRS),
        st.integers(0, 2).map(lambda n: MONDAY + timedelta(days=n)),
        VERDICTS,
        VERDICTS,
    ),
    max_size=12,
).map(lambda rows: sorted(rows, key=lambda each: each.pair))
MIRROR = {"new": "lost", "lost": "new", "graver": "milder", "milder": "graver"}


@given(JUDGED)
def test_the_other_way_round_is_the_mirror_image(judged: list[Judged]) -> None:
    one, two = Tally(), Tally()
    there = list(compare(judged, one))
    back = list(compare([Judged(j.pair, j.day, j.after, j.before) for j in judged], two))
    assert [(c.pair, c.day, MIRROR[c.kind], c.after, c.before, c.why) for c in there] == [
        (c.pair, c.day, c.kind, c.before, c.after, c.why) for c in back
    ]
    assert (one.before, one.after) == (two.after, two.before)


@given(JUDGED)
def test_the_same_rules_change_nothing(judged: list[Judged]) -> None:
    tally = Tally()
    same = [Judged(j.pair, j.day, j.before, j.before) for j in judged]
    assert list(compare(same, tally)) == []
    assert tally.before == tally.after
    assert sum(tally.before.values()) == len({(j.pair, j.day) for j in judged})

"""A changed rule over stored answers: what is judged anew, with a site's own overlay, and what is refused."""

from __future__ import annotations

from datetime import timedelta

import pytest

from bot.clock import Clock
from bot.content.factory import load_factory
from bot.core.backtest import Change, Tally, compare
from bot.core.errors import Invalid
from bot.core.follow.events import EnterAnswers, StaffActed
from bot.steps.backtest import changed_rules, judged_twice
from bot.steps.content import OVERLAY, LiveContent, publish_factory
from bot.steps.following import followed, store_changes
from bot.store import editions
from bot.store.engine import Store
from bot.store.pairs import load_pairs
from bot.store.saving import save_pairs
from tests.support.any_pair import STAFF, refer
from tests.support.pairs import DISCHARGED, a_pair

NOW = DISCHARGED + timedelta(days=5)
STRICTER = """
[feeds-under-8]
urgency = "same_day"
ladder = "feeds-few"
age = { k_from = 2 }
all = ["feeds_few at most 7"]
why = "6 or 7 feeds in 24 hours."
source = "District protocol 2026, section 3"
mark = "common practice"
advice = "advice-same-day"
ask = "Are night feeds skipped?"
"""


@pytest.fixture
def told(store: Store) -> Store:
    """A mother who said '7 feeds' to a counsellor, judged under the rules as they ship."""
    publish_factory(store, load_factory(), NOW - timedelta(days=30))
    content = LiveContent(store, load_factory(), Clock(machine=lambda: NOW))()
    with store.write() as conn:
        refer(conn)
        save_pairs(conn, [(None, a_pair())], NOW)
        pair = load_pairs(conn, [a_pair().id], lock=False)[0]
        event = StaffActed(STAFF[0], EnterAnswers({"feeds": (7, 7), "wet_nappies": (7, 7)}))
        store_changes(conn, [followed(pair, event, content, NOW)], NOW)
    return store


def backtested(store: Store, text: str, *without: str) -> tuple[Tally, list[Change], list[str]]:
    tally, unread = Tally(), list[str]()
    with store.read() as conn:
        body = changed_rules(conn, text, without, NOW)
        day = NOW.date()
        first = day - timedelta(days=2)
        changes = list(compare(judged_twice(conn, body, first, day, NOW, unread), tally))
    return tally, changes, unread


def test_what_a_stricter_rule_would_have_raised_is_named_with_its_reason(told: Store) -> None:
    tally, changes, unread = backtested(told, STRICTER)
    assert unread == []
    (change,) = changes
    assert (change.kind, change.before.name, change.after.name) == ("graver", "routine", "same_day")
    assert [found.why for found in change.why] == ["6 or 7 feeds in 24 hours."]
    assert tally.judgements == 1


def test_a_rule_left_out_is_lost_and_the_same_rules_change_nothing(told: Store) -> None:
    _, changes, _ = backtested(told, "", "feeds-under-8")
    assert [(change.kind, change.before.name) for change in changes] == [("lost", "routine")]
    assert backtested(told, "")[1] == []


def test_the_overlay_of_a_site_stands_on_both_sides(told: Store) -> None:
    off = {"feeds-under-8": {"urgency": "off", "reason": "Seen daily.", "source": "Protocol 2026"}}
    day_before = NOW - timedelta(days=1)
    with told.write() as conn:
        editions.publish(conn, OVERLAY, "lakeside", off, at=day_before, effective_from=day_before, why="lead")
    assert backtested(told, STRICTER)[1] == []


def test_a_faulty_change_is_refused_with_every_fault(told: Store) -> None:
    with pytest.raises(Invalid) as refused:
        backtested(told, STRICTER.replace("feeds_few at most 7", "feeds_many at most 7"))
    assert "feeds_many" in str(refused.value)
    with pytest.raises(Invalid, match="no such rule"):
        backtested(told, "", "no-such-rule")

"""A site's own thresholds: proved, kept, withdrawn; they hold at that site and nowhere else."""

from __future__ import annotations

import logging
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import select

from bot.clock import Clock
from bot.content.factory import load_factory, rules_body
from bot.core.errors import Invalid, NotFound
from bot.core.follow import follow
from bot.core.follow.events import EnterAnswers, Judged, StaffActed
from bot.steps.content import OVERLAY, RULES, STANDARD, LiveContent, publish_factory
from bot.steps.overlays import overlays, prove_sites, put_overlay, withdraw_overlay
from bot.store import editions
from bot.store import tables as t
from bot.store.effects import write_effects
from bot.store.engine import Store
from bot.store.saving import save_pairs
from bot.store.sites import add_site
from bot.store.viewer import Role, Viewer
from bot.store.views_shadow import tried_rules
from tests.support.any_pair import STAFF, refer
from tests.support.pairs import DISCHARGED, a_pair, a_site, an_id

NOW = DISCHARGED + timedelta(days=5)
STRICTER = {
    "feeds-4-or-5": {
        "thresholds": {"feeds_few": 6},
        "why": "6 feeds or fewer in 24 hours.",
        "reason": "District decision.",
        "source": "District protocol 2026, section 3",
    }
}


@pytest.fixture
def ready(store: Store) -> Store:
    """Rules are published and there are two sites."""
    publish_factory(store, load_factory(), NOW - timedelta(days=30))
    with store.write() as conn:
        refer(conn)  # brings the site "lakeside"
        add_site(conn, a_site(id=an_id("coast"), code="coast", name="Coast"))
    return store


def live(store: Store) -> Any:
    return LiveContent(store, load_factory(), Clock(machine=lambda: NOW + timedelta(minutes=5)))()


def urgency_of_six_feeds(store: Store, code: str) -> str:
    pair = a_pair(site=a_site(code=code))
    event = StaffActed(STAFF[0], EnterAnswers({"feeds": (6, 6)}))
    _, effects = follow(pair, event, live(store), NOW)
    (judged,) = (each for each in effects if isinstance(each, Judged))
    return judged.verdict.urgency.name


def test_it_holds_at_its_site_and_nowhere_else_until_it_is_withdrawn(ready: Store) -> None:
    proof, milder = put_overlay(ready, "lakeside", STRICTER, "The clinical lead, 3 March.", NOW)
    assert (proof.problems, milder) == ((), [])
    assert urgency_of_six_feeds(ready, "lakeside") == "same_day"
    assert urgency_of_six_feeds(ready, "coast") == "routine"

    withdraw_overlay(ready, "lakeside", "Back to the common rules.", NOW + timedelta(minutes=1))
    assert urgency_of_six_feeds(ready, "lakeside") == "routine"
    with ready.read() as conn:
        kept = editions.history(conn, OVERLAY, "lakeside")
        assert [(each.number, bool(each.body), each.why) for each in kept] == [
            (1, True, "The clinical lead, 3 March."),
            (2, False, "Back to the common rules."),
        ]
        assert overlays(conn, NOW + timedelta(minutes=2)) == []
    with pytest.raises(NotFound):
        withdraw_overlay(ready, "lakeside", "Again.", NOW + timedelta(minutes=2))


@pytest.mark.parametrize(
    ("site", "overlay", "why", "error"),
    [
        ("nowhere", STRICTER, "x", NotFound),
        ("lakeside", STRICTER, " ", Invalid),
        ("lakeside", {"no-such-rule": STRICTER["feeds-4-or-5"]}, "x", Invalid),
        (  # not provable: the step below would never decide
            "lakeside",
            {"feeds-4-or-5": {**STRICTER["feeds-4-or-5"], "thresholds": {"feeds_few": 3}}},
            "x",
            Invalid,
        ),
    ],
)
def test_what_is_refused_changes_nothing(
    ready: Store, site: str, overlay: dict[str, Any], why: str, error: type[Exception]
) -> None:
    with pytest.raises(error):
        put_overlay(ready, site, overlay, why, NOW)
    with ready.read() as conn:
        assert editions.history(conn, OVERLAY, site) == []


def test_an_overlay_that_new_rules_have_outgrown_leaves_the_common_ones_and_is_named(
    ready: Store, caplog: pytest.LogCaptureFixture
) -> None:
    put_overlay(ready, "lakeside", STRICTER, "The clinical lead.", NOW)
    body = rules_body()
    del body["files"]["feeds.toml"]["feeds-4-or-5"]
    with ready.write() as conn:
        editions.publish(conn, RULES, STANDARD, body, at=NOW, effective_from=NOW)
    with caplog.at_level(logging.ERROR):
        assert live(ready).local_rules == {}
    assert "lakeside" in caplog.text
    with ready.read() as conn:
        ((site, proof),) = prove_sites(conn, NOW + timedelta(minutes=1))
    assert site == "lakeside"
    assert "There is no such rule." in str(proof.problems[0])


def test_a_judgement_says_which_overlay_it_was_made_by_and_what_was_tried_out(ready: Store) -> None:
    put_overlay(ready, "lakeside", STRICTER, "The clinical lead.", NOW)
    site = a_site()
    pair = a_pair(site=site)
    content = live(ready)
    worry = content.rules.rule("worry")
    tried = replace(worry, id="tried", ladder="tried", shadow=True)
    event = StaffActed(STAFF[0], EnterAnswers({"worry": (1, 1)}))
    shadowed = replace(
        content, local_rules={"lakeside": type(content.rules)(content.rules.vocabulary, (worry, tried))}
    )
    with ready.write() as conn:
        save_pairs(conn, [(None, pair)], NOW)
        after, effects = follow(pair, event, shadowed, NOW)
        write_effects(conn, [(after, effects)], NOW)
    with ready.read() as conn:
        run = conn.execute(select(t.triage_run)).one()
        lead = Viewer(an_id("staff", "lead"), Role.lead, frozenset({site.id}))
        day = pair.local(NOW).date()
        (found,) = tried_rules(conn, lead, day, day, NOW)
        earlier = tried_rules(conn, lead, day - timedelta(days=2), day - timedelta(days=1), NOW)
    assert (run.overlay, run.shadow) == (1, "tried")
    assert (found.rule, found.held, found.pairs) == ("tried", 1, 1)
    assert {urgency.name: n for urgency, n in found.beside.items()} == {"same_day": 1}
    assert earlier == []

"""The record: the pulse and its gaps, what a deaf service says, and the whole story of one pair."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from sqlalchemy import insert

from bot.clock import Clock
from bot.content.factory import load_factory
from bot.core.errors import Conflict, NotAllowed, NotFound
from bot.core.follow.events import Action, Close, EnterAnswers, Spoke, StaffActed, Take
from bot.core.ids import derived_id
from bot.core.states import InboundState
from bot.steps.content import LiveContent, publish_factory
from bot.steps.following import followed, store_changes
from bot.steps.incident import incident
from bot.store import deaf, pulse, record
from bot.store import tables as t
from bot.store.engine import Store
from bot.store.pairs import load_pairs
from bot.store.saving import save_pairs
from bot.store.viewer import Role, Viewer
from bot.store.views_record import complete_entry, entries_of, missed, seen
from tests.support.any_pair import STAFF, refer
from tests.support.pairs import DISCHARGED, a_pair

NOW = DISCHARGED + timedelta(days=3)
MINUTE = timedelta(minutes=1)
PAIR = a_pair()
LEAD = Viewer(STAFF[0], Role.lead, frozenset({PAIR.site.id}))


@pytest.fixture
def followed_pair(store: Store) -> Store:
    """A pair whose danger was heard on the phone and ended in hospital."""
    publish_factory(store, load_factory(), NOW - timedelta(days=30))
    content = LiveContent(store, load_factory(), Clock(machine=lambda: NOW))()
    acts: tuple[Action, ...] = (
        EnterAnswers({"feeds": (9, 9)}, frozenset({"convulsions"})),
        Take(),
        Spoke(),
        Close("advice_given", "He is on the ward.", "admitted"),
    )
    with store.write() as conn:
        refer(conn)
        save_pairs(conn, [(None, PAIR)], NOW)
        pair = load_pairs(conn, [PAIR.id], lock=False)[0]
        for n, act in enumerate(acts):
            change = followed(pair, StaffActed(STAFF[0], act), content, NOW + n * MINUTE)
            store_changes(conn, [change], NOW + n * MINUTE)
            pair = change.after
    return store


def test_a_part_seen_again_makes_its_stretch_longer_and_a_gap_begins_another(store: Store) -> None:
    with store.write() as conn:
        for minutes, state in ((0, "ok"), (1, "ok"), (2, "ok"), (60, "ok"), (61, "ok")):
            pulse.beat(conn, pulse.WORKER, state, NOW + minutes * MINUTE)
        pulse.beat(conn, "gateway:one", "ok", NOW)
        pulse.beat(conn, "gateway:one", "silent", NOW + MINUTE)
        stretches = pulse.between(conn, NOW, NOW + 2 * 60 * MINUTE)
        gaps = pulse.outages(conn, NOW, 30 * MINUTE)
    assert [(s.part, s.since - NOW, s.until - NOW, s.state) for s in stretches] == [
        ("gateway:one", 0 * MINUTE, 0 * MINUTE, "ok"),
        ("gateway:one", MINUTE, MINUTE, "silent"),
        ("worker", 0 * MINUTE, 2 * MINUTE, "ok"),
        ("worker", 60 * MINUTE, 61 * MINUTE, "ok"),
    ]
    assert gaps == ((NOW + 2 * MINUTE, NOW + 60 * MINUTE),)


def a_reply(store: Store, at: datetime) -> None:
    me = derived_id(at, "reply", at)
    with store.write() as conn:
        conn.execute(
            insert(t.inbound).values(
                id=me,
                gateway="one",
                external_key=str(me),
                raw=store.sealer.seal("{}", me, "inbound.raw"),
                kind="text",
                received_at=at,
                stored_at=at,
                state=InboundState.stored,
            )
        )


def test_a_reply_unread_for_a_minute_and_a_worker_asleep_are_said(store: Store) -> None:
    a_reply(store, NOW)
    with store.write() as conn:
        pulse.beat(conn, pulse.WORKER, "ok", NOW)
        pulse.beat(conn, "gateway:one", "silent", NOW)
        assert {a.what for a in deaf.alarms(conn, NOW + timedelta(seconds=59), NOW)} == {"no_reports"}
        later = NOW + 4 * MINUTE
        found = {a.what: a for a in deaf.alarms(conn, later, later)}
    assert set(found) == {"unread", "worker", "no_reports"}
    assert (found["unread"].n, found["unread"].since) == (1, NOW)
    assert found["no_reports"].name == "one"


def a_text(store: Store, n: int, at: datetime) -> None:
    me = derived_id(at, "text", n)
    seal = store.sealer.seal
    with store.write() as conn:
        conn.execute(
            insert(t.message).values(
                id=me,
                phone_key=b"x",
                to=seal("+447700900123", me, "message.to"),
                text_key="ask-feeds",
                text_values=seal("{}", me, "message.text_values"),
                language="en",
                priority=3,
                created_at=at,
                send_after=at,
                expires_at=at + timedelta(hours=6),
                once_key=str(me),
                state="accepted",
                attempts=1,
                sent_at=at,
                gateway="one",
            )
        )
        attempt = {"message": me, "n": 1, "gateway": "one", "at": at, "outcome": "accepted"}
        conn.execute(insert(t.send_attempt).values(**attempt))


def test_a_flow_that_stopped_and_a_gateway_that_never_reports_are_noticed(store: Store) -> None:
    for n in range(12):
        a_text(store, n, NOW - timedelta(minutes=100))
    with store.read() as conn:
        assert deaf.is_silent(conn, "one", NOW)
        assert not deaf.is_silent(conn, "two", NOW)
        assert [a.what for a in deaf.alarms(conn, NOW, NOW)] == ["no_replies"]
    a_reply(store, NOW - timedelta(seconds=30))
    with store.read() as conn:
        assert deaf.alarms(conn, NOW, NOW) == []


def test_the_story_is_whole_in_order_and_each_decision_comes_out_the_same(followed_pair: Store) -> None:
    with followed_pair.write() as conn:
        record.note_opened(conn, PAIR.id, STAFF[0], NOW + MINUTE)
        record.note_opened(conn, PAIR.id, STAFF[0], NOW + 2 * MINUTE)
        record.hold(conn, PAIR.id, "Letter 12.", NOW)
        record.note_taken_out(conn, PAIR.id, "operator", NOW + timedelta(hours=1))
        found = incident(conn, LEAD, PAIR.id, NOW + timedelta(hours=1))
    assert json.loads(json.dumps(found)) == found
    times = [each["at"] for each in found["story"]]
    assert times == sorted(times)
    kinds = {each["kind"] for each in found["story"]}
    assert {"triage", "audit", "opened", "adverse event"} <= kinds
    assert sum(each["kind"] == "opened" for each in found["story"]) == 1
    assert found["replay"]["decisions"] == found["replay"]["same"] > 0
    decided = next(each for each in found["story"] if each["kind"] == "triage")
    assert decided["facts"]["danger_signs"] == ["convulsions"]
    assert decided["rules_edition"] == 1
    assert found["legal_hold"]["why"] == "Letter 12."
    assert found["pair"]["episodes"][0]["outcome"] == "admitted"


def test_only_a_lead_of_the_site_sees_it(followed_pair: Store) -> None:
    with followed_pair.read() as conn:
        with pytest.raises(NotAllowed):
            incident(conn, Viewer(STAFF[0], Role.counsellor, LEAD.sites), PAIR.id, NOW)
        with pytest.raises(NotFound):
            incident(conn, Viewer(STAFF[0], Role.lead, frozenset()), PAIR.id, NOW)


def test_an_entry_is_completed_once_and_a_hold_lifted_once(followed_pair: Store) -> None:
    with followed_pair.write() as conn:
        (entry,) = entries_of(conn, LEAD, PAIR.id)
        assert (entry.kind, entry.completed_at) == ("admitted", None)
        given = (NOW.date(), "Lakeside Hospital", "place", "Bed 4", NOW)
        complete_entry(conn, LEAD, entry.id, PAIR.id, *given)
        with pytest.raises(Conflict):
            complete_entry(conn, LEAD, entry.id, PAIR.id, *given)
        (done,) = entries_of(conn, LEAD, PAIR.id)
        assert (done.place, done.source, done.note) == ("Lakeside Hospital", "place", "Bed 4")
        record.hold(conn, PAIR.id, "Letter 12.", NOW)
        with pytest.raises(Conflict):
            record.hold(conn, PAIR.id, "Letter 13.", NOW)
        record.release(conn, PAIR.id, "Closed.", NOW)
        with pytest.raises(NotFound):
            record.release(conn, PAIR.id, "Closed.", NOW)
        with pytest.raises(NotFound):
            record.hold(conn, uuid4(), "Letter 14.", NOW)


def test_who_was_not_heard_is_listed_once_until_somebody_asked(followed_pair: Store) -> None:
    with followed_pair.write() as conn:
        record.list_to_catch_up(conn, [PAIR.id], NOW)
        record.list_to_catch_up(conn, [PAIR.id], NOW + MINUTE)
        (one,) = missed(conn, LEAD)
        assert (one.mother, one.since) == (PAIR.mother.name, NOW.astimezone(UTC))
        seen(conn, Viewer(STAFF[0], Role.lead, frozenset()), PAIR.id, NOW)
        assert missed(conn, LEAD)
        seen(conn, LEAD, PAIR.id, NOW)
        assert missed(conn, LEAD) == []
        record.list_to_catch_up(conn, [PAIR.id], NOW + MINUTE)
        assert missed(conn, LEAD)

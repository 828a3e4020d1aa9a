"""A person acts on a pair of hers: all of it or nothing, and never through a token."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from bot.core.errors import Conflict, Invalid, NotAllowed, NotFound
from bot.core.follow.events import Action, Close, EnterAnswers, Take, Write
from bot.core.states import EscalationState
from bot.steps.inbox import act, record_review
from bot.store.engine import Store
from bot.store.tokens import add_token, viewer_of_token
from bot.store.viewer import Role, Viewer
from tests.support.ward import Ward, open_ward

MINUTE = timedelta(minutes=1)


@pytest.fixture
def ward(store: Store) -> Ward:
    return open_ward(store)


def viewer_of(ward: Ward, login: str, *codes: str) -> Viewer:
    sites = frozenset(ward.sites[code].id for code in codes or ("lakeside",))
    return Viewer(ward.staff[login], Role.counsellor, sites)


def test_what_she_said_and_the_end_of_the_item_are_stored_together(ward, content):
    pair = ward.writes(ward.enrol("Amina"), "he is very hot", before=MINUTE)
    njeri = viewer_of(ward, "njeri")
    deeds: list[Action] = [
        Take(),
        EnterAnswers({"feeds": (9.0, 9.0)}),
        Close("advised", outcome="treated_home"),
    ]
    after = act(ward.store, content, njeri, pair.id, deeds, ward.now)
    assert ward.load(pair.id) == after
    assert after.open_escalation is None
    assert [(a.key, a.by) for a in after.answers if a.by] == [("feeds", njeri.staff_id)]


def test_when_one_of_several_deeds_is_refused_none_is_done(ward, content):
    pair = ward.writes(ward.enrol("Amina"), "he is very hot", before=MINUTE)
    with pytest.raises(Invalid):
        act(ward.store, content, viewer_of(ward, "njeri"), pair.id, [Take(), Write("k", " ")], ward.now)
    assert ward.load(pair.id) == pair


def test_two_cant_take_the_same(ward, content):
    pair = ward.writes(ward.enrol("Amina"), "he is very hot", before=MINUTE)
    act(ward.store, content, viewer_of(ward, "njeri"), pair.id, [Take()], ward.now)
    with pytest.raises(Conflict):
        act(ward.store, content, viewer_of(ward, "otieno"), pair.id, [Take()], ward.now)
    item = ward.load(pair.id).open_escalation
    assert item is not None
    assert (item.state, item.taken_by) == (EscalationState.taken, ward.staff["njeri"])


def test_a_pair_of_another_site_is_not_there(ward, content):
    pair = ward.writes(ward.enrol("Amina"), "he is very hot", before=MINUTE)
    with pytest.raises(NotFound):
        act(ward.store, content, viewer_of(ward, "salma", "coast"), pair.id, [Take()], ward.now)


def test_a_token_reads_but_does_nothing_to_a_pair(ward, content):
    pair = ward.writes(ward.enrol("Amina"), "he is very hot", before=MINUTE)
    with ward.store.write() as conn:
        token = add_token(conn, "records", Role.admin, [pair.site.id], ward.now)
        viewer = viewer_of_token(conn, token)
    assert viewer is not None
    with pytest.raises(NotAllowed):
        act(ward.store, content, viewer, pair.id, [Take()], ward.now)
    review = pair.expected_review
    assert review is not None
    with pytest.raises(NotAllowed):
        record_review(ward.store, content, viewer, pair.id, review.id, False, (), "", ward.now)
    assert ward.load(pair.id) == pair


def test_a_review_recorded_twice_is_one_visit(ward, content):
    pair = ward.enrol("Amina")
    review, njeri = pair.expected_review, viewer_of(ward, "njeri")
    assert review is not None
    weighed = replace(pair.assessments[0], id=review.id, occasion="review", weight_g=3100)
    once = record_review(ward.store, content, njeri, pair.id, review.id, True, [weighed], "", ward.now)
    with pytest.raises(Conflict):
        record_review(ward.store, content, njeri, pair.id, review.id, True, [weighed], "", ward.now)
    assert ward.load(pair.id) == once
    assert [seen.weight_g for seen in once.assessments][-1] == 3100

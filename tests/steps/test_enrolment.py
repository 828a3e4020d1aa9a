"""Mothers are enrolled through every door, on both databases."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

import pytest
from sqlalchemy import select

from bot.core.pair import Pair
from bot.core.states import EnrolmentState, Texting
from bot.steps.enrolment import Door, Enrolment, enrol, enrol_many, next_contact_at, review_at
from bot.store import tables as t
from bot.store.engine import Store
from bot.store.pairs import load_pairs
from bot.store.sites import add_site
from tests.support.discharges import NOW, details
from tests.support.pairs import a_site

SITE = a_site(region="GB")


@pytest.fixture
def ward(store: Store) -> Store:
    """A store with one site."""
    with store.write() as conn:
        add_site(conn, SITE)
    return store


def door(**changes: Any) -> Door:
    given: dict[str, Any] = {"source": "api", "sites": [SITE.id], "languages": ("en", "ar"), "demo": True}
    return Door(**given | changes)


def pair_of(done: Enrolment) -> Pair:
    assert done.pair is not None, [str(fault) for fault in done.faults]
    return done.pair


def refused(done: Enrolment) -> set[str]:
    assert done.pair is None
    return {("?" if fault.confirm else "") + fault.field for fault in done.faults}


def texts(store: Store) -> list[Any]:
    with store.read() as conn:
        return list(conn.execute(select(t.message.c.text_key, t.message.c.send_after, t.message.c.priority)))


def enrolments(store: Store) -> int:
    with store.read() as conn:
        return len(conn.execute(select(t.enrolment.c.id)).all())


def stored(store: Store, found: UUID) -> Any:
    with store.read() as conn:
        return load_pairs(conn, [found], lock=False)[0]


def test_a_pair_is_stored_as_it_was_followed_with_a_review_and_a_next_look(ward, content):
    done = enrol(ward, content, door(), details(), NOW)
    assert done.pair is not None
    assert not done.already
    pair = stored(ward, done.pair.id)
    assert pair == done.pair
    assert (pair.state, pair.mother.texting) == (EnrolmentState.following, Texting.unverified)
    assert pair.wake_at is not None
    # Discharged on Tuesday 3 March at 14:00; 48 hours later is Thursday, an open day.
    review, contact = review_at(pair), next_contact_at(pair, content.schedule, NOW)
    assert review is not None
    assert review.isoformat() == "2026-03-05T14:00:00+03:00"
    assert contact is not None
    assert contact >= NOW


def test_the_only_text_is_the_practice_text_and_at_the_bedside_it_goes_at_once(ward, content):
    night = datetime(2026, 3, 3, 19, 30, tzinfo=UTC)  # 22:30 at the site, in quiet hours
    enrol(ward, content, door(source="form"), details(external_id="bed"), night)
    assert [(row.text_key, row.send_after) for row in texts(ward)] == [("practice", night)]


def test_through_api_and_file_the_practice_text_waits_for_the_end_of_quiet_hours(ward, content):
    night = datetime(2026, 3, 3, 19, 30, tzinfo=UTC)
    enrol(ward, content, door(), details(), night)
    (row,) = texts(ward)
    assert row.text_key == "practice"
    assert row.send_after.astimezone(SITE.tz).time() == content.schedule.quiet_until
    assert row.send_after > night


def test_a_pair_without_a_phone_is_followed_and_gets_no_text(ward, content):
    raw = details(mother__phone="", follow_up_by="visit")
    done = enrol(ward, content, door(), raw, NOW)
    assert done.pair is not None
    assert stored(ward, done.pair.id).wake_at is not None
    assert texts(ward) == []


def test_what_is_refused_leaves_nothing_behind(ward, content):
    done = enrol(ward, content, door(), details(babies__0__birth_weight_g=90, site="nowhere"), NOW)
    assert refused(done) == {"babies.0.birth_weight_g", "site"}
    assert enrolments(ward) == 0
    assert texts(ward) == []


def test_a_site_that_is_not_among_those_of_the_door_is_refused(ward, content):
    assert refused(enrol(ward, content, door(sites=[]), details(), NOW)) == {"site"}


def test_the_same_external_id_again_changes_nothing_and_lists_what_differs(ward, content):
    first = enrol(ward, content, door(), details(), NOW)
    later = NOW + timedelta(hours=1)
    again = enrol(ward, content, door(), details(), later)
    assert (again.already, again.differs, again.pair) == (True, (), first.pair)
    other = enrol(ward, content, door(), details(mother__name="Amina K", babies__0__birth_weight_g=90), later)
    assert (other.already, other.differs) == (True, ("babies.0.birth_weight_g", "mother.name"))
    assert stored(ward, pair_of(first).id) == first.pair
    assert len(texts(ward)) == 1


def test_the_same_phone_again_is_asked_about_and_then_counts_as_shared(ward, content):
    enrol(ward, content, door(), details(), NOW)
    other = details(external_id="W-1002", mother__name="Halima")
    assert refused(enrol(ward, content, door(), other, NOW)) == {"?mother.phone"}
    done = enrol(ward, content, door(), other | {"confirmed": ["mother.phone"]}, NOW)
    assert done.pair is not None
    assert done.pair.mother.phone_shared
    again = enrol(ward, content, door(), other | {"confirmed": ["mother.phone"]}, NOW)
    assert (again.already, again.differs) == (True, ())


def test_a_phone_whose_mother_is_no_longer_followed_is_not_asked_about(ward, content):
    first = enrol(ward, content, door(), details(), NOW)
    with ward.write() as conn:
        conn.execute(
            t.enrolment.update()
            .where(t.enrolment.c.id.in_([pair_of(first).id]))
            .values(state=EnrolmentState.closed, wake_at=None, closed_reason="finished")
        )
    assert enrol(ward, content, door(), details(external_id="W-1002"), NOW).pair is not None


def test_many_are_enrolled_at_once_and_a_bad_one_stops_no_other(ward, content):
    raws = [
        details(
            external_id=f"W-{n}", mother__phone=f"07700 900{n}", mother__language="en" if n != 204 else "xx"
        )
        for n in range(200, 210)
    ]
    done = enrol_many(ward, content, door(), [*raws, raws[0]], NOW)
    assert [refused(each) for each in done if each.pair is None] == [{"mother.language"}]
    assert done[-1].already
    assert enrolments(ward) == 9
    again = enrol_many(ward, content, door(), raws, NOW + timedelta(hours=1))
    assert sum(each.already for each in again) == 9
    assert enrolments(ward) == 9


def test_two_mothers_of_one_batch_on_the_same_phone_are_asked_about(ward, content):
    done = enrol_many(ward, content, door(), [details(), details(external_id="W-1002")], NOW)
    assert done[0].pair is not None
    assert refused(done[1]) == {"?mother.phone"}


def test_one_external_id_from_many_callers_at_once_is_stored_once(ward, content):
    def call(n: int) -> Enrolment:
        return enrol(ward, content, door(), details(), NOW + timedelta(milliseconds=n))

    with ThreadPoolExecutor(4) as pool:
        done = list(pool.map(call, range(8)))
    assert sorted(each.already for each in done) == [False] + [True] * 7
    assert len({each.pair.id for each in done if each.pair}) == 1
    assert enrolments(ward) == 1
    assert len(texts(ward)) == 1


def test_the_audit_says_who_enrolled_through_which_door(ward, content):
    who = SITE.id
    done = enrol(ward, content, door(source="form", by=who), details(), NOW)
    with ward.read() as conn:
        lines = conn.execute(select(t.event_log.c.actor, t.event_log.c.why, t.event_log.c.subject)).all()
    assert (str(who), "form", pair_of(done).id) in [tuple(line) for line in lines]


def test_twins_are_stored_whole(ward, content):
    raw = details()
    raw["babies"].append({"name": "Baraka", "born_at": "2026-03-02"})
    done = enrol(ward, content, door(), raw, NOW)
    babies = stored(ward, pair_of(done).id).babies
    assert [(baby.name, baby.born_at is None) for baby in babies] == [("Nia", False), ("Baraka", True)]
    assert replace(babies[1], name="").birth_weight_g is None

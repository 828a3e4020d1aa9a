"""Editions, sites and tokens: published once, added once, shown once."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from sqlalchemy import select, update
from sqlalchemy.exc import DBAPIError

from bot.core.errors import Conflict, NotAllowed, NotFound
from bot.store import tables as t
from bot.store.editions import digest, history, in_force, newest, newest_number, publish
from bot.store.engine import Store
from bot.store.sites import add_site, all_sites, change_site, site_by_code
from bot.store.tokens import add_token, revoke_token, viewer_of_token
from bot.store.viewer import Role, Viewer
from tests.support.pairs import DISCHARGED, a_site, an_id, some_numbers

DAY = timedelta(days=1)


def test_the_edition_in_force_is_the_newest_that_has_begun(store: Store) -> None:
    with store.write() as conn:
        for number, start in enumerate([DISCHARGED, DISCHARGED + DAY], start=1):
            publish(conn, "schedule", "standard", {"n": number}, at=DISCHARGED, effective_from=start)
    with store.read() as conn:
        assert in_force(conn, "schedule", DISCHARGED)["standard"].body == {"n": 1}
        assert in_force(conn, "schedule", DISCHARGED + DAY)["standard"].body == {"n": 2}
        assert in_force(conn, "schedule", DISCHARGED - DAY) == {}
        assert newest_number(conn, "schedule", DISCHARGED) == 1
        assert newest_number(conn, "rules", DISCHARGED) == 0
        first, second = history(conn, "schedule", "standard")
        assert newest(conn, "schedule", "standard") == second
        assert (first.based_on, second.based_on, second.sha256) == (None, first.id, digest({"n": 2}))


def test_who_edited_an_older_edition_is_told(store: Store) -> None:
    with store.write() as conn:
        for _ in range(2):
            publish(conn, "schedule", "standard", {}, at=DISCHARGED, effective_from=DISCHARGED)
        with pytest.raises(Conflict, match="Edition 2 was published meanwhile"):
            publish(conn, "schedule", "standard", {}, at=DISCHARGED, effective_from=DISCHARGED, based_on=1)


def test_an_edition_is_never_changed(store: Store) -> None:
    with store.write() as conn:
        publish(conn, "schedule", "standard", {}, at=DISCHARGED, effective_from=DISCHARGED)
    with pytest.raises(DBAPIError, match="written once"), store.write() as conn:
        conn.execute(update(t.edition).values(body={"n": 9}))


def test_a_site_comes_back_as_it_was_added(store: Store) -> None:
    site = a_site(closed_days=frozenset({date(2026, 12, 25), date(2027, 1, 1)}))
    with store.write() as conn:
        add_site(conn, site)
    with store.read() as conn:
        assert site_by_code(conn, "lakeside") == site
        assert all_sites(conn) == [site]
        with pytest.raises(NotFound, match="hillside"):
            site_by_code(conn, "hillside")


def test_a_code_is_given_to_one_site_only(store: Store) -> None:
    with store.write() as conn:
        add_site(conn, a_site())
        with pytest.raises(Conflict, match="lakeside"):
            add_site(conn, a_site(id=an_id("another site")))


def test_a_changed_site_gets_the_next_revision_and_who_edits_an_older_one_is_told(store: Store) -> None:
    site = a_site(closed_days=frozenset({date(2026, 12, 25)}))
    with store.write() as conn:
        add_site(conn, site)
        moved = replace(site, closed_days=frozenset(), numbers=some_numbers(hours="day and night"))
        after = change_site(conn, moved)
        assert after == replace(moved, revision=2)
        assert site_by_code(conn, "lakeside") == after
        with pytest.raises(Conflict, match="meanwhile"):
            change_site(conn, site)


def test_a_token_works_until_it_is_revoked_and_is_stored_as_a_hash(store: Store) -> None:
    with store.write() as conn:
        add_site(conn, a_site())
        token = add_token(conn, "ward system", Role.counsellor, [a_site().id], DISCHARGED)
        viewer = viewer_of_token(conn, token)
        assert viewer is not None
        assert (viewer.role, viewer.sites) == (Role.counsellor, frozenset({a_site().id}))
        assert viewer_of_token(conn, token + "x") is None
        assert token not in str(conn.execute(select(t.api_token)).all())
        revoke_token(conn, "ward system", DISCHARGED + DAY)
        assert viewer_of_token(conn, token) is None
        with pytest.raises(NotFound):
            revoke_token(conn, "ward system", DISCHARGED + DAY)


@pytest.mark.parametrize(
    ("has", "needs", "may"),
    [
        (Role.counsellor, Role.counsellor, True),
        (Role.counsellor, Role.manager, False),
        (Role.lead, Role.counsellor, True),
        (Role.manager, Role.admin, False),
        (Role.admin, Role.manager, True),
    ],
)
def test_a_role_may_do_what_those_below_it_may(has: Role, needs: Role, may: bool) -> None:
    viewer = Viewer(an_id("staff"), has, frozenset())
    assert has.reaches(needs) is may
    if may:
        viewer.needs(needs)
    else:
        with pytest.raises(NotAllowed, match=needs.value):
            viewer.needs(needs)

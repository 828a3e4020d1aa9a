"""Records that are no longer kept: every word goes from every table, what holds them back is named, and who
is still followed loses nothing."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import Table, func, insert, select

from bot.core.errors import Conflict
from bot.core.escalation import DUE, News
from bot.core.follow.events import (
    ChangePhone,
    Close,
    Finish,
    PlanVisit,
    Resume,
    ReviewRecorded,
    Spoke,
    Take,
)
from bot.core.ids import derived_id
from bot.core.pair import Assessment, OnCall, Pair
from bot.core.states import InboundState, MessageState, Urgency
from bot.steps.erasing import erase_old, erase_one
from bot.store import record
from bot.store import tables as t
from bot.store.audit import audit
from bot.store.pairs import load_pairs
from bot.store.rows import sealed_columns
from bot.store.strangers import raise_stranger
from bot.store.viewer import Role, Viewer
from bot.store.views_record import complete_entry, entries_of
from bot.store.views_report import counts_of
from bot.store.words import add_proposal
from tests.support.database import opened, upgraded
from tests.support.pairs import an_id
from tests.support.ward import Visitor, Ward, open_ward

DAY = timedelta(days=1)
KEEP = timedelta(days=90)
STRANGER = "+447700900999"
# Sealed, and about no mother: what the service and its staff need to work.
NOT_OF_PAIRS = {t.site, t.staff}
SEALED = [table for table in t.metadata.sorted_tables if sealed_columns(table) and table not in NOT_OF_PAIRS]


@pytest.fixture
def ward(database_url: str) -> Iterator[Ward]:
    with opened(upgraded(database_url)) as store:
        yield open_ward(store)


def values(ward: Ward, table: Table) -> list[bytes]:
    """What stands in the sealed columns of a table, without what is empty."""
    with ward.store.read() as conn:
        found = conn.execute(select(*(table.c[name] for name in sealed_columns(table)))).all()
    return [value for row in found for value in row if value]


def a_whole_life(ward: Ward) -> Pair:
    """A pair of whom something stands in every table that holds words."""
    site = ward.add_site("hill", "Hill Clinic", on_call=(OnCall("Matron Wekesa", "+447700900111"),))
    ward.add_staff("matron", "Wekesa", Role.lead, "hill")
    pair = ward.enrol("Zawadi", code="hill")
    ward.texts(pair, "How many feeds?", before=2 * DAY)
    pair = ward.writes(pair, "he is hot and will not wake, call my neighbour")
    seen = Assessment(an_id("seen again"), pair.babies[0].ordinal, ward.now, "Wekesa", "review", {}, 3100)
    review = pair.expected_review
    assert review is not None
    pair = ward.happens(
        pair, ReviewRecorded(ward.staff["matron"], review.id, True, (seen,), "Came with aunt.")
    )
    today = pair.local(ward.now).date()
    pair = ward.acts("matron", pair, Take(), PlanVisit(today, "Nurse Achieng"), Spoke())
    pair = ward.acts("matron", pair, Close("advised", "He is on the ward.", "admitted"))
    pair = ward.acts("matron", pair, ChangePhone("+447700900112", shared=False), Finish("admitted"))
    viewer = Viewer(ward.staff["matron"], Role.lead, frozenset({site.id}))
    me = derived_id(ward.now, "receipt")
    with ward.store.write() as conn:
        (entry, *_rest) = entries_of(conn, viewer, pair.id)
        complete_entry(conn, viewer, entry.id, pair.id, today, "Ward 3", "staff", "By phone.", ward.now)
        reply = conn.scalar(select(t.inbound.c.id))
        text = conn.scalar(select(t.message.c.id).where(t.message.c.state == MessageState.delivered))
        assert reply is not None
        add_proposal(conn, viewer, reply, "en", "will not wake", "lethargic", ward.now)
        conn.execute(
            insert(t.receipt).values(
                id=me, gateway="test", dedupe_key="1", ref="1", reported="delivered",
                state=InboundState.read, raw=ward.store.sealer.seal("{}", me, "receipt.raw"),
                stored_at=ward.now, message=text,
            )
        )  # fmt: skip
        conn.execute(
            t.message.update()
            .where(t.message.c.state == MessageState.queued)
            .values(state=MessageState.expired)
        )
    return ward.load(pair.id)


def a_stranger(ward: Ward) -> None:
    """Somebody whom nobody knows wrote of a danger; a person has closed it."""
    me, sealer = derived_id(ward.now, "stranger"), ward.store.sealer
    key = sealer.phone_key(STRANGER)
    with ward.store.write() as conn:
        conn.execute(
            insert(t.inbound).values(
                id=me, gateway="test", external_key="s", phone_key=key, kind="text",
                sender=sealer.seal(STRANGER, me, "inbound.sender"),
                text=sealer.seal("fits", me, "inbound.text"),
                raw=sealer.seal("{}", me, "inbound.raw"), received_at=ward.now, stored_at=ward.now,
                state=InboundState.read,
            )
        )  # fmt: skip
        news = News("stranger_danger", None, Urgency.go_now, me, "fits")
        raise_stranger(conn, key, news, DUE, ward.now)


def test_no_word_of_a_pair_is_left_in_any_table(ward: Ward) -> None:
    pair = a_whole_life(ward)
    empty_before = {table.name for table in SEALED if not values(ward, table)}
    assert empty_before == set()
    assert erase_old(ward.store, KEEP, ward.now + KEEP + DAY, 100) == 1
    assert {table.name: values(ward, table) for table in SEALED if values(ward, table)} == {}
    with ward.store.read() as conn:
        assert load_pairs(conn, [pair.id], lock=False) == []
        assert conn.scalar(select(func.count()).select_from(t.name_token)) == 0
        row = conn.execute(select(t.enrolment, t.mother).join(t.mother)).one()
        assert (row.external_id, row.phone_key) == (f"erased-{pair.id}", b"")
        said = conn.execute(select(t.event_log.c.to_state).where(t.event_log.c.actor == "retention")).all()
        assert said == [("erased",)]
    assert erase_old(ward.store, KEEP, ward.now + KEEP + DAY, 100) == 0


def test_reports_count_as_before_and_every_page_still_opens(ward: Ward) -> None:
    pair = a_whole_life(ward)
    day, later = pair.local(ward.now).date(), ward.now + KEEP + DAY
    viewer = Viewer(ward.staff["matron"], Role.lead, frozenset(site.id for site in ward.sites.values()))

    def counts() -> object:
        with ward.store.read() as conn:
            return counts_of(conn, viewer, day - 7 * DAY, day, later)

    before = counts()
    erase_old(ward.store, KEEP, later, 100)
    assert counts() == before
    ward.now = ward.machine = later
    with ward.store.read() as conn:
        assert audit(conn, later, later) == []
    visitor = Visitor(ward.app().test_client())
    visitor.sign_in("matron")
    for address in ("/inbox", "/chase", f"/reviews?day={day}&site=hill", "/ward", "/report", "/words"):
        assert "Zawadi" not in visitor.page(address)
    visitor.page(f"/pairs/{pair.id}", 404)


def test_what_was_erased_is_gone_from_the_file(sqlite_url: str) -> None:
    with opened(upgraded(sqlite_url)) as store:
        ward = open_ward(store)
        a_whole_life(ward)
        secrets = [value for table in SEALED for value in values(ward, table)]
        path = Path(sqlite_url.removeprefix("sqlite:///"))
        files = [path, path.with_name(f"{path.name}-wal")]
        store.empty_log()
        assert all(secret in path.read_bytes() for secret in secrets)
        erase_old(store, KEEP, ward.now + KEEP + DAY, 100)
        left = b"".join(file.read_bytes() for file in files if file.exists())
        assert [secret for secret in secrets if secret in left] == []


def test_a_pair_is_kept_until_its_time_is_over(ward: Ward) -> None:
    pair = ward.acts("njeri", ward.enrol("Zawadi"), Finish("declined"))
    other = ward.enrol("Amina")
    _send_off(ward)
    assert erase_old(ward.store, KEEP, ward.now + KEEP - timedelta(seconds=1), 100) == 0
    assert erase_old(ward.store, KEEP, ward.now + KEEP + timedelta(seconds=1), 100) == 1
    with ward.store.read() as conn:
        assert [each.id for each in load_pairs(conn, [pair.id, other.id], lock=False)] == [other.id]


def test_who_is_followed_again_is_not_erased(ward: Ward) -> None:
    pair = ward.acts("njeri", ward.enrol("Zawadi"), Finish("admitted"), Resume())
    _send_off(ward)
    assert pair.closed_at is None
    assert erase_old(ward.store, KEEP, ward.now + 2 * KEEP, 100) == 0


def test_a_legal_hold_overrides_the_time_until_it_is_lifted(ward: Ward) -> None:
    pair = ward.acts("njeri", ward.enrol("Zawadi"), Finish("declined"))
    _send_off(ward)
    later = ward.now + KEEP + DAY
    with ward.store.write() as conn:
        record.hold(conn, pair.id, "Letter 12.", ward.now)
    assert erase_old(ward.store, KEEP, later, 100) == 0
    with pytest.raises(Conflict, match="legal hold"):
        erase_one(ward.store, pair.id, "She asked.", later)
    with ward.store.write() as conn:
        record.release(conn, pair.id, "Closed.", later)
    assert erase_old(ward.store, KEEP, later, 100) == 1


def test_one_record_is_erased_by_request_and_what_keeps_it_is_named(ward: Ward) -> None:
    pair = ward.writes(ward.enrol("Zawadi"), "call me please")
    with pytest.raises(Conflict, match="still followed"):
        erase_one(ward.store, pair.id, "She asked.", ward.now)
    pair = ward.acts("njeri", pair, Finish("declined"))
    ward.texts(pair, "Goodbye.", before=DAY, state=MessageState.queued)
    with pytest.raises(Conflict, match="on its way"):
        erase_one(ward.store, pair.id, "She asked.", ward.now)
    _send_off(ward)
    pair = ward.writes(pair, "the baby has fits")
    pair = ward.acts("njeri", pair, Spoke(), Finish("admitted"))
    _send_off(ward)
    erase_one(ward.store, pair.id, "She asked.", ward.now)
    with pytest.raises(Conflict, match="was erased"):
        erase_one(ward.store, pair.id, "She asked.", ward.now)
    with pytest.raises(Conflict, match="There is no enrolment"):
        erase_one(ward.store, an_id("nobody"), "She asked.", ward.now)


def _send_off(ward: Ward) -> None:
    """What was queued has gone, or its time is over."""
    with ward.store.write() as conn:
        waits = t.message.c.state == MessageState.queued
        conn.execute(t.message.update().where(waits).values(state=MessageState.expired))


def test_a_mother_with_another_baby_under_follow_up_keeps_her_number(ward: Ward) -> None:
    first = ward.acts("njeri", ward.enrol("Zawadi"), Finish("finished"))
    _send_off(ward)
    with ward.store.write() as conn:
        again = dict(conn.execute(select(t.enrolment)).mappings().one())
        again |= {"id": an_id("again"), "external_id": "again", "closed_at": ward.now + KEEP}
        for column in ("consent_taken_by", "extra"):
            clear = ward.store.sealer.open(again[column], first.id, f"enrolment.{column}")
            again[column] = ward.store.sealer.seal(clear, again["id"], f"enrolment.{column}")
        conn.execute(insert(t.enrolment).values(**again))
    assert erase_old(ward.store, KEEP, ward.now + KEEP + DAY, 100) == 1
    with ward.store.read() as conn:
        assert conn.scalar(select(t.mother.c.phone_key))
    assert erase_old(ward.store, KEEP, ward.now + 2 * KEEP + DAY, 100) == 1
    with ward.store.read() as conn:
        assert not conn.scalar(select(t.mother.c.phone_key))


def test_what_strangers_wrote_goes_after_the_same_time_but_not_while_it_is_open(ward: Ward) -> None:
    a_stranger(ward)
    later = ward.now + KEEP + DAY
    assert erase_old(ward.store, KEEP, later, 100) == 0
    with ward.store.write() as conn:
        item = conn.scalar(select(t.escalation.c.id))
        assert item is not None
        conn.execute(t.escalation.update().values(state="closed", closed_at=ward.now, disposition="advised"))
    assert erase_old(ward.store, KEEP, later, 100) == 1
    for table in (t.inbound, t.finding, t.escalation):
        assert values(ward, table) == []
    with ward.store.read() as conn:
        key = ward.store.sealer.phone_key(STRANGER)
        assert conn.scalar(select(t.escalation.c.phone_key)) != key
        assert conn.scalar(select(t.inbound.c.phone_key)) is None
    assert erase_old(ward.store, KEEP, later, 100) == 0

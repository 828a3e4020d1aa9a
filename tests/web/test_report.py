"""What is counted, by whom it is seen, and how it is told; on both databases."""

from __future__ import annotations

import csv
from datetime import date, datetime, timedelta
from html import unescape
from uuid import UUID

import pytest
from sqlalchemy import insert, update

from bot.core.errors import NotAllowed
from bot.core.follow.events import Close, Finish, ReviewRecorded, Spoke, StopTexts, Take
from bot.core.pair import Pair
from bot.core.states import CheckInState, MessageState, QuestionState, Texting
from bot.store import tables as t
from bot.store.viewer import Role, Viewer
from bot.store.views_report import counts_of
from tests.support.pairs import an_id
from tests.support.ward import Opening, Ward

TODAY = date(2026, 3, 5)
ENROLLED = date(2026, 3, 3)


def counts(ward: Ward, first: date = ENROLLED, last: date = TODAY, code: str = "lakeside") -> dict[str, int]:
    viewer = Viewer(ward.staff["wairimu"], Role.lead, frozenset(s.id for s in ward.sites.values()))
    with ward.store.read() as conn:
        found = next(each for each in counts_of(conn, viewer, first, last, ward.now) if each.code == code)
    return dict(found.counts) | {f"closed_{why}": n for why, n in found.closed.items()}


def check_in(ward: Ward, pair: Pair, name: str, state: CheckInState, answered: int, asked: int) -> UUID:
    """A check-in of this morning with `answered` of its `asked` questions answered."""
    made, at = an_id("check-in", pair.id, name), ward.now - timedelta(hours=1)
    with ward.store.write() as conn:
        conn.execute(
            insert(t.check_in).values(
                id=made, enrolment=pair.id, seq=ord(name), contact_key=name, occurrence=1, opened_at=at,
                expires_at=at + timedelta(hours=12), state=state,
            )
        )  # fmt: skip
        for n in range(asked):
            conn.execute(
                insert(t.question).values(
                    id=an_id(made, n), check_in=made, enrolment=pair.id, seq=n, position=n, key="feeds",
                    state=QuestionState.answered if n < answered else QuestionState.expired,
                )
            )  # fmt: skip
    return made


def test_enrolments_are_counted_by_their_day_with_who_can_be_texted(ward: Ward) -> None:
    ward.enrol("Amina")
    ward.enrol("Zuri", phone=None, texting=Texting.none)
    ward.enrol("Halima", texting=Texting.unverified)

    found = counts(ward)
    assert (found["enrolled"], found["by_text"], found["verified"]) == (3, 2, 1)
    assert "enrolled" not in counts(ward, ENROLLED + timedelta(days=1))
    assert "enrolled" not in counts(ward, last=ENROLLED - timedelta(days=1), first=date(2026, 1, 1))
    assert "enrolled" not in counts(ward, code="coast")


def test_a_day_is_the_site_s_own(ward: Ward) -> None:
    pair = ward.enrol("Amina")
    midnight = datetime(2026, 3, 5, tzinfo=pair.tz)
    for at, expected in ((midnight - timedelta(minutes=1), 1), (midnight, 0)):
        with ward.store.write() as conn:
            conn.execute(update(t.enrolment).values(enrolled_at=at))
        assert counts(ward, ENROLLED, date(2026, 3, 4)).get("enrolled", 0) == expected


def test_check_ins_are_answered_in_full_in_part_or_not_at_all(ward: Ward) -> None:
    pair = ward.enrol("Amina")
    check_in(ward, pair, "a", CheckInState.complete, 3, 3)
    check_in(ward, pair, "b", CheckInState.expired, 2, 3)
    check_in(ward, pair, "c", CheckInState.expired, 0, 3)
    check_in(ward, pair, "d", CheckInState.dropped, 1, 3)
    check_in(ward, pair, "e", CheckInState.open, 1, 3)

    found = counts(ward)
    assert (found["answered"], found["partly"], found["silent"]) == (1, 1, 1)


def test_texts_are_counted_by_what_became_of_them(ward: Ward) -> None:
    pair = ward.enrol("Amina")
    with ward.store.write() as conn:
        conn.execute(t.message.delete())
    for n, state in enumerate(MessageState):
        if state is not MessageState.sending:
            ward.texts(pair, f"text {n}", before=timedelta(hours=1), state=state)

    found = counts(ward)
    # Queued and cancelled ones count nowhere; failed and expired ones did not reach her either.
    assert (found["delivered"], found["undelivered"], found["no_report"]) == (1, 3, 2)
    assert found["texted_pairs"] == 1


def test_escalations_are_held_against_their_due_time(ward: Ward) -> None:
    ward.now -= timedelta(hours=1)
    pairs = {name: ward.enrol(name) for name in ("Early", "Late", "Never", "Open", "Fresh")}
    for name in ("Early", "Late", "Never", "Open"):
        ward.writes(pairs[name], "baby very hot and won't wake")
    start = ward.now
    ward.now = start + timedelta(minutes=10)
    ward.acts("njeri", pairs["Early"], Take(), Spoke())
    ward.now = start + timedelta(minutes=20)
    ward.acts("njeri", pairs["Late"], Take(), Spoke())
    why = "She is in front of me on the ward."
    ward.acts("njeri", pairs["Never"], Take(), Close("no_contact", why, "stood_down"))
    ward.writes(pairs["Fresh"], "baby very hot and won't wake")

    found = counts(ward)
    outcomes = ("in_time", "late", "closed_unspoken", "overdue", "pending")
    assert {each: found.get(f"go_now_{each}") for each in outcomes} == dict.fromkeys(outcomes, 1)


def test_reviews_endings_and_stopped_texts_are_counted(ward: Ward) -> None:
    came, missed, waits = (ward.enrol(name) for name in ("Came", "Missed", "Waits"))
    ward.now += timedelta(hours=4)
    for pair, attended in ((came, True), (missed, False)):
        assert pair.expected_review is not None
        ward.happens(pair, ReviewRecorded(ward.staff["njeri"], pair.expected_review.id, attended))
    ward.acts("njeri", came, StopTexts("she asked"))
    ward.acts("njeri", missed, Finish("moved"))

    found = counts(ward)
    assert waits.expected_review is not None
    assert (found["attended"], found["missed"], found["still_expected"]) == (1, 1, 1)
    assert found["stopped"] == 1
    assert found["closed_moved"] == 1


def test_a_report_is_for_leads_and_for_their_sites_alone(ward: Ward, visit: Opening) -> None:
    ward.enrol("Amina")
    visit("njeri").page("/report", status=403)
    with ward.store.read() as conn:
        njeri = Viewer(ward.staff["njeri"], Role.counsellor, frozenset(s.id for s in ward.sites.values()))
        with pytest.raises(NotAllowed):
            counts_of(conn, njeri, ENROLLED, TODAY, ward.now)
        coast = Viewer(ward.staff["wairimu"], Role.lead, frozenset({ward.sites["coast"].id}))
        assert [each.code for each in counts_of(conn, coast, ENROLLED, TODAY, ward.now)] == ["coast"]


def test_the_page_answers_in_words_with_a_table_and_no_name(ward: Ward, visit: Opening) -> None:
    pair = ward.enrol("Amina")
    for n in range(12):
        check_in(ward, pair, chr(97 + n), CheckInState.complete if n < 9 else CheckInState.expired, 0, 1)
    page = " ".join(unescape(visit("wairimu").page("/report")).split())

    assert "Of 12 check-ins that have ended, 9 (" in page
    assert "75 %" in page
    assert "25 %" in page
    assert 'aria-label="Check-ins that have ended: 12. answered in full: 9,' in page
    assert "Lakeside Hospital" in page
    assert "Amina" not in page


def test_the_csv_holds_every_measure_of_every_site(ward: Ward, visit: Opening) -> None:
    ward.enrol("Amina")
    text = visit("wairimu").page(f"/report.csv?from={ENROLLED}&to={TODAY}")
    rows = list(csv.DictReader(text.splitlines()))
    found = {(row["site"], row["measure"]): (row["n"], row["of"]) for row in rows}

    assert found["lakeside", "enrolled"] == ("1", "")
    assert found["lakeside", "verified"] == ("1", "1")
    assert found["coast", "verified"] == ("0", "0")
    assert {(row["from"], row["to"]) for row in rows} == {("2026-03-03", "2026-03-05")}


@pytest.mark.parametrize(
    "query", ["from=x&to=y", "from=2026-03-05&to=2026-03-01", "from=2020-01-01&to=2026-03-05"]
)
def test_a_period_that_is_none_gives_the_last_weeks(ward: Ward, visit: Opening, query: str) -> None:
    assert 'value="2026-02-06"' in visit("wairimu").page(f"/report?{query}")

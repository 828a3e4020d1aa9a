"""What unknown numbers write: one open item a number, graver and sooner with what is found, never milder."""

from __future__ import annotations

from datetime import timedelta

from sqlalchemy import select, update

from bot.core.escalation import DUE, News
from bot.core.pair import Finding
from bot.core.states import EscalationState, Urgency
from bot.store import tables as t
from bot.store.engine import Store, sealer_of
from bot.store.rows import opened, part
from bot.store.strangers import raise_stranger
from tests.support.pairs import DISCHARGED as NOW

PHONE = b"a number nobody knows"
FAILED = News("reader_failed", None, Urgency.same_day, detail="a fault")
DANGER = News("unknown_number_danger", None, Urgency.go_now)
MINUTE = timedelta(minutes=1)


def raise_one(store: Store, news: News, after: timedelta = timedelta()) -> None:
    with store.write() as conn:
        raise_stranger(conn, PHONE, news, DUE, NOW + after)


def items(store: Store) -> list[tuple[Urgency, timedelta]]:
    with store.read() as conn:
        rows = conn.execute(select(t.escalation).order_by(t.escalation.c.raised_at))
        return [(row.urgency, row.due_at - NOW) for row in rows]


def findings(store: Store) -> list[Finding]:
    with store.read() as conn:
        rows = conn.execute(select(t.finding).order_by(t.finding.c.seq))
        return [part(Finding, opened(sealer_of(conn), t.finding, row._asdict())) for row in rows]


def test_a_danger_joins_the_item_of_a_failed_reply_and_makes_it_graver_and_sooner(store):
    raise_one(store, FAILED)
    raise_one(store, DANGER, 10 * MINUTE)
    assert items(store) == [(Urgency.go_now, 25 * MINUTE)]
    assert [(f.rule, f.urgency, f.detail) for f in findings(store)] == [
        ("reader_failed", Urgency.same_day, "a fault"),
        ("unknown_number_danger", Urgency.go_now, ""),
    ]


def test_what_is_milder_or_known_is_counted_and_lowers_nothing(store):
    raise_one(store, DANGER)
    raise_one(store, FAILED, MINUTE)
    raise_one(store, DANGER, 5 * MINUTE)
    assert items(store) == [(Urgency.go_now, 15 * MINUTE)]
    assert {f.rule: (f.count, f.last_at - NOW) for f in findings(store)} == {
        "unknown_number_danger": (2, 5 * MINUTE),
        "reader_failed": (1, MINUTE),
    }


def test_after_the_item_was_closed_a_new_one_opens(store):
    raise_one(store, DANGER)
    closed = {"state": EscalationState.closed, "closed_at": NOW, "disposition": "advised"}
    with store.write() as conn:
        conn.execute(update(t.escalation).values(closed))
    raise_one(store, DANGER, MINUTE)
    assert items(store) == [(Urgency.go_now, 15 * MINUTE), (Urgency.go_now, 16 * MINUTE)]

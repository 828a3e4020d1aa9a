"""A pair comes back from the database as it went in, and what it became replaces what it was."""

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from datetime import timedelta
from typing import Any
from uuid import UUID

import pytest
from hypothesis import HealthCheck, given, settings
from sqlalchemy import Connection, event, func, select

from bot.core.pair import Pair
from bot.core.states import CheckInState, EnrolmentState, EscalationState, QuestionState, Texting, Urgency
from bot.store import tables as t
from bot.store.due import busy_pairs, pairs_on_phones
from bot.store.engine import Store
from bot.store.pairs import load_pairs, wake_due
from bot.store.saving import save_pairs
from tests.support.any_pair import pairs, refer
from tests.support.pairs import DISCHARGED, a_baby, a_mother, a_pair, an_id
from tests.support.parts import a_check_in, a_question, an_escalation

FEW = settings(max_examples=40, suppress_health_check=list(HealthCheck))


LISTS = ("assessments", "contacts", "check_ins", "answers", "escalations", "chases", "attempts", "reviews")


class _Undo(Exception):
    """Leaves a transaction so that nothing of it stays."""


@contextmanager
def undone(store: Store) -> Iterator[Connection]:
    with suppress(_Undo), store.write() as conn:
        yield conn
        raise _Undo


def another(n: int, **changes: Any) -> Pair:
    """A pair of its own, with its own mother and baby, at the same site."""
    mine = a_pair(
        id=an_id("pair", n),
        external_id=f"L-{n:04}",
        mother=a_mother(id=an_id("mother", n), phone=f"+447700900{n:03}"),
        babies=[a_baby(id=an_id("baby", n))],
        assessments=(),
    )
    return replace(mine, **changes)


def saved(store: Store, *made: Pair) -> None:
    with store.write() as conn:
        refer(conn)
        save_pairs(conn, [(None, pair) for pair in made], DISCHARGED)


def loaded(store: Store, *ids: UUID) -> list[Pair]:
    with store.read() as conn:
        return load_pairs(conn, ids, lock=False)


@FEW
@given(pair=pairs())
def test_any_pair_comes_back_equal(store: Store, pair: Pair) -> None:
    with undone(store) as conn:
        refer(conn)
        save_pairs(conn, [(None, pair)], DISCHARGED)
        assert load_pairs(conn, [pair.id], lock=True) == [pair]


@FEW
@given(before=pairs(), after=pairs())
def test_any_pair_can_become_another_with_more_in_it(store: Store, before: Pair, after: Pair) -> None:
    """`after` keeps every row of `before` by having the same babies and only empty lists before it."""
    empty: dict[str, Any] = dict.fromkeys(LISTS, ())
    start = replace(before, babies=after.babies, **empty)
    with undone(store) as conn:
        refer(conn)
        save_pairs(conn, [(None, start)], DISCHARGED)
        save_pairs(conn, [(start, after)], DISCHARGED)
        assert load_pairs(conn, [after.id], lock=True) == [after]


def test_a_pair_survives_the_commit_and_a_new_connection(store: Store) -> None:
    pair = a_pair(babies=[a_baby(1), a_baby(2)], extra={"lives_at": "behind the market"})
    saved(store, pair)
    assert loaded(store, pair.id) == [pair]


def test_only_what_changed_is_written(store: Store) -> None:
    pair = a_pair()
    saved(store, pair)
    sent: list[str] = []
    event.listen(store.engine, "before_cursor_execute", lambda *told: sent.append(told[2]))
    with store.write() as conn:
        save_pairs(conn, [(pair, pair)], DISCHARGED)
        assert [words for words in sent if not words.startswith("BEGIN")] == []
        moved = replace(pair, wake_at=DISCHARGED)
        save_pairs(conn, [(pair, moved)], DISCHARGED)
    (change,) = [words for words in sent if not words.startswith("BEGIN")]
    assert change.startswith("UPDATE enrolment SET wake_at=")
    assert loaded(store, pair.id) == [moved]


def test_loading_takes_the_same_statements_for_one_pair_as_for_many(store: Store) -> None:
    made = [another(n) for n in range(1, 9)]
    saved(store, *made)
    sent: list[str] = []
    event.listen(store.engine, "before_cursor_execute", lambda *told: sent.append(told[2]))
    counts = []
    for ids in ([made[0].id], [pair.id for pair in made]):
        sent.clear()
        assert len(loaded(store, *ids)) == len(ids)
        counts.append(len([words for words in sent if words.lstrip().startswith("SELECT")]))
    assert counts == [14, 14]


def test_a_pair_that_lost_a_row_is_refused(store: Store) -> None:
    pair = a_pair(escalations=(an_escalation(),))
    saved(store, pair)
    with store.write() as conn, pytest.raises(ValueError, match="escalation"):
        save_pairs(conn, [(pair, replace(pair, escalations=()))], DISCHARGED)


def test_one_check_in_can_end_where_the_next_begins(store: Store) -> None:
    """The one that leaves is written first, or the database would see two open at once."""
    first = a_check_in("first", questions=(a_question("first"),))
    pair = a_pair(check_ins=(first,))
    saved(store, pair)
    unanswered = replace(first.questions[0], state=QuestionState.expired)
    ended = replace(first, state=CheckInState.expired, questions=(unanswered,))
    after = replace(pair, check_ins=(ended, a_check_in("second", questions=(a_question("second"),))))
    with store.write() as conn:
        save_pairs(conn, [(pair, after)], DISCHARGED)
    assert loaded(store, pair.id) == [after]


def test_one_question_can_be_answered_where_the_next_is_asked(store: Store) -> None:
    first, second = a_question("first"), a_question("second", state=QuestionState.waiting)
    check_in = a_check_in("c", questions=(first, second))
    pair = a_pair(check_ins=(check_in,))
    saved(store, pair)
    answered = replace(
        check_in,
        questions=(
            replace(first, state=QuestionState.answered),
            replace(second, state=QuestionState.asked, asked_at=DISCHARGED),
        ),
    )
    with store.write() as conn:
        save_pairs(conn, [(pair, replace(pair, check_ins=(answered,)))], DISCHARGED)
    assert loaded(store, pair.id)[0].check_ins == (answered,)


def test_names_can_be_found_until_they_change(store: Store) -> None:
    pair = a_pair()
    saved(store, pair)
    renamed = replace(pair, mother=replace(pair.mother, name="Zawadi Njeri"))
    with store.write() as conn:
        save_pairs(conn, [(pair, renamed)], DISCHARGED)
    with store.read() as conn:
        stored = set(conn.scalars(select(t.name_token.c.token)))
    assert stored == store.sealer.name_tokens("Zawadi Njeri Nia")
    assert store.sealer.search_tokens("amina").isdisjoint(stored)


def test_a_replaced_number_is_kept_with_its_time(store: Store) -> None:
    pair = a_pair()
    saved(store, pair)
    after = replace(pair, mother=replace(pair.mother, phone="+447700900999"))
    later = DISCHARGED + timedelta(days=3)
    with store.write() as conn:
        save_pairs(conn, [(pair, after)], later)
    with store.read() as conn:
        kept = conn.execute(select(t.other_phone)).one()
        assert (kept.since, kept.kind) == (later, "earlier")
        assert store.sealer.open(kept.phone, kept.id, "other_phone.phone") == pair.mother.phone
        (known,) = pairs_on_phones(conn, [kept.phone_key])[kept.phone_key]
        assert known.mother.phone == "+447700900999"  # known by it, though it is hers no more


def test_pairs_are_found_by_their_phone_closed_ones_too(store: Store) -> None:
    one, other = another(1), another(2)
    ended = replace(one, state=EnrolmentState.closed, wake_at=None, closed_reason="finished")
    shared = replace(another(3), mother=replace(another(3).mother, phone=one.mother.phone))
    saved(store, ended, other, shared)
    with store.write() as conn:
        key = store.sealer.phone_key("+447700900001")
        found = pairs_on_phones(conn, [key])
    assert {pair.id for pair in found[key]} == {ended.id, shared.id}


def test_whoever_is_due_is_given_longest_overdue_first(store: Store) -> None:
    early = another(1, wake_at=DISCHARGED + timedelta(hours=1))
    late = another(2, wake_at=DISCHARGED)
    future = another(3, wake_at=DISCHARGED + timedelta(days=1))
    ended = another(4, state=EnrolmentState.closed, wake_at=None, closed_reason="finished")
    saved(store, early, late, future, ended)
    with store.write() as conn:
        now = DISCHARGED + timedelta(hours=2)
        assert wake_due(conn, now, 10) == [late.id, early.id]
        assert wake_due(conn, now, 1) == [late.id]


@pytest.mark.postgres
@pytest.mark.parametrize("migrated_url", ["postgresql"], indirect=True)
def test_two_workers_never_wake_the_same_pair(store: Store) -> None:
    """Only PostgreSQL has two writers at once; SQLite lets one in at a time."""
    saved(store, *(another(n) for n in range(1, 5)))
    now = DISCHARGED + timedelta(days=1)
    with store.write() as first, store.write() as second:
        taken, others = wake_due(first, now, 2), wake_due(second, now, 10)
        assert len(taken) == len(others) == 2
        assert set(taken).isdisjoint(others)


def test_a_phone_is_busy_while_another_mothers_question_is_open_on_it(store: Store) -> None:
    asking = another(1, check_ins=(a_check_in("c", questions=(a_question("q"),)),))
    shares = replace(another(2), mother=replace(another(2).mother, phone=asking.mother.phone))
    alone = another(3)
    saved(store, asking, shares, alone)
    with store.read() as conn:
        assert busy_pairs(conn, [asking, shares, alone]) == {shares.id}


def test_a_mother_without_a_phone_is_a_pair_like_others(store: Store) -> None:
    pair = a_pair(mother=a_mother(phone=None, texting=Texting.none))
    saved(store, pair)
    assert loaded(store, pair.id) == [pair]


def test_nothing_personal_stands_in_clear(store: Store) -> None:
    escalation = an_escalation(urgency=Urgency.go_now, detail="she said: very hot")
    pair = a_pair(
        mother=a_mother(name="Amina Secret"),
        escalations=(replace(escalation, state=EscalationState.waiting),),
        extra={"lives_at": "the secret lane"},
    )
    saved(store, pair)
    with store.read() as conn:
        for table in t.metadata.sorted_tables:
            for row in conn.execute(select(table)):
                stored = b" ".join(v if isinstance(v, bytes) else str(v).encode() for v in row)
                for clear in (b"Secret", b"secret", b"Nia", b"very hot", b"447700", b"the ward"):
                    assert clear not in stored, table.name


def test_an_empty_list_of_pairs_asks_nothing(store: Store) -> None:
    assert loaded(store) == []
    with store.read() as conn:
        assert conn.scalar(select(func.count()).select_from(t.enrolment)) == 0

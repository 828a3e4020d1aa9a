"""What becomes of a message: decisions after attempts and after reports."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import permutations
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.core.outbox import (
    FINAL,
    Accepted,
    Decision,
    Denied,
    Failure,
    OptedOut,
    Outcome,
    Permanent,
    Priority,
    Temporary,
    Unknown,
    after_attempt,
    after_receipt,
    expiry,
    got_through,
    rest,
    wait,
)
from bot.core.states import MessageState, may_move

NOW = datetime(2026, 3, 1, 9, tzinfo=UTC)
DAY = timedelta(days=1)

priorities = st.sampled_from(Priority)
jitters = st.floats(0, 1, exclude_max=True)
retry_afters = st.one_of(st.none(), st.timedeltas(timedelta(), timedelta(days=400)))
tried_again = st.one_of(
    st.builds(Temporary, st.just("503"), retry_afters), st.just(Denied("401")), st.just(Unknown("time-out"))
)
reportable = st.sampled_from(
    [MessageState.accepted, MessageState.delivered, MessageState.undelivered, MessageState.expired]
)


def decide(outcome: Outcome, **known: Any) -> Decision:
    usual: dict[str, Any] = {"attempts": 1, "expires_at": NOW + DAY, "priority": Priority.rest, "jitter": 0.5}
    return after_attempt(outcome, now=NOW, **usual | known)


def test_an_accepted_text_keeps_the_name_the_gateway_gave_it():
    decision = decide(Accepted("g-1"))
    assert (decision.state, decision.ref) == (MessageState.accepted, "g-1")


@pytest.mark.parametrize(
    ("outcome", "failure"),
    [
        (Permanent("too long"), Failure.text),
        (Permanent("no such number", number=True), Failure.number),
        (OptedOut(), Failure.opted_out),
    ],
)
def test_a_refusal_for_good_says_what_failed(outcome, failure):
    decision = decide(outcome)
    assert (decision.state, decision.failure) == (MessageState.failed, failure)


@given(tried_again, st.integers(1, 10_000), priorities, jitters)
def test_what_may_succeed_is_tried_again_until_it_expires(outcome, attempts, priority, jitter):
    expires_at = NOW + timedelta(hours=2)
    decision = decide(outcome, attempts=attempts, expires_at=expires_at, priority=priority, jitter=jitter)
    if decision.state is MessageState.queued:
        assert decision.send_after is not None
        assert NOW < decision.send_after < expires_at
    else:
        assert decision.state is MessageState.expired
    assert may_move(MessageState.sending, decision.state)


@given(tried_again, st.integers(1, 100))
def test_a_text_with_a_day_to_live_is_never_given_up_at_once(outcome, attempts):
    assert decide(outcome, attempts=attempts).state is MessageState.queued


def test_waits_double_from_five_seconds_up_to_the_bound_of_the_priority():
    seconds = [wait(n, Priority.rest, jitter=0.999999).total_seconds() for n in range(1, 12)]
    assert [round(s) for s in seconds[:4]] == [5, 10, 20, 40]
    assert round(seconds[-1]) == 15 * 60
    assert wait(50, Priority.go_now, jitter=0.0) == timedelta(seconds=15)


@given(st.integers(1, 10_000), priorities, jitters)
def test_a_wait_is_at_least_half_and_at_most_the_whole_of_the_step(attempts, priority, jitter):
    whole = wait(attempts, priority, jitter=0.0) * 2
    assert whole / 2 <= wait(attempts, priority, jitter) <= whole


@given(st.integers(1, 50), priorities, jitters)
def test_retry_after_is_kept_up_to_an_hour(attempts, priority, jitter):
    assert wait(attempts, priority, jitter, timedelta(minutes=20)) >= timedelta(minutes=20)
    assert wait(attempts, priority, jitter, timedelta(days=365)) == timedelta(hours=1)


@given(priorities)
def test_the_time_to_live_is_bounded_by_the_window_when_there_is_one(priority):
    assert expiry(priority, NOW) > NOW
    assert expiry(priority, NOW, until=NOW + timedelta(minutes=1)) == NOW + timedelta(minutes=1)


@given(st.sampled_from(MessageState), st.lists(reportable))
def test_reports_only_move_a_message_along_the_table(state, reports):
    for reported in reports:
        after = after_receipt(state, reported)
        assert may_move(state, after)
        if state in FINAL and after is not state:
            assert after is MessageState.delivered or state is MessageState.unknown
        state = after


@given(st.lists(reportable))
def test_doubled_reports_change_nothing(reports):
    once = twice = MessageState.accepted
    for reported in reports:
        once = after_receipt(once, reported)
        twice = after_receipt(after_receipt(twice, reported), reported)
    assert once == twice


def test_delivered_wins_in_every_order_of_reports():
    # SMPP v3.4 states in operators' tables: DELIVRD is final; ENROUTE and ACCEPTD are not.
    reports = [MessageState.accepted, MessageState.undelivered, MessageState.expired, MessageState.delivered]
    for order in permutations(reports):
        state = MessageState.accepted
        for reported in order:
            state = after_receipt(state, reported)
        assert state is MessageState.delivered


def test_the_first_failure_reported_stands_against_a_second():
    assert after_receipt(MessageState.undelivered, MessageState.expired) is MessageState.undelivered
    assert after_receipt(MessageState.undelivered, MessageState.accepted) is MessageState.undelivered


def test_a_gateway_rests_after_three_failures_in_a_row_and_longer_after_more():
    assert [rest(failures, None) for failures in (0, 1, 2)] == [None] * 3
    assert rest(3, None) == timedelta(seconds=9)
    assert rest(500, None) == timedelta(minutes=1)


def test_a_gateway_that_asks_for_time_gets_it_at_once_up_to_an_hour():
    assert rest(1, timedelta(seconds=90)) == timedelta(seconds=90)
    assert rest(500, timedelta(days=9)) == timedelta(hours=1)


@pytest.mark.parametrize(
    ("outcome", "through"),
    [
        (Accepted("g"), True),
        (Permanent("too long"), True),
        (OptedOut(), True),
        (Temporary("503"), False),
        (Denied("401"), False),
        (Unknown("time-out"), False),
    ],
)
def test_a_refused_text_shows_that_the_gateway_works(outcome, through):
    assert got_through(outcome) is through

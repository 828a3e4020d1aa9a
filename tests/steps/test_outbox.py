"""The sender's pass, with the gateway's twin: what is claimed, posted and recorded, on both databases."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from sqlalchemy import insert, select, update

from bot.clock import Clock
from bot.core.outbox import Accepted, Denied, OptedOut, Outcome, Permanent, Priority, Temporary, Unknown
from bot.core.states import InboundState, MessageState
from bot.gateway.memory import MemoryGateway
from bot.gateway.profile import Profile, make_profile
from bot.steps.outbox import Sender, sweep, take_reports
from bot.store import claims, gateways
from bot.store.claims import Claimed
from bot.store.engine import Store
from bot.store.outbox import counts, mark_told, untold
from bot.store.saving import save_pairs
from bot.store.sites import add_site
from bot.store.tables import gateway_state, message, receipt, send_attempt
from tests.support.pairs import a_pair
from tests.support.texts import GATEWAY, queue_text, stored_text

START = datetime(2026, 3, 3, 9, tzinfo=UTC)
SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"


@dataclass
class Time:
    """A clock that tests move. Programme time runs a day ahead of the machine's."""

    now: datetime = START
    clock: Clock = field(init=False)

    def __post_init__(self) -> None:
        self.clock = Clock(lambda: timedelta(days=1), lambda: self.now - timedelta(days=1))

    def pass_by(self, **amount: float) -> None:
        self.now += timedelta(**amount)


@pytest.fixture
def time() -> Time:
    return Time()


def render(claimed: Claimed) -> str:
    return f"{claimed.text_key} in {claimed.language}, {claimed.values['n']} times"


@pytest.fixture
def a_sender(store: Store, time: Time) -> Iterator[Callable[..., Sender]]:
    made: list[Sender] = []

    def make(gateway: Any, *, rate: float | None = None, render: Any = render, **limits: Any) -> Sender:
        made.append(Sender(store, gateway, profile(rate), time.clock, render, **limits))
        return made[-1]

    yield make
    for sender in made:
        sender.close()


def profile(rate: float | None = None) -> Profile:
    return make_profile(
        GATEWAY, url="http://127.0.0.1:9", token="t", sender="+447700900001", secrets=[SECRET], rate=rate
    )


def test_a_due_text_is_made_posted_and_accepted(store, time, a_sender):
    row_id = queue_text(store, time.now)
    gateway = MemoryGateway()
    assert a_sender(gateway).send() == 1
    (sent,) = gateway.sent
    assert (sent.id, sent.to, sent.text) == (str(row_id), "+447700900123", "welcome in en, 8 times")
    row = stored_text(store, row_id)
    assert (row.state, row.attempts, row.sent_at) == (MessageState.accepted, 1, time.now)
    assert (row.encoding, row.segments) == ("GSM-7", 1)
    assert (row.claim, row.lease_until) == (None, None)


def test_nothing_is_sent_before_its_time_or_after_it(store, time, a_sender):
    queue_text(store, time.now, send_after=time.now + timedelta(seconds=1))
    queue_text(store, time.now, expires_at=time.now)
    gateway = MemoryGateway()
    assert a_sender(gateway).send() == 0
    assert gateway.sent == []


def test_the_more_urgent_goes_first_then_the_longer_due(store, time, a_sender):
    ids = [
        queue_text(
            store, time.now, priority=Priority(priority), send_after=time.now - timedelta(minutes=minutes)
        )
        for priority, minutes in [(3, 9), (2, 1), (1, 1), (1, 5)]
    ]
    gateway = MemoryGateway()
    a_sender(gateway, in_flight=1).send()
    assert [sent.id for sent in gateway.sent] == [str(ids[i]) for i in (3, 2, 1, 0)]


def test_go_now_has_its_own_lane(store, time, a_sender):
    queue_text(store, time.now, priority=Priority.go_now)
    gateway = MemoryGateway()
    sender = a_sender(gateway)
    assert sender.send() == 0
    assert sender.send_urgent() == 1
    assert len(gateway.sent) == 1


def test_a_text_waits_for_the_one_it_follows(store, time, a_sender):
    first = queue_text(store, time.now)
    second = queue_text(store, time.now, priority=Priority.answer, after_id=first)
    gateway = MemoryGateway()
    sender = a_sender(gateway)
    sender.send()
    sender.send()
    assert [sent.id for sent in gateway.sent] == [str(first), str(second)]


def test_words_are_made_once_and_never_change(store, time, a_sender):
    row_id = queue_text(store, time.now)
    gateway = MemoryGateway([Temporary("503")])
    a_sender(gateway, render=lambda claimed: "first “words”").send()
    time.pass_by(minutes=1)
    a_sender(gateway, render=lambda claimed: "other words").send()
    assert [sent.text for sent in gateway.sent] == ['first "words"'] * 2
    assert {sent.id for sent in gateway.sent} == {str(row_id)}


def test_a_counsellors_own_words_are_made_sendable_and_counted(store, time, a_sender):
    row_id = queue_text(store, time.now, text="I’ll call")
    gateway = MemoryGateway()
    a_sender(gateway).send()
    assert gateway.sent[0].text == "I'll call"
    assert stored_text(store, row_id).segments == 1


def test_a_text_that_cant_be_put_into_words_fails_alone(store, time, a_sender):
    bad = queue_text(store, time.now, text_key="missing")
    good = queue_text(store, time.now)

    def render(claimed: Claimed) -> str:
        if claimed.text_key == "missing":
            raise KeyError("missing")
        return "words"

    assert a_sender(MemoryGateway(), render=render).send() == 2
    assert stored_text(store, bad).state is MessageState.failed
    assert stored_text(store, good).state is MessageState.accepted


def test_a_failed_attempt_is_repeated_with_the_same_id_until_it_succeeds(store, time, a_sender):
    row_id = queue_text(store, time.now)
    failures: list[Outcome] = [Temporary("503"), Unknown("time-out")]
    gateway = MemoryGateway(failures)
    sender = a_sender(gateway)
    for _ in range(10):
        sender.send()
        time.pass_by(minutes=1)
    assert [sent.id for sent in gateway.sent] == [str(row_id)] * 3
    assert stored_text(store, row_id).state is MessageState.accepted
    with store.read() as conn:
        attempts = conn.execute(select(send_attempt).order_by(send_attempt.c.n)).all()
    assert [(a.n, a.gateway_ref, a.outcome) for a in attempts] == [
        (1, None, "503"),
        (2, None, "time-out"),
        (3, f"ref-{row_id}", "accepted"),
    ]


def test_a_text_that_surely_never_left_has_no_time_of_sending(store, time, a_sender):
    row_id = queue_text(store, time.now)
    a_sender(MemoryGateway([Temporary("503")])).send()
    assert stored_text(store, row_id).sent_at is None


def test_a_text_that_may_have_left_keeps_the_first_time_it_may_have(store, time, a_sender):
    row_id = queue_text(store, time.now)
    sender = a_sender(MemoryGateway([Unknown("time-out"), Temporary("503")]))
    sender.send()
    first = time.now
    for _ in range(2):
        time.pass_by(minutes=1)
        sender.send()
    row = stored_text(store, row_id)
    assert (row.state, row.sent_at) == (MessageState.accepted, first)


def test_a_text_that_never_gets_through_expires(store, time, a_sender):
    row_id = queue_text(store, time.now, expires_at=time.now + timedelta(minutes=10))
    gateway = MemoryGateway([Temporary("503")] * 100)
    sender = a_sender(gateway)
    for _ in range(30):
        sender.send()
        time.pass_by(minutes=1)
        sweep(store, time.now)
    assert stored_text(store, row_id).state is MessageState.expired
    assert len(gateway.sent) >= 3


def test_the_sweep_ends_what_ran_out_of_time_in_the_queue(store, time, a_sender):
    late = queue_text(store, time.now, expires_at=time.now + timedelta(hours=1))
    fresh = queue_text(store, time.now)
    time.pass_by(hours=1)
    sweep(store, time.now)
    assert stored_text(store, late).state is MessageState.expired
    assert stored_text(store, fresh).state is MessageState.queued


def test_a_resting_gateway_gets_only_urgent_texts_then_a_few_to_try(store, time, a_sender):
    for _ in range(8):
        queue_text(store, time.now)
    gateway = MemoryGateway([Temporary("503")] * 8)
    sender = a_sender(gateway)
    assert sender.send() == 8
    time.pass_by(seconds=10)
    assert sender.send() == 0  # it rests 24 seconds
    queue_text(store, time.now, priority=Priority.go_now)
    gateway.script.append(Temporary("503"))
    assert sender.send_urgent() == 1
    time.pass_by(minutes=2)
    assert sender.send() == 3
    assert sender.send() == 5  # it works again


def test_a_gateway_that_asks_for_time_gets_it(store, time, a_sender):
    queue_text(store, time.now)
    sender = a_sender(MemoryGateway([Temporary("429", timedelta(seconds=50))]))
    sender.send()
    queue_text(store, time.now)
    time.pass_by(seconds=49)
    assert sender.send() == 0
    time.pass_by(seconds=2)
    assert sender.send() == 2


def test_no_more_are_posted_once_the_first_show_that_none_gets_through(store, time, a_sender):
    ids = [queue_text(store, time.now) for _ in range(40)]
    gateway = MemoryGateway([Denied("401")] * 40)
    a_sender(gateway, in_flight=2).send()
    assert 2 <= len(gateway.sent) <= 40
    with store.read() as conn:
        assert counts(conn) == {MessageState.queued: 40}
    tried = {sent.id for sent in gateway.sent}
    for row_id in ids:
        row = stored_text(store, row_id)
        assert (row.attempts, row.sent_at, row.claim) == (int(str(row_id) in tried), None, None)


def test_the_agreed_rate_is_kept_but_urgent_texts_pass(store, time, a_sender):
    for _ in range(30):
        queue_text(store, time.now)
    queue_text(store, time.now, priority=Priority.go_now)
    gateway = MemoryGateway()
    sender = a_sender(gateway, rate=10)
    assert [sender.send() for _ in range(3)] == [10, 0, 0]
    assert sender.send_urgent() == 1
    time.pass_by(seconds=1)
    assert sender.send() == 9  # the urgent one counts too
    time.pass_by(seconds=60)
    assert sender.send() == 10


def test_two_senders_never_hold_the_same_text(store, time, a_sender):
    for _ in range(200):
        queue_text(store, time.now)
    gateway = MemoryGateway()
    senders = [a_sender(gateway, claim=7) for _ in range(3)]

    def drain(sender: Sender) -> None:
        while sender.send():
            pass

    threads = [threading.Thread(target=drain, args=(sender,)) for sender in senders]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(gateway.sent) == 200
    assert len({sent.id for sent in gateway.sent}) == 200


def test_what_a_dead_sender_held_goes_again_with_the_same_id(store, time, a_sender):
    row_id = queue_text(store, time.now)
    hold(store, time, lease=timedelta(minutes=1))
    gateway = MemoryGateway()
    sender = a_sender(gateway)
    sweep(store, time.now)
    assert sender.send() == 0  # the lease still runs
    with store.write() as conn:
        conn.execute(update(message).values(lease_until=START - timedelta(days=9000)))
    assert sweep(store, time.now) == 1
    assert sender.send() == 1
    assert [sent.id for sent in gateway.sent] == [str(row_id)]
    assert stored_text(store, row_id).attempts == 2


def test_a_lease_is_over_by_the_databases_own_clock(store, time, a_sender):
    queue_text(store, time.now)
    hold(store, time, lease=timedelta(seconds=-1))
    assert sweep(store, time.now) == 1


def test_an_outcome_that_comes_after_the_lease_changes_nothing(store, time, a_sender):
    row_id = queue_text(store, time.now)

    class SlowGateway(MemoryGateway):
        def send(self, text):
            with store.write() as conn:  # meanwhile another sender has taken the text over
                conn.execute(update(message).values(claim=uuid4()))
            return super().send(text)

    a_sender(SlowGateway()).send()
    row = stored_text(store, row_id)
    assert (row.state, row.attempts) == (MessageState.sending, 1)
    with store.read() as conn:
        assert conn.execute(select(send_attempt)).all() == []


def hold(store: Store, time: Time, lease: timedelta) -> None:
    with store.write() as conn:
        held = claims.claim(conn, GATEWAY, token=uuid4(), now=time.now, lease=lease, limit=500)
    assert held


def report(store: Store, time: Time, ref: str, state: str, key: str | None = None) -> None:
    row_id = uuid4()
    with store.write() as conn:
        conn.execute(
            insert(receipt),
            {
                "id": row_id,
                "gateway": GATEWAY,
                "dedupe_key": key or f"{ref} {state}",
                "ref": ref,
                "reported": state,
                "state": InboundState.stored,
                "raw": store.sealer.seal("{}", row_id, "receipt.raw"),
                "stored_at": time.now,
            },
        )


@pytest.mark.parametrize(
    ("reported", "state"),
    [
        (["delivered"], MessageState.delivered),
        (["accepted"], MessageState.accepted),
        (["accepted", "delivered"], MessageState.delivered),
        (["delivered", "accepted"], MessageState.delivered),
        (["undelivered", "delivered", "expired"], MessageState.delivered),
        (["undelivered", "accepted"], MessageState.undelivered),
    ],
)
def test_reports_in_any_order_leave_the_best_known_state(store, time, a_sender, reported, state):
    row_id = queue_text(store, time.now)
    a_sender(MemoryGateway()).send()
    for each in reported:
        report(store, time, f"ref-{row_id}", each)
        assert take_reports(store, time.now) == 1
    assert stored_text(store, row_id).state is state
    assert take_reports(store, time.now) == 0


def test_a_report_that_comes_before_the_gateways_answer_is_kept_for_it(store, time, a_sender):
    row_id = queue_text(store, time.now)
    report(store, time, f"ref-{row_id}", "delivered")
    assert take_reports(store, time.now) == 0
    a_sender(MemoryGateway()).send()
    assert take_reports(store, time.now) == 1
    assert stored_text(store, row_id).state is MessageState.delivered


def test_a_report_on_a_text_that_is_not_ours_is_set_aside_in_the_end(store, time, a_sender):
    report(store, time, "nobody's", "delivered")
    sweep(store, time.now + timedelta(days=6))
    with store.read() as conn:
        assert conn.execute(select(receipt.c.state)).scalar_one() is InboundState.stored
    sweep(store, time.now + timedelta(days=7))
    with store.read() as conn:
        assert conn.execute(select(receipt.c.state)).scalar_one() is InboundState.set_aside


def test_a_text_of_which_nothing_is_heard_becomes_unknown(store, time, a_sender):
    row_id = queue_text(store, time.now)
    a_sender(MemoryGateway()).send()
    sweep(store, time.now + timedelta(hours=24 + 71))
    assert stored_text(store, row_id).state is MessageState.accepted
    sweep(store, time.now + timedelta(hours=24 + 72))
    assert stored_text(store, row_id).state is MessageState.unknown


def test_a_gateway_that_names_two_texts_alike_loses_neither(store, time, a_sender):
    ids = [queue_text(store, time.now) for _ in range(2)]
    a_sender(MemoryGateway([Accepted("same"), Accepted("same")])).send()
    assert [stored_text(store, row_id).state for row_id in ids] == [MessageState.accepted] * 2


@pytest.mark.parametrize(
    ("outcome", "permanent", "opted_out"),
    [
        (Permanent("no such number", number=True), True, False),
        (Permanent("too long"), False, False),
        (OptedOut(), False, True),
    ],
)
def test_a_final_state_waits_until_the_pair_has_been_told(
    store, time, a_sender, outcome, permanent, opted_out
):
    row_id = queue_text(store, time.now, enrolment=enrolled(store, time))
    a_sender(MemoryGateway([outcome])).send()
    with store.write() as conn:
        (final,) = untold(conn, 10)
        assert (final.message, final.permanent, final.opted_out) == (row_id, permanent, opted_out)
        mark_told(conn, [final])
        assert untold(conn, 10) == []


def test_better_news_is_told_again(store, time, a_sender):
    row_id = queue_text(store, time.now, enrolment=enrolled(store, time))
    a_sender(MemoryGateway()).send()
    for state in ("undelivered", "delivered"):
        report(store, time, f"ref-{row_id}", state)
        take_reports(store, time.now)
        with store.write() as conn:
            (final,) = untold(conn, 10)
            assert final.state.value == state
            mark_told(conn, [final])


def test_news_that_changes_while_it_is_told_is_told_again(store, time, a_sender):
    row_id = queue_text(store, time.now, enrolment=enrolled(store, time))
    a_sender(MemoryGateway()).send()
    report(store, time, f"ref-{row_id}", "undelivered")
    take_reports(store, time.now)
    with store.read() as conn:
        earlier = untold(conn, 10)
    report(store, time, f"ref-{row_id}", "delivered")
    take_reports(store, time.now)
    with store.write() as conn:
        mark_told(conn, earlier)
        assert [final.state for final in untold(conn, 10)] == [MessageState.delivered]


def test_a_text_of_no_pair_is_nobodys_news(store, time, a_sender):
    queue_text(store, time.now)
    a_sender(MemoryGateway([OptedOut()])).send()
    with store.read() as conn:
        assert untold(conn, 10) == []


def test_the_state_of_a_gateway_is_kept_for_all_workers(store, time):
    with store.write() as conn:
        assert gateways.note_failures(conn, GATEWAY, 2) == 2
        assert gateways.note_failures(conn, GATEWAY, 3) == 5
        gateways.works(conn, GATEWAY)
        assert conn.execute(select(gateway_state.c.failures)).scalar_one() == 0


def enrolled(store: Store, time: Time) -> Any:
    pair = a_pair()
    with store.write() as conn:
        add_site(conn, pair.site)
        save_pairs(conn, [(None, pair)], time.now)
    return pair.id

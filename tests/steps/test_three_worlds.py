"""The same events in three worlds: SQLite, PostgreSQL, and none at all. They must come to the same pairs and
the same texts, and the promises must hold after each step.

Few and short runs by default, and the first failure is shown as it came; DUNNOCK_WORLDS=200x60 tries 200
runs of up to 60 events each, and makes what fails as short as it can.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from functools import partial
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from hypothesis import HealthCheck, Phase, note, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)
from sqlalchemy import select, text

from bot.content.schedule import schedule_to
from bot.core.errors import DunnockError
from bot.core.follow import events as act
from bot.core.outbox import Accepted, OutboundText, Outcome, Permanent, Priority
from bot.core.pair import Escalation, Pair
from bot.core.plan import is_quiet, quiet_after
from bot.core.schedule import ContactKind, Schedule
from bot.core.states import EnrolmentState, MessageState, ReviewState, Texting, Urgency
from bot.steps.inbox import act as staff_acts
from bot.steps.inbox import record_review
from bot.store import editions
from bot.store import tables as t
from bot.store.audit import audit
from bot.store.engine import Store
from bot.store.viewer import Role, Viewer
from tests.support.any_pair import STAFF, refer
from tests.support.crashing import Rider
from tests.support.pairs import DISCHARGED, a_baby, a_mother, a_pair, an_assessment, an_id
from tests.support.postgres import Postgres
from tests.support.pure_world import PureWorld
from tests.support.service import Service

_ASKED = "DUNNOCK_WORLDS" in os.environ
RUNS, EVENTS = map(int, os.environ.get("DUNNOCK_WORLDS", "5x25").split("x"))

PHONES = ("+447700900123", "+447700900124", "+447700900125")
REPLIES = (
    "no", "yes", "1", "8", "9", "5", "3", "less than 6", "many", "8-10 times", "no pain", "thank you", "STOP",
    "START", "please stop these messages", "he is very hot", "my baby has fits", "I am bleeding heavily",
    "wrong number", "my baby died", "please call me", "?", "asdf", "can I come on friday",
    "no, 9 feeds, 4 wet nappies", "لا", "نعم", "٨", "طفلي لا يرضع", "توقف", "شكرا", "رقم خطأ", "اتصلوا بي",
)  # fmt: skip
ANSWERS = ("no", "no", "8", "9", "4", "5", "many", "less than 6", "yes", "he is very hot", "لا", "٨")
WHEN = (
    timedelta(minutes=7),
    timedelta(hours=1),
    timedelta(hours=6),
    timedelta(hours=30),
)


class Phones:
    """Takes every text but to refused numbers, and keeps what it took."""

    def __init__(self) -> None:
        self.sent: list[OutboundText] = []
        self.refused: set[str] = set()

    def send(self, text: OutboundText) -> Outcome:
        if text.to in self.refused:
            return Permanent("refused", number=True)
        self.sent.append(text)
        return Accepted(f"ref-{text.id}")


class Worlds(RuleBasedStateMachine):
    """Every event goes to all three; `fresh` gives an empty store of each engine."""

    fresh: Any  # a context manager; set by the test

    def __init__(self) -> None:
        super().__init__()
        self.stack = ExitStack()
        self.now = DISCHARGED
        self.events = 0
        self.standing: dict[UUID, Escalation | None] = {}
        self.real: list[Service] = []
        self.phones: list[Phones] = []
        for store in self.stack.enter_context(self.fresh()):
            self.phones.append(Phones())
            service = Service(store, self.phones[-1], self.now)
            with store.write() as conn:
                refer(conn)
            service.publish()
            self.stack.callback(service.close)
            self.real.append(service)
        self.pure = PureWorld(self.real[0].program.content(), self.now)

    def teardown(self) -> None:
        self.stack.close()

    # ---- events

    @initialize(data=st.data())
    def begin(self, data: st.DataObject) -> None:
        for _ in range(data.draw(st.integers(1, 3))):
            self._enrol(data)
        self._work()
        for _ in range(data.draw(st.sampled_from([0, 3, 5, 8]))):
            self.wait_for_the_next_timer()

    @precondition(lambda self: len(self.pure.pairs) < 4)
    @rule(data=st.data())
    def enrol(self, data: st.DataObject) -> None:
        self._pass_by(timedelta(minutes=1))
        self._enrol(data)
        self._work()

    def _enrol(self, data: st.DataObject) -> None:
        pair = data.draw(_pairs(len(self.pure.pairs), self.now))
        note(f"enrol {pair.external_id} on {pair.mother.phone}")
        for service in self.real:
            service.enrol([pair])
        self.pure.enrol(pair)

    @rule()
    def timer(self) -> None:
        self.wait_for_the_next_timer()

    def wait_for_the_next_timer(self, *, sending: bool = True) -> None:
        due = self.pure.next_due()
        self._pass_by(max(timedelta(minutes=1), due - self.now) if due else timedelta(hours=1))
        self._work(sending=sending)

    @rule(length=st.sampled_from(WHEN))
    def let_time_pass(self, length: timedelta) -> None:
        self._pass_by(length)
        self._work()

    @rule(length=st.sampled_from(WHEN))
    def let_time_pass_with_no_sender(self, length: timedelta) -> None:
        """The next timer makes its texts, and they leave, if it is not too late, when the sender is back."""
        self.wait_for_the_next_timer(sending=False)
        self._pass_by(length)
        self._work()

    @rule(phone=st.sampled_from(PHONES), words=st.sampled_from(REPLIES))
    def reply(self, phone: str, words: str) -> None:
        self._reply(phone, words)

    @precondition(lambda self: any(p.open_check_in for p in self.pure.pairs.values()))
    @rule(words=st.sampled_from(ANSWERS))
    def answer(self, words: str) -> None:
        """Who has an open question answers it."""
        asked = sorted(p.mother.phone or "" for p in self.pure.pairs.values() if p.open_check_in)
        self._reply(asked[0], words)

    def _reply(self, phone: str, words: str) -> None:
        self._pass_by(timedelta(minutes=5))
        for service in self.real:
            service.reply(phone, words, f"reply {self.events}")
        # A reply's id comes from the hook that brought it; the world without hooks takes it from there.
        with self.real[0].store.read() as conn:
            wanted = t.inbound.c.external_key == f"reply {self.events}"
            inbound = conn.scalar(select(t.inbound.c.id).where(wanted))
        assert inbound is not None
        self.pure.reply(inbound, phone, words)
        self._work()

    @precondition(lambda self: self._reportable())
    @rule(data=st.data(), state=st.sampled_from([MessageState.delivered, MessageState.undelivered]))
    def report(self, data: st.DataObject, state: MessageState) -> None:
        made = data.draw(st.sampled_from(self._reportable()))
        self._pass_by(timedelta(minutes=1))
        for service in self.real:
            service.report(made.id, state.value)
        self.pure.report(made, state)
        self._work()

    def _reportable(self) -> list[Any]:
        could = {MessageState.accepted, MessageState.undelivered, MessageState.unknown}
        return sorted((m for m in self.pure.texts.values() if m.state in could), key=lambda m: m.id)

    @rule(phone=st.sampled_from(PHONES))
    def refuse_or_take(self, phone: str) -> None:
        """From now on the network refuses this number, or takes it again."""
        for numbers in (self.pure.refused, *(phones.refused for phones in self.phones)):
            numbers ^= {phone}

    @rule(data=st.data())
    def staff_act(self, data: st.DataObject) -> None:
        pair = self.pure.pairs[data.draw(st.sampled_from(sorted(self.pure.pairs)))]
        by = data.draw(st.sampled_from(STAFF))
        action = data.draw(_actions(pair, self.now))
        note(f"{action}")
        self._pass_by(timedelta(minutes=2))
        viewer = Viewer(by, Role.lead, frozenset({pair.site.id}))
        self._all_alike(
            pair,
            act.StaffActed(by, action),
            lambda s: staff_acts(s.store, s.program.content(), viewer, pair.id, [action], s.now),
        )
        if isinstance(action, act.SetUrgency):
            self.standing.pop(pair.id, None)
        self._work()

    @precondition(lambda self: any(p.expected_review for p in self.pure.pairs.values()))
    @rule(
        data=st.data(),
        attended=st.booleans(),
        grams=st.sampled_from([None, 2500, 2900, 3200]),
        said=st.sampled_from([{}, {"thrush": (1, 1)}, {"feeds": (9, 9), "other_food": (0, 0)}]),
    )
    def review(
        self, data: st.DataObject, attended: bool, grams: int | None, said: dict[str, tuple[float, float]]
    ) -> None:
        ids = sorted(p.id for p in self.pure.pairs.values() if p.expected_review)
        pair = self.pure.pairs[data.draw(st.sampled_from(ids))]
        review = pair.expected_review
        assert review is not None
        self._pass_by(timedelta(minutes=2))
        suckling = data.draw(st.sampled_from(["effective", "not_effective"]))
        signs: dict[str, Any] = {"occasion": "review", "suckling": suckling, "weight_g": grams}
        seen = [
            replace(
                an_assessment(self.now, baby=baby.ordinal, **signs),
                id=an_id("seen", self.events, baby.ordinal),
            )
            for baby in (pair.living if attended else ())
        ]
        heard = {each.baby: said for each in seen if said}
        viewer = Viewer(STAFF[0], Role.lead, frozenset({pair.site.id}))
        self._all_alike(
            pair,
            act.ReviewRecorded(STAFF[0], review.id, attended, tuple(seen), "", heard),
            lambda s: record_review(
                s.store, s.program.content(), viewer, pair.id, review.id, attended, seen, "", s.now, heard
            ),
        )
        self._work()

    def _all_alike(self, pair: Pair, event: act.Event, deed: Callable[[Service], object]) -> None:
        """Do it in every world: done in all, or refused in all in the same way."""
        results = [_result(lambda: self.pure.staff(pair.id, [event]))]
        results += [_result(partial(deed, service)) for service in self.real]
        assert len(set(results)) == 1, results

    @rule(evening=st.sampled_from([17, 18, 19]), fourth=st.booleans())
    def change_the_schedule(self, evening: int, fourth: bool) -> None:
        """A new edition: the reminder of the evening comes at another hour, and day 4 is asked or not."""
        self._pass_by(timedelta(minutes=2))
        schedule = self.pure.content.schedule
        changes: dict[str, dict[str, Any]] = {
            "review-evening": {"at": time(evening)},
            "day-4": {"on": fourth},
        }
        contacts = tuple(replace(spec, **changes.get(spec.key, {})) for spec in schedule.contacts)
        body = schedule_to(replace(schedule, contacts=contacts))
        for service in self.real:
            with service.store.write() as conn:
                editions.publish(conn, "schedule", "standard", body, at=self.now, effective_from=self.now)
        self._pass_by(timedelta(minutes=2))
        self.pure.content = self.real[0].program.content()
        assert self.pure.content.schedule.edition > schedule.edition
        self._work()

    # ---- what must hold

    @invariant()
    def the_worlds_are_the_same(self) -> None:
        ids = sorted(self.pure.pairs)
        expected = [self.pure.load(each) for each in ids]
        texts = {
            (m.id, m.pair, m.text.once_key, m.text.text_key, m.state, m.text.send_after, m.sent_at)
            for m in self.pure.texts.values()
        }
        for service in self.real:
            assert [_differs(*both) for both in zip(service.pairs(ids), expected, strict=True)] == [{}] * len(
                ids
            )
            assert _texts(service.store) == texts

    @invariant()
    def nobody_is_lost_or_late(self) -> None:
        for service in self.real:
            with service.store.read() as conn:
                faults = {fault.what for fault in audit(conn, self.now, self.now)}
            assert faults <= {"nobody has spoken to this mother in time"}
        for pair in self.pure.pairs.values():
            assert (pair.wake_at is None) == (pair.state is EnrolmentState.closed)
            assert pair.wake_at is None or pair.wake_at > self.now
            assert sum(r.state is ReviewState.expected for r in pair.reviews) <= 1
            assert sum(e.closed_at is None for e in pair.escalations) <= 1

    @invariant()
    def by_program_nothing_becomes_milder_or_later(self) -> None:
        for pair in self.pure.pairs.values():
            before, after = self.standing.get(pair.id), pair.open_escalation
            if before is not None and after is not None and before.id == after.id:
                assert after.urgency >= before.urgency
                late_and_graver = before.due_at < self.now and after.urgency > before.urgency
                assert after.due_at <= before.due_at or before.spoken_at is not None or late_and_graver
            self.standing[pair.id] = after

    @invariant()
    def nothing_is_sent_twice_or_at_night_or_too_often(self) -> None:
        for phones in self.phones:
            ids = [sent.id for sent in phones.sent]
            assert len(ids) == len(set(ids))
        asked: dict[tuple[UUID, date], int] = {}
        schedule = self.pure.content.schedule
        for made in self.pure.texts.values():
            pair = self.pure.pairs[made.pair]
            local = pair.local(made.text.send_after)
            if made.text.priority in (Priority.reminder, Priority.rest):
                assert not is_quiet(local.time(), schedule), made
                night = quiet_after(made.text.send_after, schedule, pair.tz)
                assert made.text.expires_at <= night or _is_advice(made.text, schedule), made
            if isinstance(made.text, act.Ask) and made.text.priority is Priority.rest:
                asked[pair.id, local.date()] = asked.get((pair.id, local.date()), 0) + 1
        assert max(asked.values(), default=0) <= schedule.max_asking_a_day

    # ---- time

    def _pass_by(self, length: timedelta) -> None:
        self.events += 1
        self.now += length
        self.pure.now = self.now
        for service in self.real:
            service.now = self.now

    def _work(self, *, sending: bool = True) -> None:
        self.pure.drain(sending=sending)
        for service in self.real:
            service.drain(sending=sending)


@st.composite
def _pairs(draw: st.DrawFn, number: int, now: datetime) -> Pair:
    """A pair that goes home now, born a day or two ago, with a phone of its own, a shared one, or none."""
    name = f"mother {number}"
    born = now - timedelta(hours=draw(st.sampled_from([31, 31, 7, 50])))
    phone = draw(st.sampled_from([PHONES[0], PHONES[0], *PHONES, None]))
    texting = draw(st.sampled_from([Texting.on, Texting.on, Texting.unverified, Texting.stopped]))
    if phone is None:
        texting = Texting.none
    mother = a_mother(
        id=an_id(name), name=name, phone=phone, texting=texting, language=draw(st.sampled_from(["en", "ar"]))
    )
    babies = tuple(
        replace(a_baby(k, born_at=born), id=an_id(name, "baby", k), birth_weight_g=draw(grams))
        for k in range(1, draw(st.sampled_from([1, 1, 1, 2])) + 1)
    )
    seen = tuple(
        replace(an_assessment(now, baby=b.ordinal), id=an_id(name, "seen", b.ordinal)) for b in babies
    )
    return a_pair(
        id=an_id(name, "pair"), external_id=name, mother=mother, babies=babies, assessments=seen,
        discharged_at=now, follow_up_by=draw(st.sampled_from(["text", "text", "text", "call"])),
        preferred_hour=draw(st.sampled_from([None, 10, 22])),
    )  # fmt: skip


grams = st.sampled_from([None, 2200, 3000])


def _actions(pair: Pair, now: datetime) -> st.SearchStrategy[act.Action]:
    today = pair.local(now).date()
    count = st.sampled_from([0.0, 3.0, 9.0])
    answers = st.dictionaries(
        st.sampled_from(["feeds", "wet_nappies", "worry"]), count.map(lambda n: (n, n)), max_size=2
    )
    item = pair.open_escalation
    rules = [f.rule for f in item.findings] if item else ["none"]
    results = st.sampled_from(
        ["reached", "no_answer", "other_person", "wrong_number", "not_home", "passed_on"]
    )
    days = st.integers(-1, 5).map(lambda n: today + timedelta(days=n))
    return st.one_of(
        st.just(act.Take()), st.just(act.Take()), st.just(act.Release()), st.just(act.Spoke()),
        st.builds(act.HandOver, st.sampled_from(STAFF)),
        st.builds(act.EnterAnswers, answers, st.sampled_from([frozenset(), frozenset({"baby_hot"})])),
        st.builds(act.WithdrawFinding, st.sampled_from(rules), st.none(), st.sampled_from(["", "misread"])),
        st.builds(act.SetUrgency, st.sampled_from(Urgency), st.just("calmer than it looked")),
        st.builds(act.Close, st.sampled_from(["", "advised"])),
        st.builds(act.Close, st.just("advised")),
        st.builds(act.MoveReview, days),
        st.builds(act.Write, st.sampled_from(["a", "b"]), st.sampled_from(["", "I call you at ten."])),
        st.just(act.ConfirmPhone()), st.just(act.ConfirmPhone()),
        st.builds(act.SendPractice, st.sampled_from(["a", "b"])),
        st.builds(act.ChangePhone, st.sampled_from(PHONES), st.booleans()),
        st.builds(act.StopTexts, st.just("as she wishes")),
        st.builds(act.Hold, st.just("a death in the family")),
        st.builds(act.Away, days, st.just("baby in hospital")),
        st.builds(act.Resume, st.booleans()), st.just(act.Resume()),
        st.builds(act.Tried, st.sampled_from(["call", "second_contact"]), results), st.just(act.SheRang()),
        st.builds(act.Tried, st.just("call"), st.just("no_answer")),
        st.builds(act.PlanVisit, days, st.just("Achieng")), st.builds(act.Visited, results),
        st.builds(act.GiveUp, st.sampled_from(["moved", "all_tried"])), st.just(act.SignUnresolved()),
        st.just(act.TryOn()), st.just(act.AskToCall()),
        st.builds(act.RecordDeath, st.integers(1, 2)),
        st.builds(act.Finish, st.sampled_from(["moved", "no such reason"])),
    )  # fmt: skip


def _is_advice(told: act.Say | act.Ask, schedule: Schedule) -> bool:
    """Advice outlasts its day rather than be lost: what waited for a sender till night still leaves then."""
    advice = {spec.key for spec in schedule.contacts if spec.kind is ContactKind.advice}
    return told.once_key.startswith(tuple(f"contact:{key}:" for key in advice))


def _result(deed: Callable[[], object]) -> str:
    """How it went: done, or refused in which way."""
    try:
        deed()
    except DunnockError as refusal:
        return type(refusal).__name__
    return "done"


def _differs(real: Pair, pure: Pair) -> dict[str, tuple[Any, Any]]:
    """The fields in which two pairs differ, with what each has more."""
    found = {}
    for name in Pair.__dataclass_fields__:
        mine, yours = getattr(real, name), getattr(pure, name)
        if isinstance(mine, tuple) and mine != yours:
            mine, yours = [x for x in mine if x not in yours], [x for x in yours if x not in mine]
        if mine != yours:
            found[name] = mine, yours
    return found


def _texts(store: Store) -> set[tuple[Any, ...]]:
    m = t.message.c
    wanted = select(m.id, m.enrolment, m.once_key, m.text_key, m.state, m.send_after, m.sent_at)
    with store.read() as conn:
        return {tuple(row) for row in conn.execute(wanted)}


@pytest.mark.postgres
def test_sqlite_postgresql_and_the_pure_transition_live_the_same_lives(
    request: pytest.FixtureRequest, postgres: Postgres, tmp_path: Path
) -> None:
    template: Path = request.getfixturevalue("_migrated_sqlite")
    migrated: str = request.getfixturevalue("_migrated_postgres")
    file = tmp_path / "world.db"
    lite = Rider(f"sqlite:///{file}")
    with postgres.fresh_database(migrated) as name:
        big = Rider(postgres.url(name))

        @contextmanager
        def fresh() -> Iterator[list[Store]]:
            for old in tmp_path.glob("world.db*"):
                old.unlink()
            shutil.copy(template, file)
            with lite.on(f"sqlite:///{file}") as first, big.on(postgres.url(name)) as second:
                with second.write() as conn:
                    names = ", ".join(f'"{table.name}"' for table in t.metadata.sorted_tables)
                    conn.execute(text(f"TRUNCATE {names} RESTART IDENTITY CASCADE"))
                yield [first, second]

        class Here(Worlds):
            pass

        Here.fresh = staticmethod(fresh)
        run_state_machine_as_test(
            Here,
            settings=settings(
                max_examples=RUNS,
                stateful_step_count=EVENTS,
                phases=[phase for phase in Phase if _ASKED or phase is not Phase.shrink],
                deadline=None,
                suppress_health_check=list(HealthCheck),
            ),
        )

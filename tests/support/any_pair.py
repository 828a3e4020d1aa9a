"""Pairs of any shape that the tables allow, for property tests: every field drawn, many at their edges.

References to staff and replies are `STAFF` and `REPLIES`, which `refer` stores.
"""

from collections.abc import Sequence, Set
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any

from hypothesis import strategies as st
from sqlalchemy import Connection, insert

from bot.core.pair import (
    CHASED,
    Answer,
    Assessment,
    Attempt,
    Baby,
    Chase,
    CheckIn,
    Consent,
    Contact,
    Escalation,
    Finding,
    Mother,
    Pair,
    Question,
    Review,
)
from bot.core.states import (
    BabyState,
    ChaseState,
    CheckInState,
    EnrolmentState,
    EscalationState,
    InboundState,
    QuestionState,
    ReviewState,
    Texting,
    Urgency,
)
from bot.store import rows
from bot.store import tables as t
from bot.store.engine import sealer_of
from bot.store.sites import add_site
from bot.store.viewer import Role
from tests.support.pairs import DISCHARGED, a_site, an_id

STAFF = (an_id("staff", 1), an_id("staff", 2))
REPLIES = (an_id("reply", 1), an_id("reply", 2))

ZONES = (UTC, timezone(timedelta(hours=5, minutes=45)), timezone(-timedelta(hours=9, minutes=30)))
first, last = datetime(1990, 1, 1), datetime(2090, 1, 1)  # noqa: DTZ001  # each gets one of the zones
instants = st.datetimes(first, last, timezones=st.sampled_from(ZONES))
# No NUL and no half characters: neither engine stores them as text, and no text message carries them.
words = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=12)
numbers = st.none() | st.floats(-1e6, 1e6) | st.integers(0, 99)
grams = st.none() | st.integers(300, 9000)
staff = st.none() | st.sampled_from(STAFF)
replies = st.none() | st.sampled_from(REPLIES)
phones = st.none() | st.integers(900000, 900999).map("+447700{}".format)
days = st.dates(date(1990, 1, 1), date(2090, 1, 1))
urgencies = st.sampled_from(Urgency)
no_id = st.just(an_id("none"))
keys = st.sampled_from(["feeds", "wet_nappies", "worry", "not_feeding"])


def with_ids(kind: str, items: Sequence[Any]) -> tuple[Any, ...]:
    """Give each item an id of its own. The ids are in another order than the items."""
    return tuple(replace(item, id=an_id(kind, n)) for n, item in enumerate(items))


def at_most_one(items: Sequence[Any], only: Set[Any], then: Any) -> tuple[Any, ...]:
    """Leave the first item in one of the states `only`; the others get the state `then`."""
    kept: list[Any] = []
    for item in items:
        again = item.state in only and any(each.state in only for each in kept)
        kept.append(replace(item, state=then) if again else item)
    return tuple(kept)


def babies(count: int) -> st.SearchStrategy[tuple[Baby, ...]]:
    one = [
        st.builds(
            Baby, id=st.just(an_id("baby", n)), ordinal=st.just(n), name=words, born_on=days,
            born_at=st.none() | instants, sex=st.sampled_from([None, "female", "male"]),
            birth_weight_g=grams, gestation_weeks=st.none() | st.floats(22, 45), place=words,
            feeding_plan=words, state=st.sampled_from(BabyState),
        )
        for n in range(1, count + 1)
    ]  # fmt: skip
    return st.tuples(*one)


@st.composite
def mothers(draw: st.DrawFn) -> Mother:
    phone = draw(phones)
    texting = draw(st.sampled_from(Texting)) if phone else Texting.none
    return draw(
        st.builds(
            Mother, id=st.just(an_id("mother")), name=words, phone=st.just(phone), language=words,
            phone_shared=st.booleans(), texting=st.just(texting), age=st.none() | st.integers(9, 60),
            parity=st.none() | st.integers(0, 20), birth_mode=words, risks=st.frozensets(words, max_size=3),
        )
    )  # fmt: skip


def escalations(baby: st.SearchStrategy[int | None]) -> st.SearchStrategy[tuple[Escalation, ...]]:
    finding = st.builds(
        Finding, rule=words, baby=baby, urgency=urgencies, first_at=instants, last_at=instants,
        count=st.integers(1, 999), inbound=replies, detail=words, withdrawn_by=staff,
    )  # fmt: skip
    one = st.builds(
        Escalation, id=no_id, urgency=urgencies, raised_at=instants, due_at=instants,
        state=st.sampled_from(EscalationState), findings=st.lists(finding, max_size=2).map(tuple),
        taken_by=st.sampled_from(STAFF), taken_at=st.none() | instants, spoken_at=st.none() | instants,
        not_before=st.none() | instants, closed_at=instants, disposition=st.just("advised"),
    )  # fmt: skip
    standing = {EscalationState.waiting, EscalationState.taken}
    return st.lists(one, max_size=3).map(
        lambda items: tuple(
            item if item.state is EscalationState.closed else replace(item, closed_at=None, disposition="")
            for item in at_most_one(with_ids("escalation", items), standing, EscalationState.closed)
        )
    )


def check_ins(baby: st.SearchStrategy[int | None]) -> st.SearchStrategy[tuple[CheckIn, ...]]:
    question = st.builds(
        Question, id=no_id, position=st.integers(0, 9), key=keys, baby=baby,
        state=st.sampled_from(QuestionState), asked_at=st.none() | instants,
        asked_again_at=st.none() | instants, sent_at=st.none(), delivery=st.none(),
    )  # fmt: skip
    one = st.builds(
        CheckIn, id=no_id, contact_key=words, occurrence=st.integers(1, 99), opened_at=instants,
        expires_at=instants, state=st.sampled_from(CheckInState),
        questions=st.lists(question, max_size=3).map(tuple),
    )  # fmt: skip
    return st.lists(one, max_size=2).map(
        lambda items: tuple(
            replace(item, questions=_questions(item))
            for item in at_most_one(with_ids("check-in", items), {CheckInState.open}, CheckInState.dropped)
        )
    )


def _questions(of: CheckIn) -> tuple[Question, ...]:
    """Only an open check-in has a question under way, and that one only."""
    asked = {QuestionState.asked, QuestionState.asked_again}
    found = at_most_one(with_ids(f"question {of.id}", of.questions), asked, QuestionState.waiting)
    if of.state is CheckInState.open:
        return found
    return tuple(replace(each, state=QuestionState.dropped) for each in found)


def answers(
    baby: st.SearchStrategy[int | None], questions: Sequence[Question]
) -> st.SearchStrategy[tuple[Answer, ...]]:
    one = st.builds(
        Answer, id=no_id, key=keys, baby=baby, low=numbers, high=numbers, at=instants,
        question=st.sampled_from([None, *(each.id for each in questions)]), inbound=replies, by=staff,
        superseded_by=st.none(),
    )  # fmt: skip
    return st.lists(one, max_size=4).map(_corrected)


def _corrected(items: Sequence[Answer]) -> tuple[Answer, ...]:
    """Where there are several, the last supersedes the first."""
    first, *rest = with_ids("answer", items) or (None,)
    return (replace(first, superseded_by=rest[-1].id), *rest) if rest else (first,) if first else ()


def chases() -> st.SearchStrategy[tuple[Chase, ...]]:
    one = st.builds(
        Chase, id=no_id, state=st.sampled_from(ChaseState), ground=words, opened_at=instants,
        look_at=instants,
        given_up_by=st.just(STAFF[0]), given_up_at=st.none() | instants, why=st.just("moved"),
        closed_at=instants, closed_by=st.just(STAFF[1]),
    )  # fmt: skip
    return st.lists(one, max_size=3).map(
        lambda items: tuple(
            replace(item, closed_at=None, closed_by=None) if item.state in CHASED
            else replace(item, look_at=None)
            for item in at_most_one(with_ids("chase", items), CHASED, ChaseState.reached)
        )
    )  # fmt: skip


def attempts() -> st.SearchStrategy[tuple[Attempt, ...]]:
    by = st.sampled_from(STAFF)
    call = st.builds(
        Attempt, id=no_id, kind=st.sampled_from(["call", "second_contact"]), result=st.just("no_answer"),
        at=instants, by=by,
    )  # fmt: skip
    visit = st.builds(
        Attempt, id=no_id, kind=st.just("visit"), result=st.just("not_home"), at=instants, by=by, on_day=days,
        who=words, done_at=instants,
    )  # fmt: skip
    planned = visit.map(lambda item: replace(item, result="", done_at=None))
    return st.builds(
        lambda done, last: with_ids("attempt", [*done, *last]),
        st.lists(call | visit, max_size=2),
        st.lists(planned, max_size=1),
    )


@st.composite
def pairs(draw: st.DrawFn) -> Pair:
    """A pair of one to three babies. Everything is drawn apart from what the tables forbid."""
    count = draw(st.integers(1, 3))
    baby = st.none() | st.integers(1, count)
    asked = draw(check_ins(baby))
    assessment = st.builds(
        Assessment, id=no_id, baby=st.integers(1, count), at=instants, by=words, occasion=words,
        signs=st.dictionaries(words, words, max_size=3), weight_g=grams,
    )  # fmt: skip
    review = st.builds(
        Review, id=no_id, on_day=days, at=st.none() | st.times(), state=st.sampled_from(ReviewState),
        kind=st.sampled_from(["first", "feeding_problem", "weight_loss", "low_weight", "follow_up"]),
        booked_at=instants, note=words,
    )  # fmt: skip
    contact = st.builds(
        Contact, key=words, occurrence=st.integers(1, 99), edition=st.integers(1, 99), due_at=instants,
        outcome=st.sampled_from(["texted", "call", "skipped"]), reason=words,
    )  # fmt: skip
    state = draw(st.sampled_from(EnrolmentState))
    closed = state is EnrolmentState.closed
    expected = {ReviewState.expected}
    return Pair(
        id=an_id("pair"),
        external_id=draw(words),
        site=a_site(),
        mother=draw(mothers()),
        babies=draw(babies(count)),
        discharged_at=draw(instants),
        enrolled_at=draw(instants),
        consent=draw(st.builds(Consent, texts=st.booleans(), calls=st.booleans(), taken_by=words)),
        preferred_hour=draw(st.none() | st.integers(0, 23)),
        follow_up_by=draw(st.sampled_from(["text", "call", "visit"])),
        schedule=draw(words),
        state=state,
        wake_at=None if closed else draw(instants),
        plan_stamp=draw(words),
        look_at=draw(st.none() | instants),
        closed_reason=draw(words) if closed else None,
        assessments=with_ids("assessment", draw(st.lists(assessment, max_size=3))),
        contacts=tuple(
            draw(st.lists(contact, max_size=3, unique_by=lambda each: (each.key, each.occurrence)))
        ),
        check_ins=asked,
        answers=draw(answers(baby, [question for each in asked for question in each.questions])),
        escalations=draw(escalations(baby)),
        chases=draw(chases()),
        attempts=draw(attempts()),
        undelivered_since=draw(st.none() | instants),
        home_at=draw(st.none() | instants),
        closed_at=draw(st.none() | instants),
        reviews=at_most_one(
            with_ids("review", draw(st.lists(review, max_size=3))), expected, ReviewState.missed
        ),
        extra=draw(st.dictionaries(words, words, max_size=3)),
    )


def refer(conn: Connection) -> None:
    """Store the site, the staff and the replies that the pairs refer to."""
    sealer = sealer_of(conn)
    add_site(conn, a_site())
    for number, staff_id in enumerate(STAFF):
        row = {
            "id": staff_id, "login": f"staff{number}", "name": "Invented", "password_hash": "",
            "role": Role.lead, "active": True, "language": "en", "session_epoch": 1, "created_at": DISCHARGED,
        }  # fmt: skip
        conn.execute(insert(t.staff), rows.sealed(sealer, t.staff, row))
    for reply in REPLIES:
        row = {
            "id": reply, "gateway": "json", "raw": "{}", "kind": "reply", "received_at": DISCHARGED,
            "stored_at": DISCHARGED, "state": InboundState.read,
        }  # fmt: skip
        conn.execute(insert(t.inbound), rows.sealed(sealer, t.inbound, row))

"""What follows from the transition, stored beside the pairs: texts to make, cancelled texts, triage runs, and
the events of the audit."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import ColumnElement, Connection, bindparam, insert, or_, select, true, tuple_, update
from sqlalchemy.dialects import postgresql, sqlite

from bot import __version__
from bot.core.follow.events import (
    Adverse,
    Alert,
    Ask,
    Book,
    Cancel,
    CatchUp,
    Effect,
    HeadsUp,
    Heeded,
    Judged,
    Note,
    Raise,
    Say,
)
from bot.core.ids import derived_id
from bot.core.pair import Pair
from bot.core.routing import Route, route_for
from bot.core.states import MessageState
from bot.seal import Sealer
from bot.store import alerts, record, rows
from bot.store import tables as t
from bot.store.editions import newest_number, numbers_in_force
from bot.store.engine import is_postgres, routes_of, sealer_of
from bot.store.rows import Row

PROGRAM = "program"  # the actor of what no person did

# Texts that a Cancel means, by the beginning of their key.
_CANCELS: Mapping[str, tuple[str, ...]] = {
    "all": ("",),
    "questions": ("ask-", "again-"),
    "review": ("review-",),
}


def write_effects(conn: Connection, told: Sequence[tuple[Pair, Sequence[Effect]]], now: datetime) -> None:
    """Store the effects of each pair, in the order in which the transition told them. Call it after
    `save_pairs`, in the same transaction. A text whose `once_key` the enrolment has is not made again."""
    _cancel(conn, told, now)
    _wake_staff(conn, told, now)
    _keep_record(conn, told, now)
    texts = [(pair, text) for pair, effects in told for text in _standing_texts(effects)]
    _make_texts(conn, texts, now)
    judged = [(pair, each) for pair, effects in told for each in effects if isinstance(each, Judged)]
    if judged:
        edition, overlays = newest_number(conn, "rules", now), numbers_in_force(conn, "overlay", now)
        conn.execute(
            insert(t.triage_run),
            [
                _run(pair, each, n, now)
                | {"rules_edition": edition, "overlay": overlays.get(pair.site.code, 0)}
                for n, (pair, each) in enumerate(judged)
            ],
        )
    events = [row for pair, effects in told for effect in effects for row in _events(pair, effect, now)]
    if events:
        conn.execute(insert(t.event_log), events)


def _wake_staff(conn: Connection, told: Sequence[tuple[Pair, Sequence[Effect]]], now: datetime) -> None:
    """What is heeded is withdrawn first: who heeds an item has not seen what the same step adds to it."""
    every = [(effect, pair.site.code) for pair, effects in told for effect in effects]
    heeded: dict[str, list[UUID]] = defaultdict(list)
    for effect, _ in every:
        if isinstance(effect, Heeded):
            heeded[effect.how].append(effect.escalation)
    for how, escalations in heeded.items():
        alerts.heed(conn, escalations, how, now)
    alerts.make_alerts(conn, [(each, site) for each, site in every if isinstance(each, Alert)], now)
    alerts.send_heads_up(conn, [(each, site) for each, site in every if isinstance(each, HeadsUp)], now)


def _keep_record(conn: Connection, told: Sequence[tuple[Pair, Sequence[Effect]]], now: datetime) -> None:
    every = [(pair, effect) for pair, effects in told for effect in effects]
    grave = [(pair, each) for pair, each in every if isinstance(each, Adverse)]
    missed = [pair.id for pair, each in every if isinstance(each, CatchUp)]
    if grave:
        record.open_entries(conn, grave, now)
    if missed:
        record.list_to_catch_up(conn, missed, now)


def _standing_texts(effects: Sequence[Effect]) -> list[Say | Ask]:
    """The texts that no later Cancel of the same list withdraws."""
    standing: list[Say | Ask] = []
    for effect in effects:
        if isinstance(effect, Cancel):
            standing = [text for text in standing if not text.text_key.startswith(_CANCELS[effect.which])]
        elif isinstance(effect, Say | Ask):
            standing.append(effect)
    return standing


def _cancel(conn: Connection, told: Sequence[tuple[Pair, Sequence[Effect]]], now: datetime) -> None:
    wanted: dict[str, list[UUID]] = defaultdict(list)
    for pair, effects in told:
        for effect in effects:
            if isinstance(effect, Cancel):
                wanted[effect.which].append(pair.id)
    for which, enrolments in wanted.items():
        conn.execute(
            update(t.message)
            .where(t.message.c.enrolment.in_(enrolments), t.message.c.state == t.fixed(MessageState.queued))
            .where(_begins(_CANCELS[which]))
            .values(state=MessageState.cancelled, final_at=now)
        )


def _begins(prefixes: Iterable[str]) -> ColumnElement[bool]:
    return or_(*(t.message.c.text_key.startswith(each) if each else true() for each in prefixes))


def _make_texts(conn: Connection, texts: Sequence[tuple[Pair, Say | Ask]], now: datetime) -> None:
    """Queue what has not been made yet, and tell each question which text carries it."""
    sealer, routes = sealer_of(conn), routes_of(conn)
    texts = [(pair, text) for pair, text in texts if pair.mother.phone is not None]
    known = _already_made(conn, texts)
    made: list[Row] = []
    before: dict[UUID, tuple[UUID, int]] = {}  # by pair: the last text of the list, and its priority
    for pair, text in texts:
        here = pair.id, text.once_key
        if here not in known:
            known[here] = derived_id(now, pair.id, text.once_key)
            last = before.get(pair.id)
            after = last[0] if last and last[1] <= text.priority else None
            made.append(_message(sealer, routes, pair, text, known[here], after, now))
        before[pair.id] = known[here], text.priority
    if made:
        new = (postgresql.insert if is_postgres(conn) else sqlite.insert)(t.message)
        conn.execute(new.on_conflict_do_nothing(index_elements=["enrolment", "once_key"]), made)
    carried = [
        {"of": text.question, "text": known[pair.id, text.once_key]}
        for pair, text in texts
        if isinstance(text, Ask)
    ]
    if carried:
        link = update(t.question).where(t.question.c.id == bindparam("of")).values(message=bindparam("text"))
        conn.execute(link, carried)


def _already_made(conn: Connection, texts: Sequence[tuple[Pair, Say | Ask]]) -> dict[tuple[UUID, str], UUID]:
    if not texts:
        return {}
    keys = [(pair.id, text.once_key) for pair, text in texts]
    m = t.message.c
    query = select(m.id, m.enrolment, m.once_key).where(tuple_(m.enrolment, m.once_key).in_(keys))
    return {(enrolment, once_key): found for found, enrolment, once_key in conn.execute(query) if enrolment}


def _message(
    sealer: Sealer,
    routes: Sequence[Route],
    pair: Pair,
    text: Say | Ask,
    made: UUID,
    after: UUID | None,
    now: datetime,
) -> Row:
    phone = pair.mother.phone
    assert phone is not None  # `_make_texts` left out those who have none
    row = {
        "id": made,
        "enrolment": pair.id,
        "phone_key": sealer.phone_key(phone),
        "to": phone,
        "route": route_for(routes, pair.site.code, phone),
        "text": text.text if isinstance(text, Say) else None,
        "text_key": text.text_key,
        "text_values": rows.to_json(text.values),
        "language": pair.mother.reads,
        "priority": int(text.priority),
        "created_at": now,
        "send_after": text.send_after,
        "expires_at": text.expires_at,
        "after_id": after,
        "once_key": text.once_key,
        "state": MessageState.queued,
        "attempts": 0,
    }
    return rows.sealed(sealer, t.message, row)


def _run(pair: Pair, judged: Judged, n: int, now: datetime) -> Row:
    """`n` tells apart what one step judged more than once: answers about each of twins, entered together."""
    return {
        "id": derived_id(now, pair.id, judged.once_key, n),
        "enrolment": pair.id,
        "baby": judged.baby,
        "at": now,
        "facts": plain(judged.facts),
        "program": __version__,
        "fired": plain(judged.verdict.fired),
        "just_inside": plain(judged.verdict.just_inside),
        "urgency": judged.verdict.urgency,
        "shadow": " ".join(judged.verdict.shadow),
    }


def _events(pair: Pair, effect: Effect, now: datetime) -> list[Row]:
    """The lines of the audit that an effect leaves; ids and words of the program only."""
    match effect:
        case Note():
            actor = PROGRAM if effect.by is None else str(effect.by)
            words = (effect.subject, effect.before, effect.after, effect.why, dict(effect.data))
        case Raise():
            actor, data = PROGRAM, {"escalation": str(effect.escalation)}
            words = ("raised", "", effect.urgency.name, " ".join(effect.rules), data)
        case Book():
            actor, review = PROGRAM, effect.review
            words = ("booked", "", review.on_day.isoformat(), review.kind, {"review": str(review.id)})
        case Say() | Ask() if pair.mother.phone is None:
            actor, words = PROGRAM, ("text", "", "not_made", "no_number", {"text": effect.once_key})
        case _:
            return []
    named = zip(("what", "from_state", "to_state", "why", "data"), words, strict=True)
    return [{"at": now, "actor": actor, "subject": pair.id} | dict(named)]


def plain(value: Any) -> Any:
    """Give a core value as JSON can hold it: dataclasses as objects, sets sorted, enums by name or word."""
    match value:
        case None | str() | bool() | float():
            return getattr(value, "value", value)
        case int():
            return getattr(value, "name", value)
        case Mapping():
            return {str(key): plain(item) for key, item in value.items()}
        case frozenset() | set():
            return sorted(map(plain, value))
        case Collection():
            return [plain(item) for item in value]
        case _ if is_dataclass(value):
            return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    return str(value)

"""Waking those on call: alerts become texts and mails in the outbox, with a row each that says who and why;
whoever heeds one withdraws what still waits."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from sqlalchemy import Connection, insert, select, update
from sqlalchemy.dialects import postgresql, sqlite

from bot.core.cover import woken_in_order
from bot.core.follow.alerts import steps
from bot.core.follow.events import Alert, HeadsUp
from bot.core.ids import derived_id
from bot.core.outbox import Priority
from bot.core.pair import OnCall
from bot.core.routing import MAIL, Route, route_for
from bot.core.states import MessageState
from bot.store import rows
from bot.store import tables as t
from bot.store.engine import is_postgres, routes_of, sealer_of
from bot.store.pairs import load_sites
from bot.store.rows import Row

_LINK = "alert"
# A text from a phone on call counts as 'I have it' for what was sent to it in so long.
HEEDS = timedelta(hours=12)


def make_alerts(conn: Connection, alerts: Sequence[tuple[Alert, str]], now: datetime) -> None:
    """Queue each alert, by text and by mail, whichever its person has; `alerts` come with the site's code.
    What was made before is not made again."""
    sealer, routes = sealer_of(conn), routes_of(conn)
    messages, made = [], dict[UUID, Row]()  # one event may ask for the same step twice
    for alert, site in alerts:
        for address, way in _ways(alert.to, routes):
            once_key = f"{alert.once_key}:{way}"
            row_id = derived_id(now, "alert", once_key)
            route = MAIL if way == MAIL else route_for(routes, site, address)
            values = dict(alert.values) | {"alert": sealer.link_token(_LINK, row_id)}
            text = _Outgoing(row_id, once_key, address, route, alert.text_key, values, alert.to.language)
            messages.append(_message(conn, text, alert.send_after, alert.expires_at, now))
            made[row_id] = rows.sealed(sealer, t.alert, _alert(alert, row_id, now))
    if messages:
        fresh = set(_insert_new(conn, messages))
        new = [row for row_id, row in made.items() if row_id in fresh]
        if new:
            conn.execute(insert(t.alert), new)


def wake_for_stranger(conn: Connection, item: UUID, phone: str, now: datetime) -> None:
    """A number that nobody knows names a danger: wake those who are on call for such, whatever their site."""
    every = load_sites(conn, conn.scalars(select(t.site.c.id)).all()).values()
    by_phone = {
        (each.phone or each.email): (each, site.code)
        for site in sorted(every, key=lambda site: site.code)
        for each in woken_in_order(site)
        if each.strangers
    }
    made = steps([each for each, _ in by_phone.values()], item, "stranger", {"phone": phone}, now)
    codes = [code for _, code in by_phone.values()]
    make_alerts(conn, list(zip(made, codes, strict=True)), now)


def send_heads_up(conn: Connection, news: Sequence[tuple[HeadsUp, str]], now: datetime) -> None:
    """Queue a text to the place where a mother goes; `news` come with the site's code."""
    routes = routes_of(conn)
    messages = []
    for each, site in news:
        row_id = derived_id(now, "heads-up", each.once_key)
        route = route_for(routes, site, each.phone)
        text = _Outgoing(row_id, each.once_key, each.phone, route, "heads-up", dict(each.values), "en")
        messages.append(_message(conn, text, each.send_after, each.expires_at, now))
    if messages:
        _insert_new(conn, messages)


def heed(conn: Connection, escalations: Collection[UUID], how: str, now: datetime) -> int:
    """Note that somebody has these items, and withdraw the steps that still wait; give how many were open."""
    a = t.alert.c
    open_steps = a.escalation.in_(escalations) & a.heeded_at.is_(None)
    waiting = select(a.message).where(open_steps)
    conn.execute(
        update(t.message)
        .where(t.message.c.id.in_(waiting), t.message.c.state == t.fixed(MessageState.queued))
        .values(state=MessageState.cancelled, final_at=now)
    )
    done = conn.execute(update(t.alert).where(open_steps).values(heeded_at=now, heeded_how=how))
    return done.rowcount


def heed_from(conn: Connection, phone_keys: Collection[bytes], now: datetime) -> int:
    """A phone on call wrote: it has what it was woken for."""
    return heed(conn, _woken_on(conn, t.message.c.phone_key.in_(phone_keys), now), "reply", now)


def heed_one(conn: Connection, alert: UUID, now: datetime) -> bool:
    """Somebody tapped the link of one alert; tell whether there is such a one."""
    escalation = conn.scalar(select(t.alert.c.escalation).where(t.alert.c.id == alert))
    if escalation is None:
        return False
    heed(conn, [escalation], "tap", now)
    return True


@dataclass(frozen=True, slots=True)
class Asked:
    """What a link shows to whoever holds the phone: which site, whom to call, whether somebody has it."""

    id: UUID
    site: str
    phone: str
    heeded_at: datetime | None


def alert_by_token(conn: Connection, token: str, now: datetime) -> Asked | None:
    """Give the alert whose link this is, as long as it can be heeded."""
    sealer = sealer_of(conn)
    alert = sealer.linked(_LINK, token)
    query = (
        select(t.alert.c.id, t.alert.c.heeded_at, t.message.c.id.label("message"), t.message.c.text_values)
        .join(t.message, t.message.c.id == t.alert.c.message)
        .where(t.alert.c.id == alert, t.alert.c.made_at > now - HEEDS)
    )
    row = conn.execute(query).one_or_none() if alert else None
    if row is None:
        return None
    values = json.loads(sealer.open(row.text_values, row.message, "message.text_values"))
    return Asked(row.id, values.get("site", ""), values.get("phone", ""), row.heeded_at)


def _woken_on(conn: Connection, whom: object, now: datetime) -> list[UUID]:
    query = (
        select(t.alert.c.escalation)
        .join(t.message, t.message.c.id == t.alert.c.message)
        .where(whom, t.message.c.enrolment.is_(None))  # type: ignore[arg-type]
        .where(t.alert.c.heeded_at.is_(None), t.alert.c.made_at > now - HEEDS)
    )
    return list(conn.scalars(query))


@dataclass(frozen=True, slots=True)
class _Outgoing:
    id: UUID
    once_key: str
    to: str
    route: str
    text_key: str
    values: dict[str, str]
    language: str


def _ways(to: OnCall, routes: Sequence[Route]) -> Iterable[tuple[str, str]]:
    """The addresses at which somebody is reached; mail only where a server for it is set."""
    if to.phone:
        yield to.phone, "text"
    if to.email and any(route.name == MAIL for route in routes):
        yield to.email, MAIL


def _message(conn: Connection, text: _Outgoing, after: datetime, until: datetime, now: datetime) -> Row:
    sealer = sealer_of(conn)
    row = {
        "id": text.id,
        "enrolment": None,
        "phone_key": sealer.phone_key(text.to),
        "to": text.to,
        "route": text.route,
        "text": None,
        "text_key": text.text_key,
        "text_values": rows.to_json(text.values),
        "language": text.language,
        "priority": int(Priority.go_now),
        "created_at": now,
        "send_after": after,
        "expires_at": until,
        "after_id": None,
        "once_key": text.once_key,
        "state": MessageState.queued,
        "attempts": 0,
    }
    return rows.sealed(sealer, t.message, row)


def _alert(alert: Alert, row_id: UUID, now: datetime) -> Row:
    return {
        "id": row_id,
        "escalation": alert.escalation,
        "step": alert.step,
        "reason": alert.reason,
        "who": alert.to.who,
        "message": row_id,
        "made_at": now,
        "heeded_at": None,
        "heeded_how": "",
    }


def _insert_new(conn: Connection, messages: Sequence[Row]) -> list[UUID]:
    new = (postgresql.insert if is_postgres(conn) else sqlite.insert)(t.message)
    statement = new.on_conflict_do_nothing().returning(t.message.c.id)
    return list(conn.scalars(statement, messages))

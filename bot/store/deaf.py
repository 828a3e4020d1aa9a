"""Is the service deaf? What replies, questions and reports say of it at this moment; numbers and times only.

The web process asks this itself, so that it is said when the worker is the one that stopped.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from sqlalchemy import Connection, func, select

from bot.core.ids import first_id
from bot.core.states import InboundState
from bot.store import pulse
from bot.store.tables import fixed, inbound, message, receipt, send_attempt

# Common practice, no source: a reply is read within seconds, and most mothers who answer do within the hour.
UNREAD = timedelta(seconds=60)
ASLEEP = timedelta(minutes=3)  # without a beat of the worker
FLOW, FLOW_SETTLES, FLOW_LEAST = timedelta(hours=4), timedelta(hours=1), 10
REPORTS, REPORTS_SETTLE, REPORTS_LEAST = timedelta(hours=2), timedelta(minutes=30), 5


@dataclass(frozen=True, slots=True)
class Alarm:
    """`since` is when it began, as far as is known; `name` a gateway's, where it is about one."""

    what: Literal["unread", "worker", "no_replies", "no_reports", "loop_failed"]
    since: datetime
    name: str = ""
    n: int = 0


def alarms(conn: Connection, now: datetime, machine_now: datetime) -> list[Alarm]:
    """Give every alarm that holds. `now` is programme time, which replies and texts are stamped with."""
    found = [_unread(conn, now), _flow(conn, now)]
    return [each for each in found if each is not None] + _parts(conn, machine_now)


def _unread(conn: Connection, now: datetime) -> Alarm | None:
    waiting = inbound.c.state == fixed(InboundState.stored)
    oldest, n = conn.execute(select(func.min(inbound.c.stored_at), func.count()).where(waiting)).one()
    return Alarm("unread", oldest, n=n) if n and now - oldest > UNREAD else None


def _flow(conn: Connection, now: datetime) -> Alarm | None:
    """Questions went out and not one reply came in, from anybody."""
    since = now - FLOW
    asked = conn.scalar(
        select(func.count())
        .select_from(message)
        .where(message.c.id >= first_id(since), message.c.text_key.startswith("ask-"))
        .where(message.c.sent_at >= since, message.c.sent_at <= now - FLOW_SETTLES)
    )
    if not asked or asked < FLOW_LEAST:
        return None
    heard = conn.scalar(select(inbound.c.id).where(inbound.c.id >= first_id(since)).limit(1))
    return Alarm("no_replies", since, n=asked) if heard is None else None


def _parts(conn: Connection, machine_now: datetime) -> list[Alarm]:
    found = []
    for each in pulse.standing(conn):
        kind, _, name = each.part.partition(":")
        if kind == pulse.WORKER and machine_now - each.until > ASLEEP:
            found.append(Alarm("worker", each.until))
        elif kind == "gateway" and each.state == "silent":
            found.append(Alarm("no_reports", each.since, name))
        elif kind == "loop" and each.state == "failed":
            found.append(Alarm("loop_failed", each.since, name))
    return found


def is_silent(conn: Connection, gateway: str, now: datetime) -> bool:
    """Tell whether a gateway took texts and has reported of none of them."""
    since = now - REPORTS
    taken = conn.scalar(
        select(func.count())
        .select_from(send_attempt)
        .where(send_attempt.c.message >= first_id(since), send_attempt.c.gateway == gateway)
        .where(send_attempt.c.outcome == "accepted", send_attempt.c.at.between(since, now - REPORTS_SETTLE))
    )
    if not taken or taken < REPORTS_LEAST:
        return False
    reported = select(receipt.c.id).where(receipt.c.id >= first_id(since), receipt.c.gateway == gateway)
    return conn.scalar(reported.limit(1)) is None

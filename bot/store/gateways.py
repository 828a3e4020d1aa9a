"""What all senders of one gateway share: how fast it may be used, and whether it rests.

Times are the machine's. `next_free_at` is when the texts claimed so far will have gone at the agreed rate; up
to a second's worth may be claimed ahead of it. `failures` counts the texts that failed in a row.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import Connection, Row, select, update
from sqlalchemy.dialects import postgresql, sqlite

from bot.store.engine import is_postgres
from bot.store.tables import gateway_state

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_AHEAD = timedelta(seconds=1)
_PROBE = 3  # so many texts try whether a gateway works again


def quota(conn: Connection, gateway: str, rate: float | None, now: datetime, limit: int) -> int:
    """Give how many texts, up to `limit`, may be claimed now besides the most urgent ones."""
    state = _locked(conn, gateway) if rate else _seen(conn, gateway)
    if state is None:
        return limit
    if state.open_until is not None:
        return 0 if state.open_until > now else min(limit, _PROBE)
    if rate is None:
        return limit
    room = (now + _AHEAD - max(state.next_free_at, now)).total_seconds() * rate
    return max(0, min(limit, int(room)))


def spend(conn: Connection, gateway: str, rate: float | None, now: datetime, texts: int) -> None:
    """Count claimed texts against the rate."""
    if rate is None or not texts:
        return
    state = _locked(conn, gateway)
    free = max(state.next_free_at, now) + timedelta(seconds=texts / rate)
    _change(conn, gateway, next_free_at=free)


def note_failures(conn: Connection, gateway: str, failed: int) -> int:
    """Count texts that failed in a row; give how many there are now."""
    failures: int = _locked(conn, gateway).failures + failed
    _change(conn, gateway, failures=failures)
    return failures


def rest(conn: Connection, gateway: str, until: datetime) -> None:
    """Leave the gateway alone until then, but for the most urgent texts."""
    _change(conn, gateway, open_until=until)


def works(conn: Connection, gateway: str) -> None:
    """Note that the gateway takes texts."""
    state = _seen(conn, gateway)
    if state is not None and (state.failures or state.open_until is not None or state.denied):
        _change(conn, gateway, failures=0, open_until=None, denied=None, denied_at=None)


def denied(conn: Connection, gateway: str, reason: str, now: datetime) -> None:
    """Note that the gateway denies us: nothing passes until a person mends our settings."""
    state = _locked(conn, gateway)
    _change(conn, gateway, denied=reason, denied_at=state.denied_at or now)


@dataclass(frozen=True, slots=True)
class Denial:
    """A gateway that denies us, why, and since when."""

    gateway: str
    reason: str
    since: datetime


def denials(conn: Connection) -> list[Denial]:
    """Give the gateways that deny us at present."""
    g = gateway_state.c
    rows = conn.execute(select(g.gateway, g.denied, g.denied_at).where(g.denied.is_not(None)))
    return [Denial(row.gateway, row.denied, row.denied_at) for row in rows]


def resting(conn: Connection, now: datetime) -> frozenset[str]:
    """Give the gateways that are left alone at present."""
    g = gateway_state.c
    return frozenset(conn.scalars(select(g.gateway).where(g.open_until > now)))


def _seen(conn: Connection, gateway: str) -> Row[Any] | None:
    return conn.execute(select(gateway_state).where(gateway_state.c.gateway == gateway)).one_or_none()


def _locked(conn: Connection, gateway: str) -> Row[Any]:
    insert = postgresql.insert if is_postgres(conn) else sqlite.insert
    wanted = select(gateway_state).where(gateway_state.c.gateway == gateway).with_for_update()
    found = conn.execute(wanted).one_or_none()
    if found is not None:
        return found
    first = {"gateway": gateway, "next_free_at": _EPOCH, "open_until": None, "failures": 0}
    conn.execute(insert(gateway_state).values(first).on_conflict_do_nothing())
    return conn.execute(wanted).one()


def _change(conn: Connection, gateway: str, **values: Any) -> None:
    conn.execute(update(gateway_state).where(gateway_state.c.gateway == gateway).values(**values))

"""Tokens of other systems: shown once, stored as a hash, limited to a role and to sites."""

from __future__ import annotations

import secrets
from collections.abc import Collection
from datetime import datetime
from hashlib import sha256
from uuid import UUID

from sqlalchemy import Connection, insert, select, update

from bot.core.errors import NotFound
from bot.core.ids import derived_id
from bot.store.tables import api_token, api_token_site
from bot.store.viewer import Role, Viewer


def add_token(conn: Connection, name: str, role: Role, sites: Collection[UUID], now: datetime) -> str:
    """Make a token and give it; it can't be read again."""
    token = secrets.token_urlsafe(32)  # 256 bits: a plain hash is enough, nobody can guess one
    made = derived_id(now, "token", _hash(token))
    row = {"id": made, "name": name, "hash": _hash(token), "role": role, "created_at": now}
    conn.execute(insert(api_token), row)
    if sites:
        conn.execute(insert(api_token_site), [{"token": made, "site": each} for each in sites])
    return token


def viewer_of_token(conn: Connection, token: str) -> Viewer | None:
    """Give what a token may see; None when there is no such token or it was revoked."""
    query = select(api_token.c.id, api_token.c.role).where(
        api_token.c.hash == _hash(token), api_token.c.revoked_at.is_(None)
    )
    found = conn.execute(query).one_or_none()
    if found is None:
        return None
    sites = conn.scalars(select(api_token_site.c.site).where(api_token_site.c.token == found.id))
    return Viewer(found.id, found.role, frozenset(sites), is_token=True)


def revoke_token(conn: Connection, name: str, now: datetime) -> None:
    """End every token of that name. Raises NotFound where none stands."""
    ended = conn.execute(
        update(api_token)
        .where(api_token.c.name == name, api_token.c.revoked_at.is_(None))
        .values(revoked_at=now)
    )
    if not ended.rowcount:
        raise NotFound(f"There is no token named {name}.")


def _hash(token: str) -> str:
    return sha256(token.encode()).hexdigest()

"""Accounts of staff: made with a password that is shown once."""

from __future__ import annotations

import secrets
from collections.abc import Collection
from datetime import datetime
from uuid import UUID

from sqlalchemy.exc import IntegrityError

from bot.core.errors import Conflict
from bot.steps.sign_in import hash_password
from bot.store.accounts import add_account
from bot.store.engine import Store
from bot.store.sites import all_sites, site_by_code
from bot.store.staff import set_password
from bot.store.viewer import Role, Viewer

EVERY_SITE = "all"


def new_account(
    store: Store, login: str, name: str, role: Role, language: str, sites: Collection[str], now: datetime
) -> str:
    """Store an account for sites (codes, or 'all') and give its password. Raises Conflict or NotFound."""
    password = secrets.token_urlsafe(15)
    try:
        with store.write() as conn:
            chosen = all_sites(conn) if EVERY_SITE in sites else [site_by_code(conn, code) for code in sites]
            add_account(
                conn,
                login=login,
                name=name,
                password_hash=hash_password(password),
                role=role,
                language=language,
                sites=[site.id for site in chosen],
                now=now,
            )
    except IntegrityError:
        raise Conflict(f"There is an account with the login {login} already.") from None
    return password


def new_password(store: Store, viewer: Viewer, person: UUID) -> str:
    """Give an account a new password, to be shown once; its open sessions end. Raises NotFound."""
    password = secrets.token_urlsafe(15)
    with store.write() as conn:
        set_password(conn, viewer, person, hash_password(password))
    return password

"""Signing in: a login and a password come in, the account comes out, or a refusal that says what to do."""

from __future__ import annotations

from datetime import datetime, timedelta

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError, VerifyMismatchError

from bot.core.errors import Invalid, NotAllowed, Problem
from bot.store.accounts import Account, account_by_login, failures_since, record_attempt
from bot.store.engine import Store

# Common practice, no source: five tries, then a quarter of an hour in which nothing is tried.
TRIES = 5
LOCKED_FOR = timedelta(minutes=15)
# NIST SP 800-63B-4, 3.1.1.2: at least 15 signs where the password stands alone, and no rules on its make-up.
SHORTEST = 15

_hasher = PasswordHasher()  # Argon2id with the library's defaults (RFC 9106, second recommended option)
# Verified when the login is unknown, so that the time of the answer does not tell which logins exist.
_NOBODY = _hasher.hash("nobody has this password")


def hash_password(password: str) -> str:
    """Hash a new password; raise Invalid when it is too short."""
    if len(password) < SHORTEST:
        raise Invalid([Problem("password", f"Take at least {SHORTEST} signs; a few words in a row will do.")])
    return _hasher.hash(password)


def sign_in(store: Store, login: str, password: str, now: datetime) -> Account:
    """Give the account when the password fits. `now` is machine time.

    NotAllowed  the login is locked for a while, or login and password do not belong together; which of the
                two was wrong is not told
    """
    with store.write() as conn:
        if failures_since(conn, login, now - LOCKED_FOR) >= TRIES:
            raise NotAllowed("Too many tries. Wait 15 minutes, or ask your manager.")
        account = account_by_login(conn, login)
        fits = _fits(account.password_hash if account else _NOBODY, password)
        welcome = account is not None and account.active and fits
        record_attempt(conn, login, now, succeeded=welcome)
    if account is None or not welcome:
        raise NotAllowed("Login and password do not belong together. Try again.")
    return account


def _fits(password_hash: str, password: str) -> bool:
    try:
        return _hasher.verify(password_hash, password)
    except (VerifyMismatchError, VerificationError, InvalidHashError):
        return False

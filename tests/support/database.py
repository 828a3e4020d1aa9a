"""Databases for tests: brought to the newest revision, opened behind the two doors."""

import base64
from collections.abc import Iterator
from contextlib import contextmanager

from bot.seal import Sealer
from bot.store.engine import Store, open_store
from bot.store.migrate import upgrade

SEAL_KEYS = "first:" + base64.b64encode(b"1" * 32).decode()
PHONE_KEY = base64.b64encode(b"p" * 32).decode()


def a_sealer(seal_keys: str = SEAL_KEYS) -> Sealer:
    """A sealer with keys that are no secret."""
    return Sealer.from_text(seal_keys, PHONE_KEY)


def upgraded(url: str) -> str:
    """Bring the empty database at `url` to the newest revision; give its URL back."""
    with opened(url) as store:
        upgrade(store)
    return url


@contextmanager
def opened(url: str) -> Iterator[Store]:
    """Open the database at `url` behind its two doors, with a small pool and the keys of the tests."""
    store = open_store(url, a_sealer(), pool_size=4)
    try:
        yield store
    finally:
        store.close()

"""Databases for tests: migrated once a run and copied for each test, opened behind the two doors."""

import base64

from bot.seal import Sealer

SEAL_KEYS = "first:" + base64.b64encode(b"1" * 32).decode()
PHONE_KEY = base64.b64encode(b"p" * 32).decode()


def a_sealer(seal_keys: str = SEAL_KEYS) -> Sealer:
    """A sealer with keys that are no secret."""
    return Sealer.from_text(seal_keys, PHONE_KEY)

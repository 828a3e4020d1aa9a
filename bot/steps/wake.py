"""Pairs whose time has come: claimed in order of their timers, followed, stored."""

from __future__ import annotations

from datetime import datetime

from bot.core.follow import Content
from bot.core.follow.events import Woke
from bot.steps.following import followed, store_changes
from bot.store.engine import Store
from bot.store.due import busy_pairs
from bot.store.pairs import load_pairs, wake_due


def wake(store: Store, content: Content, now: datetime, limit: int) -> int:
    """Wake up to `limit` due pairs in one transaction; gives how many."""
    with store.write() as conn:
        pairs = load_pairs(conn, wake_due(conn, now, limit), lock=True)
        busy = busy_pairs(conn, pairs)
        changes = [followed(pair, Woke(pair.id in busy), content, now) for pair in pairs]
        store_changes(conn, changes, now)
        return len(pairs)

"""Pairs whose time has come: claimed in order of their timers, followed, stored."""

from __future__ import annotations

from datetime import datetime

from bot.core import checkin
from bot.core.follow import Content
from bot.core.follow.events import Woke
from bot.steps.following import followed, store_changes
from bot.store.due import busy_pairs
from bot.store.engine import Store
from bot.store.pairs import load_pairs, wake_due


def wake(store: Store, content: Content, now: datetime, limit: int) -> int:
    """Wake up to `limit` due pairs in one transaction; gives how many."""
    with store.write() as conn:
        pairs = load_pairs(conn, wake_due(conn, now, limit), lock=True)
        busy = busy_pairs(conn, pairs)
        asked: set[str] = set()  # phones on which a question was opened in this very batch
        changes = []
        for pair in pairs:
            phone = pair.mother.phone
            change = followed(pair, Woke(pair.id in busy or phone in asked), content, now)
            if phone is not None and checkin.asked(change.after.open_check_in) is not None:
                asked.add(phone)
            changes.append(change)
        store_changes(conn, changes, now)
        return len(pairs)

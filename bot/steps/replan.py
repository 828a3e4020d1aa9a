"""Plans made from an older edition of schedule or site are made anew, in batches."""

from __future__ import annotations

from datetime import datetime

from bot.core.follow import Content
from bot.core.follow.events import Replanned
from bot.core.plan import plan_stamp
from bot.steps.following import followed, store_changes
from bot.store.due import planned_otherwise
from bot.store.engine import Store
from bot.store.pairs import load_pairs
from bot.store.sites import all_sites


def replan(store: Store, content: Content, now: datetime, limit: int) -> int:
    """Set the timers of up to `limit` pairs whose plan is old; gives how many."""
    with store.write() as conn:
        stamps = [plan_stamp(content.schedule, site) for site in all_sites(conn)]
        pairs = load_pairs(conn, planned_otherwise(conn, stamps, limit), lock=True)
        changes = [followed(pair, Replanned(), content, now) for pair in pairs]
        store_changes(conn, changes, now)
        return len(pairs)

"""One text to many on the list: each pair is followed by itself, and who can't be texted stops no other."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from uuid import UUID

from bot.core.errors import DunnockError
from bot.core.follow import Content
from bot.core.follow.events import AskToCall, StaffActed
from bot.steps.following import followed, store_changes
from bot.store.engine import Store
from bot.store.pairs import load_pairs
from bot.store.viewer import Viewer


def ask_to_call(
    store: Store, content: Content, viewer: Viewer, chosen: Iterable[UUID], now: datetime
) -> tuple[int, int]:
    """Ask the chosen pairs of the viewer's sites to call, in one transaction; gives how many get a text and
    how many can't: not texted now, not on the list any more, or not the viewer's."""
    wanted = set(chosen)
    event = StaffActed(viewer.person_id, AskToCall())
    changes = []
    with store.write() as conn:
        for pair in load_pairs(conn, wanted, lock=True):
            if pair.site.id not in viewer.sites:
                continue
            try:
                changes.append(followed(pair, event, content, now))
            except DunnockError:
                continue
        store_changes(conn, changes, now)
    return len(changes), len(wanted) - len(changes)

"""A signed-in person acts on an item about a number that belongs to no pair. Staff of every site see such
items; whoever is first takes it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from uuid import UUID

from bot.core import escalation as inbox
from bot.core.errors import Conflict
from bot.core.follow.events import Close, Release, Spoke, Take
from bot.core.pair import Escalation
from bot.core.states import EscalationState
from bot.store.engine import Store
from bot.store.strangers import change_stranger
from bot.store.viewer import Viewer

Act = Take | Release | Spoke | Close


def act_on_stranger(
    store: Store, viewer: Viewer, item: UUID, acts: Sequence[Act], now: datetime
) -> Escalation:
    """Do `acts` in order, all or none. Raises NotFound or Conflict with what to do instead."""
    me = viewer.staff_id

    def change(before: Escalation) -> Escalation:
        if before.state is EscalationState.taken and before.taken_by != me:
            raise Conflict("Somebody else has taken this. Ask them to hand it over.")
        after = before
        for act in acts:
            after = _changed(after, act, me, now)
        return after

    with store.write() as conn:
        return change_stranger(conn, item, me, change, now)


def _changed(item: Escalation, act: Act, by: UUID, now: datetime) -> Escalation:
    match act:
        case Take():
            return inbox.taken(item, by, now)
        case Release():
            return inbox.released(item)
        case Spoke():
            return item if item.spoken_at else replace(item, spoken_at=now)
        case Close(found, note):
            return inbox.closed(item, found, now, note.strip() or None)

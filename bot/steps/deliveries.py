"""What became of texts reaches their pairs: a refused number is followed by call from now on."""

from __future__ import annotations

from datetime import datetime

from bot.core.follow import Content
from bot.core.follow.events import Delivered, Event, Undelivered
from bot.core.states import MessageState
from bot.steps.following import Change, followed, store_changes
from bot.store.engine import Store
from bot.store.outbox import Final, mark_told, untold
from bot.store.pairs import load_pairs


def tell_deliveries(store: Store, content: Content, now: datetime, limit: int) -> int:
    """Tell up to `limit` final states of texts to their pairs; gives how many."""
    with store.write() as conn:
        finals = untold(conn, limit)
        pairs = {pair.id: pair for pair in load_pairs(conn, {f.enrolment for f in finals}, lock=True)}
        changes: dict[object, Change] = {}
        for final in finals:
            if final.state is MessageState.unknown:
                continue  # no report came in time: that says nothing about the phone
            known = changes.get(final.enrolment)
            pair = known.after if known else pairs[final.enrolment]
            change = followed(pair, _event(final), content, now)
            first = pairs[final.enrolment]
            effects = (known.effects if known else ()) + change.effects
            changes[final.enrolment] = Change(first, change.after, effects)
        store_changes(conn, list(changes.values()), now)
        mark_told(conn, finals)
        return len(finals)


def _event(final: Final) -> Event:
    if final.state is MessageState.delivered:
        return Delivered(final.once_key)
    return Undelivered(final.once_key, permanent=final.permanent, opted_out=final.opted_out)

"""The only way in which a pair changes: pairs are loaded and locked, the transition is asked, what differs is
stored with its effects, all in the caller's one transaction."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from sqlalchemy import Connection

from bot.core.errors import DunnockError
from bot.core.escalation import News, join
from bot.core.follow import Content, follow
from bot.core.follow.events import Effect, Event, Note
from bot.core.pair import Pair
from bot.store.effects import write_effects
from bot.store.saving import save_pairs

log = logging.getLogger(__name__)

# A pair that the program can't follow is shown to a person and tried again this much later.
TRY_AGAIN = timedelta(minutes=15)


@dataclass(frozen=True, slots=True)
class Change:
    """A pair before (None: new) and after, and what follows."""

    before: Pair | None
    after: Pair
    effects: tuple[Effect, ...]


def followed(pair: Pair, event: Event, content: Content, now: datetime) -> Change:
    """Follow an event of the program's own; a fault in it costs this pair its turn, not the others theirs.

    Refusals (Conflict and the like) go to the caller: a person asked for what can't be.
    """
    try:
        after, effects = follow(pair, event, content, now)
    except DunnockError:
        raise
    except Exception:
        # Ids only: the log holds nothing that a mother said.
        log.exception("pair %s could not be followed after %s", pair.id, type(event).__name__)
        return _for_a_person(pair, type(event).__name__, content, now)
    return Change(pair, after, effects)


def _for_a_person(pair: Pair, what: str, content: Content, now: datetime) -> Change:
    news = News("program_failed", None, content.occasions["program_failed"].urgency, detail=what)
    item = join(pair.open_escalation, [news], pair.id, now, content.due)
    rest = tuple(each for each in pair.escalations if each.id != item.id)
    after = replace(pair, escalations=(*rest, item), wake_at=now + TRY_AGAIN)
    return Change(pair, after, (Note(f"failed:{now.isoformat()}", "program", after=what),))


def store_changes(conn: Connection, changes: Sequence[Change], now: datetime) -> None:
    """Write what differs and what follows, in a fixed number of statements a kind of row."""
    if not changes:
        return
    save_pairs(conn, [(change.before, change.after) for change in changes], now)
    write_effects(conn, [(change.after, change.effects) for change in changes], now)

"""A signed-in person acts on a pair: seen only if it is one of hers, followed, stored, in one transaction."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from types import MappingProxyType
from uuid import UUID

from bot.core.errors import NotFound
from bot.core.follow import Content
from bot.core.follow.events import Action, Effect, ReviewRecorded, StaffActed
from bot.core.pair import Assessment, Pair
from bot.steps.following import Change, followed, store_changes
from bot.store.engine import Store
from bot.store.pairs import load_pairs
from bot.store.viewer import Viewer


def act(
    store: Store, content: Content, viewer: Viewer, enrolment: UUID, actions: Sequence[Action], now: datetime
) -> Pair:
    """Do `actions` in order, all or none. Raises NotFound, Conflict or Invalid with what to do instead."""
    events = [StaffActed(viewer.person_id, action) for action in actions]
    return _follow_all(store, content, viewer, enrolment, events, now)


def record_review(
    store: Store,
    content: Content,
    viewer: Viewer,
    enrolment: UUID,
    review: UUID,
    attended: bool,
    assessments: Sequence[Assessment],
    note: str,
    now: datetime,
    said: Mapping[int, Mapping[str, tuple[float | None, float | None]]] = MappingProxyType({}),
) -> Pair:
    """Record that a review was attended, with what was seen and `said` of each baby, or missed."""
    event = ReviewRecorded(viewer.person_id, review, attended, tuple(assessments), note, said)
    return _follow_all(store, content, viewer, enrolment, [event], now)


def _follow_all(
    store: Store,
    content: Content,
    viewer: Viewer,
    enrolment: UUID,
    events: Sequence[StaffActed | ReviewRecorded],
    now: datetime,
) -> Pair:
    with store.write() as conn:
        first = next(iter(load_pairs(conn, [enrolment], lock=True)), None)
        if first is None or first.site.id not in viewer.sites:
            raise NotFound("There is no such pair at your sites.")
        pair = first
        effects: tuple[Effect, ...] = ()
        for event in events:
            change = followed(pair, event, content, now)
            pair, effects = change.after, effects + change.effects
        store_changes(conn, [Change(first, pair, effects)], now)
        return pair

"""A pair that was offered to another site: that site's people take it over, or say no."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from bot.core.errors import Conflict, NotFound
from bot.core.follow import Content
from bot.core.follow.events import AcceptMove, StaffActed, WithdrawMove
from bot.core.pair import Pair
from bot.steps.following import Change, followed, store_changes
from bot.store.engine import Store
from bot.store.enrolments import is_registered
from bot.store.pairs import load_pairs, load_sites
from bot.store.viewer import Viewer


def answer_offer(
    store: Store, content: Content, viewer: Viewer, enrolment: UUID, accept: bool, now: datetime
) -> Pair:
    """Take the pair over, or leave it where it is. Raises NotFound where it is not offered to the viewer's
    sites, Conflict where that site has another pair under the same number of the register."""
    with store.write() as conn:
        pair = next(iter(load_pairs(conn, [enrolment], lock=True)), None)
        if pair is None or pair.offered_to not in viewer.sites:
            raise NotFound("They are not offered to your sites any more.")
        assert pair.offered_to is not None
        if accept and is_registered(conn, pair.offered_to, pair.external_id):
            raise Conflict(
                "Your register has another pair under the same number. Ask the other site to end its"
                " follow-up as moved, and enrol them at yours under a number of your own."
            )
        site = load_sites(conn, [pair.offered_to])[pair.offered_to]
        action = AcceptMove(site) if accept else WithdrawMove("declined")
        change = followed(pair, StaffActed(viewer.person_id, action), content, now)
        store_changes(conn, [Change(pair, change.after, change.effects)], now)
        return change.after

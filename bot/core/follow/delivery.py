"""What the network said of a text. Undelivered is not unanswered, and neither is forgotten."""

from __future__ import annotations

from bot.core.follow import chase, episodes
from bot.core.follow.draft import Draft
from bot.core.follow.events import Delivered, Undelivered
from bot.core.follow.texting import stop_texts, verify
from bot.core.states import Texting


def delivered(draft: Draft, event: Delivered) -> None:
    """A phone that got a text can be reached again."""
    if draft.pair.mother.texting is Texting.unreachable:
        verify(draft, "a text was delivered")
    chase.arrived(draft)
    episodes.delivered(draft, event.once_key)


def undelivered(draft: Draft, event: Undelivered) -> None:
    """A refused number is followed by call from now on; a phone that gets nothing for two days comes onto the
    list of those to be reached otherwise; a lost warning is for a person at once."""
    if event.opted_out:
        stop_texts(draft, "the network says she asked for no texts")
        draft.occasion("opted_out")
    elif event.permanent:
        stop_texts(draft, "the network refuses the number", Texting.unreachable)
        draft.occasion("unreachable")
    else:
        chase.undelivered(draft)
    episode = draft.pair.open_episode
    if episode is not None and event.once_key == episode.told_key:
        draft.occasion("warning_not_delivered")

"""From the warning to the arrival, as the case shows it: steps, place, and who was woken."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from bot.core.cover import place_for
from bot.core.pair import Episode, Pair, Place
from bot.core.states import EpisodeState, MessageState
from bot.store.views_case import CaseFile, Woken
from bot.web.formats import clock_time
from bot.web.way_words import ALERTS, HINDRANCE_WORDS, WAY
from bot.web.words import _

# What a person may note of the way, in the order of the buttons.
LEARNED = (EpisodeState.on_the_way, EpisodeState.cannot, EpisodeState.doubts, EpisodeState.arrived)


@dataclass(frozen=True, slots=True)
class Step:
    """One thing that has happened on the way; `trouble` marks what somebody must act on."""

    at: datetime
    words: str
    trouble: bool = False


@dataclass(frozen=True, slots=True)
class Way:
    """An open episode: `place` is where she was sent, `learned` what a person may note now."""

    place: Place
    now: str
    steps: tuple[Step, ...]
    woken: tuple[Step, ...]
    learned: tuple[EpisodeState, ...]
    look_at: datetime | None


def way(case: CaseFile) -> Way | None:
    """Give the way of the open danger; None while there is none."""
    episode = case.pair.open_episode
    if episode is None:
        return None
    return Way(
        place=place_for(case.pair.site, case.pair.extra),
        now=_state(episode),
        steps=tuple(_steps(case.pair, episode)),
        woken=tuple(woken_words(each, case.pair) for each in case.woken if each.made_at >= episode.opened_at),
        learned=tuple(state for state in LEARNED if state is not episode.state) if _is_going(episode) else (),
        look_at=episode.look_at,
    )


def _is_going(episode: Episode) -> bool:
    return episode.state is not EpisodeState.arrived


def _state(episode: Episode) -> str:
    why = f" {_(HINDRANCE_WORDS[episode.why])}" if episode.why else ""
    return _(WAY[episode.state]) + why


def _steps(pair: Pair, episode: Episode) -> Iterator[Step]:
    yield Step(episode.opened_at, _("The danger was heard."))
    if episode.told_at is not None:
        yield Step(episode.told_at, _told(episode))
    else:
        yield Step(episode.opened_at, _("No text could tell her: a person must."), trouble=True)
    if episode.delivered_at is not None:
        yield Step(episode.delivered_at, _("Her phone has the text, or she was spoken to."))
    elif episode.delivery in (MessageState.undelivered, MessageState.failed, MessageState.expired):
        yield Step(episode.told_at or episode.opened_at, _("The text did not reach her."), trouble=True)
    if episode.answered_at is not None and episode.state is not EpisodeState.arrived:
        trouble = episode.state in (EpisodeState.cannot, EpisodeState.doubts)
        yield Step(episode.answered_at, _state(episode), trouble)
    if episode.arrived_at is not None:
        yield Step(episode.arrived_at, _(WAY[EpisodeState.arrived]))


def _told(episode: Episode) -> str:
    if episode.grounds == {"private"}:
        return _("A text that names nothing was sent: a person phones at once, in the safe way.")
    if "sign" in episode.grounds:
        return _("She was told by text to go now.")
    return _("A text asks her to check the number, and to go now if it is right.")


def woken_words(woken: Woken, pair: Pair) -> Step:
    """Say who was woken, why, and what came of it."""
    at = woken.sent_at or woken.send_after
    why = _(ALERTS[woken.reason])
    if woken.heeded_at is not None and woken.heeded_at >= at:
        did = _("has it since %(at)s", at=clock_time(woken.heeded_at, pair.tz))
    elif woken.state is MessageState.cancelled:
        did = _("was not needed any more")
    elif woken.state is MessageState.queued:
        did = _("follows if nobody has it by then")
    elif woken.state in (MessageState.undelivered, MessageState.failed, MessageState.expired):
        return Step(at, f"{woken.who}: {why}; {_('not reached')}", trouble=True)
    else:
        did = _("woken, no answer yet")
    return Step(at, f"{woken.who}: {why}; {did}")


def later(now: datetime, pair: Pair) -> list[tuple[str, datetime]]:
    """Offer when an item may be looked at again: in one hour, in three, tomorrow when the site opens."""
    tomorrow = pair.local(now).date() + timedelta(days=1)
    opens = datetime.combine(tomorrow, pair.site.opens, pair.tz)
    return [("1h", now + timedelta(hours=1)), ("3h", now + timedelta(hours=3)), ("morning", opens)]

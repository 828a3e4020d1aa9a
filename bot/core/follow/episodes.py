"""From the warning to the arrival: what she is told once, what is looked at while she says nothing, what she
answers, and how it ended. Only a person ends an episode."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from bot.core.cover import place_for
from bot.core.errors import Conflict, Invalid, Problem
from bot.core.escalation import News
from bot.core.follow.draft import GO_NOW_EXPIRES, WITHOUT_BABY, Draft, put_episode
from bot.core.follow.events import ADVERSE, HINDRANCES, OUTCOMES, HeadsUp, ReplyRead
from bot.core.follow.looks import ARRIVES, REPEATS, SILENT, looked_again, looks_of
from bot.core.outbox import Priority
from bot.core.pair import Episode, Pair
from bot.core.states import EpisodeState, MessageState, Urgency, move

# She is told again when she still writes of danger this long after she was told.
TOLD_AGAIN = timedelta(minutes=30)

# The numbers that can be a warning by themselves, by axis of triage; beside them only how small the baby is.
_COUNTS = {"feeds_few": "feeds", "wet_nappies": "wet_nappies"}
_BESIDE = frozenset({"baby_small"})
_PRIVATE = "advice-call-you"
_LEFT = frozenset({MessageState.accepted, MessageState.delivered})
_HINDRANCE_OF = {1: "transport", 2: "permission", 3: "alone"}
_NOT_NEEDED = 4
_ALONE = frozenset(WITHOUT_BABY.values())


# ---------------------------------------------------------------- telling her


def tell(draft: Draft, news: Sequence[News], once: str) -> bool:
    """Tell her what to do about the gravest of `news`, once for each ground. Gives whether a text was made.

    A count alone may be a slip: that text joins the check with what to do. What must never be named in a text
    is told in words that name nothing. A danger sign is told plainly and at once.
    """
    episode = draft.pair.open_episode
    urgent = [item for item in news if item.urgency is Urgency.go_now]
    if episode is None or not urgent or draft.pair.mother.phone is None:
        return False
    ground, item = min(((_ground(draft, each), each) for each in urgent), key=lambda one: _RANK[one[0]])
    if _is_told(episode, ground, draft.now):
        return False
    key, values = _words(draft, ground, item)
    draft.say(f"{once}:{key}", key, Priority.go_now, values=values)
    _told(draft, f"{once}:{key}", ground)
    return True


_RANK = {"sign": 0, "private": 1, "number": 2}


def _ground(draft: Draft, item: News) -> str:
    rule = draft.content.rules.rule(item.rule)
    if rule is None:
        return "sign"
    if rule.advice == _PRIVATE:
        return "private"
    axes = {comparison.axis for clause in rule.clauses() for comparison in clause}
    return "number" if axes & _COUNTS.keys() and axes <= _COUNTS.keys() | _BESIDE else "sign"


def _is_told(episode: Episode, ground: str, now: datetime) -> bool:
    """Who was told to go needs no check of a number; an hour later she may need it all again."""
    known = ground in episode.grounds or (ground == "number" and "sign" in episode.grounds)
    return known and episode.told_at is not None and now - episode.told_at < TOLD_AGAIN


def _words(draft: Draft, ground: str, item: News) -> tuple[str, dict[str, str]]:
    rule = draft.content.rules.rule(item.rule)
    if ground != "number" or rule is None:
        return draft.advice(item) or "advice-go-now", {}
    key = next(_COUNTS[c.axis] for clause in rule.clauses() for c in clause if c.axis in _COUNTS)
    return f"check-{key}", {"count": _counted(draft.pair, key)}


def _counted(pair: Pair, key: str) -> str:
    last = max((a for a in pair.answers if a.key == key), key=lambda a: a.at, default=None)
    value = last and (last.low if last.low is not None else last.high)
    return f"{value or 0:g}"


def _told(draft: Draft, told_key: str, ground: str) -> None:
    episode = draft.pair.open_episode
    assert episode is not None
    put_episode(
        draft,
        replace(
            episode,
            grounds=episode.grounds | {ground},
            told_key=told_key,
            told_at=draft.now,
            delivery=None,
        ),
    )


# ---------------------------------------------------------------- what she answers


def asked_of(pair: Pair) -> list[str]:
    """What a reply of hers may answer while an episode is open, as the reader needs it; else nothing."""
    episode = pair.open_episode
    if episode is None or episode.told_at is None or episode.grounds == {"private"}:
        return []
    if "sign" not in episode.grounds:
        return [key for key in ("feeds", "wet_nappies") if f"check-{key}" in episode.told_key]
    if episode.state is EpisodeState.cannot and not episode.why:
        return ["going_why"]
    # Who was on her way may be stopped, and who could not go may find a way: both count until she is there.
    return [] if episode.state is EpisodeState.arrived else ["going"]


def heard(draft: Draft, event: ReplyRead, asked: Sequence[str]) -> bool:
    """Take what she says to what she was `asked` about going. Gives whether the reply was about that."""
    episode, answers = draft.pair.open_episode, event.reading.answers
    if episode is None or not asked or event.reading.danger_signs or not event.sure:
        return False
    going, why = answers.get("going"), answers.get("going_why")
    if isinstance(going, bool):
        state = EpisodeState.on_the_way if going else EpisodeState.cannot
        if state is episode.state:  # said again: no text more, but a person reads it
            draft.occasion("reply_to_read", inbound=event.inbound)
        else:
            _goes(draft, state, "", f"reply:{event.inbound}", None)
        return True
    if why is not None and not isinstance(why, bool) and why.low is not None:
        number = int(why.low)
        if number == _NOT_NEEDED:
            _goes(draft, EpisodeState.doubts, "", f"reply:{event.inbound}", None)
        else:
            why_not = _HINDRANCE_OF.get(number, "other")
            _goes(draft, EpisodeState.cannot, why_not, f"reply:{event.inbound}", None)
        return True
    if any(key in answers for key in asked):
        draft.occasion("number_again", inbound=event.inbound)
        draft.say(f"reply:{event.inbound}:person-reads", "person-reads", Priority.answer)
        return True
    return False


def going(draft: Draft, state: EpisodeState, why: str, by: UUID) -> None:
    """A person learned whether she goes, or that she arrived. Raises Conflict or Invalid."""
    if draft.pair.open_episode is None:
        raise Conflict("No danger is open for this pair any more. Look at the page again.")
    if state is EpisodeState.cannot and why not in HINDRANCES:
        raise Invalid([Problem("why", "Choose what keeps her from going.")])
    _goes(draft, state, why if state is EpisodeState.cannot else "", f"staff:{draft.now.isoformat()}", by)


def _goes(draft: Draft, state: EpisodeState, why: str, once: str, by: UUID | None) -> None:
    episode = draft.pair.open_episode
    assert episode is not None
    at: dict[str, Any] = {"answered_at": draft.now, "why": why if state is EpisodeState.cannot else ""}
    if state is EpisodeState.arrived:
        at["arrived_at"] = draft.now
    _step(draft, episode, state, by, **at)
    if state is EpisodeState.on_the_way:
        _announce(draft, episode)
    if by is None:
        _reply_to(draft, state, why, once)
    if by is None and not why and state is not EpisodeState.on_the_way:
        draft.alert("cannot")  # she needs a person, not a text


def _reply_to(draft: Draft, state: EpisodeState, why: str, once: str) -> None:
    if state is EpisodeState.on_the_way:
        key = "go-safely"
    elif state is EpisodeState.doubts:
        key = "go-doubts"
    else:
        key = "go-help" if why else "go-cannot"
    if not _told_alone(draft) and draft.is_bereaved:
        return  # what she was told about the baby has become a wound; a person phones
    key = _of_the_way(draft, key)
    draft.say(f"{once}:{key}", key, Priority.go_now)


def _told_alone(draft: Draft) -> bool:
    """She was told of a danger of her own in words that name no baby."""
    episode = draft.pair.open_episode
    return episode is not None and episode.told_key.rpartition(":")[2] in _ALONE


def _of_the_way(draft: Draft, key: str) -> str:
    """The text about the way that fits how she was told: where no baby was named, none is named later."""
    return WITHOUT_BABY.get(key, key) if _told_alone(draft) else key


def _announce(draft: Draft, episode: Episode) -> None:
    place = place_for(draft.pair.site, draft.pair.extra)
    if place.heads_up:
        values = {"site": draft.pair.site.name, "ref": str(draft.pair.id)[-6:]}
        until = draft.now + GO_NOW_EXPIRES
        draft.effects.append(HeadsUp(f"heads-up:{episode.id}", place.heads_up, values, draft.now, until))


def delivered(draft: Draft, once_key: str) -> None:
    """Her phone has the text that told her."""
    episode = draft.pair.open_episode
    if episode is not None and episode.told_key == once_key and episode.delivered_at is None:
        state = EpisodeState.delivered if episode.state is EpisodeState.told else episode.state
        put_episode(draft, replace(episode, state=state, delivered_at=draft.now))
        draft.note("episode", episode.state.value, state.value, "delivered")


def spoken(draft: Draft, by: UUID) -> None:
    """Somebody talked to her: no more repeats; next is looked whether she arrived."""
    episode = draft.pair.open_episode
    if episode is not None and episode.state is not EpisodeState.arrived:
        state = EpisodeState.delivered if episode.state is EpisodeState.told else episode.state
        _step(draft, episode, state, by)


def _step(draft: Draft, episode: Episode, state: EpisodeState, by: UUID | None, **changes: Any) -> None:
    """Move on, and look again when the next thing should have happened."""
    _look_again(draft, replace(episode, state=move(episode.state, state), checks=0, **changes))
    draft.note("episode", episode.state.value, state.value, str(changes.get("why") or ""), by)


# ---------------------------------------------------------------- looking again


def _look_again(draft: Draft, episode: Episode) -> None:
    """Keep the episode with the time of its next look."""
    put_episode(draft, looked_again(episode, draft.pair.open_escalation, draft.now))


def look(draft: Draft) -> None:
    """A look is due: nobody waits unheard, nobody on the way is forgotten, no outcome is left out."""
    episode = draft.pair.open_episode
    if episode is None or episode.look_at is None or episode.look_at > draft.now:
        return
    looks = looks_of(episode, draft.pair.open_escalation)
    due = looks.next(episode.checks, draft.now) - 1
    if episode.state is EpisodeState.arrived:
        draft.occasion("outcome_awaited")
    elif looks.steps is ARRIVES:
        draft.occasion("not_arrived")
        draft.alert("not_arrived")
    else:
        _nothing_heard(draft, episode, due)
    after = draft.pair.open_episode
    assert after is not None  # nothing but a person's act ends it
    _look_again(draft, after)


def _nothing_heard(draft: Draft, episode: Episode, check: int) -> None:
    is_texted = episode.told_at is not None
    if check not in REPEATS and check < len(SILENT):
        wanted = _LEFT if check == 0 else {MessageState.delivered}
        if is_texted and episode.delivery not in wanted:
            draft.alert("not_reached")
        return
    draft.alert("no_answer")
    if check in REPEATS and is_texted and draft.pair.can_text() and "sign" in episode.grounds:
        once = f"episode:{episode.id}:{check}"
        key = _of_the_way(draft, "go-repeat")
        draft.say(f"{once}:{key}", key, Priority.go_now)
        _told(draft, f"{once}:{key}", "sign")


# ---------------------------------------------------------------- how it ended


def end(draft: Draft, outcome: str, by: UUID) -> None:
    """A person says how it ended. Raises Invalid when they do not."""
    episode = draft.pair.open_episode
    if episode is None:
        return
    if outcome not in OUTCOMES:
        raise Invalid([Problem("outcome", "Say how the danger ended.")])
    closed = replace(
        episode,
        state=move(episode.state, EpisodeState.closed),
        closed_at=draft.now,
        look_at=None,
        outcome=outcome,
        closed_by=by,
    )
    put_episode(draft, closed)
    draft.note("episode", episode.state.value, closed.state.value, outcome, by)
    if outcome in ADVERSE:
        draft.adverse(outcome)

"""The fixed words of the way to help: its states, what keeps her, how it ends, why somebody is woken."""

from __future__ import annotations

from bot.core.follow.alerts import TEXT_OF
from bot.core.follow.events import HINDRANCES, OUTCOMES
from bot.core.states import EpisodeState
from bot.web.words import lazy

WAY = {
    EpisodeState.told: lazy("She was told to go, or must be told; nothing has come back yet."),
    EpisodeState.delivered: lazy("She knows; she has not said yet whether she goes."),
    EpisodeState.on_the_way: lazy("She is on the way."),
    EpisodeState.cannot: lazy("She cannot go by herself."),
    EpisodeState.doubts: lazy("She thinks that it is not needed."),
    EpisodeState.arrived: lazy("She has arrived. How did it end?"),
    EpisodeState.closed: lazy("Ended."),
}
GOING = {
    EpisodeState.on_the_way: lazy("She is on the way"),
    EpisodeState.cannot: lazy("She cannot go"),
    EpisodeState.doubts: lazy("She thinks that it is not needed"),
    EpisodeState.arrived: lazy("She has arrived"),
}
HINDRANCE_WORDS = {
    "transport": lazy("No money or no transport."),
    "permission": lazy("Somebody does not allow it."),
    "alone": lazy("Nobody goes with her, or stays with the other children."),
    "other": lazy("Something else keeps her."),
}
assert HINDRANCE_WORDS.keys() == HINDRANCES.keys()
OUTCOME_WORDS = {
    "admitted": lazy("Admitted"),
    "treated_home": lazy("Treated and sent home"),
    "nothing_found": lazy("Seen by a health worker; nothing found"),
    "referred_on": lazy("Referred on to another place"),
    "died": lazy("Died"),
    "stood_down": lazy("No danger: misread, or not about them; I made sure"),
    "not_found": lazy("Not found, by phone or by visit"),
}
assert OUTCOME_WORDS.keys() == OUTCOMES.keys()
# Why somebody on call is woken.
ALERTS = {
    "go_now": lazy("a danger"),
    "lapsed": lazy("a danger that was taken, and nobody spoke to her"),
    "not_reached": lazy("our text has not reached her"),
    "no_answer": lazy("no answer from her"),
    "cannot": lazy("she cannot go, or will not"),
    "not_arrived": lazy("not reported as arrived"),
    "no_cover": lazy("for today, and nobody reads the inbox in time"),
    "stranger": lazy("a number that nobody knows names a danger"),
}
assert ALERTS.keys() == TEXT_OF.keys()

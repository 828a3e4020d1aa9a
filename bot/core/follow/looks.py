"""When an episode is looked at again: an episode and its item come in, the next look goes out."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from bot.core.pair import Episode, Escalation
from bot.core.states import EpisodeState

# The looks after the warning while nothing is heard: was it taken, was it delivered, and twice a repeat; then
# hourly. When she should have arrived, then every three hours, and how often her outcome is asked for. Common
# practice, no source.
_MINUTE, _HOUR, _DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)
SILENT = (2 * _MINUTE, 5 * _MINUTE, 10 * _MINUTE, 30 * _MINUTE)
REPEATS = (2, 3)  # places in SILENT
ARRIVES = (2 * _HOUR,)
_OUTCOME = (_DAY,)


@dataclass(frozen=True, slots=True)
class Looks:
    """A row of looks: `steps` after `begins`, then one `every` so long."""

    begins: datetime
    steps: tuple[timedelta, ...]
    every: timedelta

    def at(self, number: int) -> datetime:
        over = max(0, number - len(self.steps) + 1)
        return self.begins + self.steps[min(number, len(self.steps) - 1)] + over * self.every

    def next(self, number: int, now: datetime) -> int:
        """The first look from `number` on that is still to come: after an outage none is made up for."""
        while self.at(number) <= now:
            number += 1
        return number


def looks_of(episode: Episode, item: Escalation | None) -> Looks:
    """The looks that an open episode is at: nothing heard, on the way, or its outcome awaited."""
    spoken = item.spoken_at if item else None
    if episode.state is EpisodeState.arrived and episode.arrived_at:
        return Looks(episode.arrived_at, _OUTCOME, _DAY)
    if episode.state is EpisodeState.on_the_way or spoken:
        begins = max(at for at in (episode.opened_at, episode.answered_at, spoken) if at)
        return Looks(begins, ARRIVES, 3 * _HOUR)
    return Looks(episode.opened_at, SILENT, _HOUR)


def looked_again(episode: Episode, item: Escalation | None, now: datetime) -> Episode:
    """The episode with the time of its next look."""
    looks = looks_of(episode, item)
    number = looks.next(episode.checks, now)
    return replace(episode, checks=number, look_at=looks.at(number))

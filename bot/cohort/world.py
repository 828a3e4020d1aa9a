"""What every mother of a run shares: the content of the programme, what is assumed, and what was read,
rendered or counted before: the same words with the same question are read once."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, time, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo

from bot.cohort.assumed import HERE, Assumed
from bot.cohort.draws import Weighted
from bot.cohort.shifts import Shifts
from bot.content.check_texts import sample_values
from bot.content.texts import Texts
from bot.core.follow import Content
from bot.core.pair import Site
from bot.core.plan import at_local
from bot.core.reader import Lexicon, Reading, read
from bot.core.segments import count, sendable

_MOST_KEPT = 50_000  # rendered texts and readings; beyond it they are made anew


@dataclass(frozen=True, slots=True)
class Words:
    """What mothers of one language write, by what it says."""

    numbers: Mapping[str, Mapping[str, Sequence[str]]]  # question -> count -> in words
    no: Mapping[str, Sequence[str]]
    yes: Mapping[str, Sequence[str]]
    sign: Mapping[str, Sequence[str]]
    says: Mapping[str, Sequence[str]]


def load_words() -> Mapping[str, Words]:
    """The replies of replies.toml by language."""
    raw = tomllib.loads((HERE / "replies.toml").read_text("utf-8"))
    groups = ("feeds", "wet_nappies", "dirty_nappies")
    return {
        code: Words(
            {key: each.get(key, {}) for key in groups}, each["no"], each["yes"], each["sign"], each["says"]
        )
        for code, each in raw.items()
    }


@dataclass
class World:
    """`days` is how long each mother is followed, counted from the day of birth."""

    content: Content
    texts: Texts
    lexicons: Mapping[str, Lexicon]
    assumed: Assumed
    site: Site
    days: int
    seed: int
    words: Mapping[str, Words] = field(default_factory=load_words)
    _readings: dict[tuple[str, tuple[str, ...], str], Reading] = field(default_factory=dict)
    _segments: dict[tuple[str, ...], int] = field(default_factory=dict)
    _needs: dict[tuple[str, str], tuple[str, ...]] = field(default_factory=dict)

    @cached_property
    def tz(self) -> ZoneInfo:
        return self.site.tz

    @cached_property
    def births(self) -> datetime:
        """The first midnight of the births."""
        return at_local(self.assumed.births.start, time(0), self.tz)

    @cached_property
    def _monday(self) -> datetime:
        first = self.assumed.births.start
        return datetime.combine(first - timedelta(days=first.weekday()), time(0))

    @cached_property
    def shifts(self) -> Shifts:
        return Shifts(self.assumed.staff.shifts, self.tz)

    @cached_property
    def languages(self) -> Weighted[str]:
        return Weighted(self.assumed.languages)

    @cached_property
    def onsets(self) -> Weighted[int]:
        """The day of life on which a feeding trouble begins."""
        return Weighted(dict(enumerate(self.assumed.trouble.onsets[: self.days + 1])))

    @cached_property
    def signs(self) -> Mapping[str, Weighted[str]]:
        """By language: the dangers that it has words for."""
        chosen = self.assumed.dangers.signs
        return {
            code: Weighted({sign: weight for sign, weight in chosen.items() if sign in self.words[code].sign})
            for code in self.assumed.languages
        }

    def minute(self, at: datetime) -> int:
        """The minute of the run's calendar, by the clock on the wall: 0 is midnight of a Monday."""
        return (at.astimezone(self.tz).replace(tzinfo=None) - self._monday) // _MINUTE

    def read(self, text: str, asking: Sequence[str], language: str) -> Reading:
        """What the reader makes of a reply: the same words asked the same are read once. The baby's age is
        not given, for it changes no reading."""
        key = text, tuple(asking), language
        found = self._readings.get(key)
        if found is None:
            found = read(text, asking, None, self.lexicons[language])
            if len(self._readings) < _MOST_KEPT:
                self._readings[key] = found
        return found

    def segments(self, key: str, language: str, values: Mapping[str, str]) -> int:
        """How many parts a text is paid for."""
        needs = self._needs.get((key, language))
        if needs is None:
            needs = self._needs[key, language] = tuple(sorted(self.texts.needs(key) | {"n"}))
        known = key, language, *[values.get(name, "") for name in needs]
        found = self._segments.get(known)
        if found is None:
            found = count(sendable(self.texts.render(key, language, values))).segments
            if len(self._segments) < _MOST_KEPT:
                self._segments[known] = found
        return found


_MINUTE = timedelta(minutes=1)
NAMES = sample_values

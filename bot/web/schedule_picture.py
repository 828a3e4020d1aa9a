"""The schedule as a picture: days since birth along the top, hours of the day downward, contacts as marks.

Plans of one invented pair come in; panels with everything placed go out, for a template to write as SVG.
Units are those of the viewBox. The table beside it says the same in words.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time

from bot.core.pair import Pair
from bot.core.plan import Planned, planned
from bot.core.plan_changes import How, PlanChange, compared
from bot.core.schedule import ContactKind, Schedule

WIDTH, TOP, LEFT, RIGHT = 340.0, 34.0, 30.0, 4.0
HOUR = 8.0  # height of an hour
HEIGHT = TOP + 24 * HOUR + 4
FIRST_DAYS = 9  # the first panel: days 0 to 8, where most contacts are


@dataclass(frozen=True, slots=True)
class Mark:
    """One contact at its place. `until` is where it comes for a mother who prefers the latest hour."""

    x: float
    y: float
    until: float
    shape: str  # check_in, advice or reminder
    ink: str  # same, new, old
    words: Planned
    was: tuple[float, float] | None  # where it stood before, for a moved one


@dataclass(frozen=True, slots=True)
class Panel:
    """A stretch of days. `reviews` are (x, old or new); `bands` of quiet hours are (y, height)."""

    first: int
    last: int
    size: float  # of a mark
    ticks: tuple[tuple[float, int], ...]
    edges: tuple[float, ...]
    bands: tuple[tuple[float, float], ...]
    old_bands: tuple[tuple[float, float], ...]
    hours: tuple[tuple[float, int], ...]
    reviews: tuple[tuple[float, str], ...]
    marks: tuple[Mark, ...]
    left: float
    right: float


def panels(
    before: tuple[Pair, Schedule], after: tuple[Pair, Schedule], *, flipped: bool
) -> tuple[Panel, ...]:
    """Give the picture: the first days wide, the rest to the last contact narrow.

    The pairs are the same but for their review, which each schedule books. `flipped` mirrors the days for
    scripts that run from right to left.
    """
    changes = compared(planned(*before), planned(*after))
    latest = {(c.key, c.occurrence): c for pair in (before, after) for c in _at_latest(*pair)}
    born = after[0].youngest.born_on
    end = max([FIRST_DAYS, *((c.shown.due_local.date() - born).days for c in changes)])
    spans = [(0, FIRST_DAYS - 1), (FIRST_DAYS, end)]
    drawn = [
        _Drawing(born, first, last, flipped).panel(changes, latest, before, after)
        for first, last in spans
        if last > first
    ]
    return tuple(drawn)


def _at_latest(pair: Pair, schedule: Schedule) -> list[Planned]:
    return planned(replace(pair, preferred_hour=23), schedule)


@dataclass(frozen=True, slots=True)
class _Drawing:
    born: date
    first: int
    last: int
    flipped: bool

    @property
    def _width(self) -> float:
        return (WIDTH - LEFT - RIGHT) / (self.last - self.first + 1)

    def _x(self, day: float) -> float:
        along = LEFT + (day - self.first) * self._width
        return round(WIDTH - along if self.flipped else along, 1)

    def _shows(self, on: date) -> bool:
        return self.first <= (on - self.born).days <= self.last

    def _place(self, contact: Planned) -> tuple[float, float]:
        day = (contact.due_local.date() - self.born).days
        return self._x(day + 0.5), _y(contact.due_local)

    def panel(
        self,
        changes: Sequence[PlanChange],
        latest: dict[tuple[str, int], Planned],
        before: tuple[Pair, Schedule],
        after: tuple[Pair, Schedule],
    ) -> Panel:
        days = range(self.first, self.last + 1)
        wide = len(days) <= 12
        every, size = (1, 5.5) if wide else (7, 4)
        old, new = before[1], after[1]
        quiet, was_quiet = _bands(new), _bands(old)
        return Panel(
            first=self.first,
            last=self.last,
            size=size,
            ticks=tuple((self._x(day + 0.5), day) for day in days if day % every == 0),
            edges=tuple(self._x(day) for day in days if day % every == 0 and day > self.first),
            bands=quiet,
            old_bands=was_quiet if was_quiet != quiet else (),
            hours=tuple((round(TOP + hour * HOUR, 1), hour) for hour in (6, 12, 18)),
            reviews=tuple(self._reviews(before[0], after[0])),
            marks=_apart([mark for change in changes for mark in self._marks(change, latest)], size),
            left=min(self._x(self.first), self._x(self.last + 1)),
            right=max(self._x(self.first), self._x(self.last + 1)),
        )

    def _reviews(self, before: Pair, after: Pair) -> list[tuple[float, str]]:
        found = []
        for pair, ink in ((before, "old"), (after, "new")):
            review = pair.expected_review
            if review is not None and self._shows(review.on_day):
                found.append((self._x((review.on_day - self.born).days + 0.5), ink))
        old_and_new_agree = len(found) == 2 and found[0][0] == found[1][0]
        return found[1:] if old_and_new_agree else found

    def _marks(self, change: PlanChange, latest: dict[tuple[str, int], Planned]) -> list[Mark]:
        marks = []
        old, new = change.before, change.after
        was = None
        if old is not None and change.how in (How.moved, How.gone) and self._shows(old.due_local.date()):
            was = self._place(old)
            marks.append(_mark(old, was, was[1], "old", None))
        if new is not None and self._shows(new.due_local.date()):
            place = self._place(new)
            late = latest.get((new.key, new.occurrence), new)
            same_day = late.due_local.date() == new.due_local.date()
            until = _y(late.due_local) if same_day else place[1]
            ink = "same" if change.how is How.same else "new"
            marks.append(_mark(new, place, until, ink, was))
        return marks


def _apart(marks: Sequence[Mark], size: float) -> tuple[Mark, ...]:
    """Move marks that would hide one another to the side."""
    placed: list[Mark] = []
    for mark in marks:
        while any(abs(mark.x - o.x) < 2 * size and abs(mark.y - o.y) < 2 * size for o in placed):
            mark = replace(mark, x=round(mark.x + 2 * size, 1))
        placed.append(mark)
    return tuple(placed)


def _mark(
    contact: Planned, place: tuple[float, float], until: float, ink: str, was: tuple[float, float] | None
) -> Mark:
    return Mark(*place, until, ContactKind(contact.kind).value, ink, contact, was)


def _y(at: datetime | time) -> float:
    return round(TOP + (at.hour + at.minute / 60) * HOUR, 1)


def _bands(schedule: Schedule) -> tuple[tuple[float, float], ...]:
    """The quiet hours as one or two bands of a day."""
    start, end = _y(schedule.quiet_from), _y(schedule.quiet_until)
    if start == end:
        return ()
    bottom = TOP + 24 * HOUR
    if start < end:
        return ((start, round(end - start, 1)),)
    return ((TOP, round(end - TOP, 1)), (start, round(bottom - start, 1)))

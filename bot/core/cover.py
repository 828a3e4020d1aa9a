"""Is anybody there? A site and an instant in; whether its inbox is read then, when next, whom to wake, and
which place takes her at this hour, out."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta

from bot.core.pair import Hours, OnCall, Place, Site

_DAY = timedelta(days=1)
# Nobody plans cover further ahead; a site that is never covered is asked for no later than this.
_LOOK_AHEAD = 14


def cover_of(site: Site) -> tuple[Hours, ...]:
    """Give the hours in which somebody reads the inbox; where none are set, those of the site itself."""
    return site.cover or (Hours(site.open_days, site.opens, site.closes),)


def is_covered(site: Site, at: datetime) -> bool:
    """Tell whether somebody reads the inbox. A closed day has no cover: in doubt somebody is woken."""
    return any(begins <= at < ends for begins, ends in _spells(site, at, 1))


def next_cover(site: Site, at: datetime) -> datetime | None:
    """Give the instant itself when it is covered, else when cover begins; None where none is planned."""
    spells = [(max(begins, at), ends) for begins, ends in _spells(site, at, _LOOK_AHEAD) if ends > at]
    return min((begins for begins, _ in spells), default=None)


def is_too_late(site: Site, at: datetime, due: timedelta) -> bool:
    """Tell whether what is due within `due` of `at` would be over before anybody reads the inbox."""
    begins = next_cover(site, at)
    return begins is None or begins > at + due


def _spells(site: Site, at: datetime, days: int) -> list[tuple[datetime, datetime]]:
    """The covered stretches that begin from the day before `at` on."""
    today = at.astimezone(site.tz).date()
    spells = []
    for day in (today + n * _DAY for n in range(-1, days + 1)):
        if day in site.closed_days:
            continue
        for hours in cover_of(site):
            if day.weekday() in hours.days:
                last = day if hours.until > hours.since else day + _DAY
                begins = datetime.combine(day, hours.since, site.tz)
                spells.append((begins.astimezone(at.tzinfo), datetime.combine(last, hours.until, site.tz)))
    return spells


def lacks(site: Site) -> tuple[str, ...]:
    """Name what a site must have before mothers rely on it: somebody to wake, and where to send her."""
    faults = []
    if not any(each.phone for each in site.on_call):
        faults.append("on_call: nobody's phone is on the list of whom a danger wakes")
    if not site.numbers.place_call and not any(place.call for place in site.places):
        faults.append("numbers.place_call: the place where a mother goes day or night has no number")
    return tuple(faults)


def woken_in_order(site: Site) -> tuple[OnCall, ...]:
    """Give whom a danger wakes, managers last."""
    return tuple(sorted(site.on_call, key=lambda each: each.manager))


def place_for(site: Site, extra: Mapping[str, str]) -> Place:
    """Give where she is sent, day or night: the place that serves where she lives, else the site's own.

    extra   `lives_at` and `nearest_facility` of the enrolment
    """
    where = [extra.get(key, "").strip().casefold() for key in ("nearest_facility", "lives_at")]
    for place in site.places:
        known = {place.name.casefold(), *(each.casefold() for each in place.near)}
        if any(word and word in known for word in where):
            return place
    numbers = site.numbers
    return Place(numbers.place, numbers.place_call, numbers.transport)

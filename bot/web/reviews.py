"""The reviews of a day: who is coming, who did not? One site, one day, in order of hour; fit to print."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from flask import Blueprint, render_template, request

from bot.core.pair import Site
from bot.core.plan import at_local
from bot.core.states import ReviewState, Urgency
from bot.store.views_reviews import Expected, Visit, expected_by_day, sites_seen, visits_on
from bot.web.formats import age_words, urgency_mark, urgency_word
from bot.web.parts import parts
from bot.web.security import viewer
from bot.web.words import _, lazy

pages = Blueprint("reviews", __name__)

DAY = timedelta(days=1)
FAR = 31 * DAY  # how far the buttons look for an open day
KINDS = {
    "first": lazy("First review"),
    "feeding_problem": lazy("After a feeding problem"),
    "weight_loss": lazy("To weigh again"),
    "low_weight": lazy("After low weight for age"),
    "follow_up": lazy("Seen again"),
}
STATES = {
    ReviewState.expected: "",
    ReviewState.attended: lazy("Came"),
    ReviewState.missed: lazy("Did not come"),
}


@dataclass(frozen=True, slots=True)
class Line:
    """One visit in words. `may_come` and `may_miss` say which buttons make sense now."""

    visit: Visit
    babies: tuple[str, ...]
    kind: str
    state: str
    mark: str
    urgency: str
    may_come: bool
    may_miss: bool


@pages.get("/reviews")
def page() -> str:
    """Show the list of a day."""
    now = parts().clock.now()
    with parts().store.read() as conn:
        sites = sites_seen(conn, viewer())
        site = next((each for each in sites if each.code == request.args.get("site")), None)
        site = site or (sites[0] if sites else None)
        if site is None:
            return render_template("reviews.html", site=None, sites=(), lines=())
        today = now.astimezone(site.tz).date()
        on_day = _day(request.args.get("day", ""), today)
        visits = visits_on(conn, viewer(), site.id, on_day)
        ahead = expected_by_day(conn, viewer(), site.id, today, today + 14 * DAY)
    lines = [_line(visit, site, on_day, now) for visit in visits]
    return render_template(
        "reviews.html",
        site=site,
        sites=sites,
        lines=lines,
        count=Counter(line.visit.state.value for line in lines),
        on_day=on_day,
        today=today,
        closed=not site.is_open(on_day),
        before=next_open_day(site, on_day, -1),
        after=next_open_day(site, on_day, 1),
        ahead=[(each, n) for each, n in sorted(ahead.items()) if each != on_day],
        printed=now,
        states=STATES,
    )


def next_open_day(site: Site, on_day: date, step: int) -> date | None:
    """Give the nearest open day after (step 1) or before (step -1) `on_day`, None when there is none near."""
    day = on_day + step * DAY
    while abs(day - on_day) <= FAR:
        if site.is_open(day):
            return day
        day += step * DAY
    return None


def may_be_missed(site: Site, on_day: date, visit_at: datetime, now: datetime) -> bool:
    """Tell whether a review can be called missed by now: its hour has come."""
    return on_day <= now.astimezone(site.tz).date() and visit_at <= now


def _day(asked: str, today: date) -> date:
    try:
        return date.fromisoformat(asked)
    except ValueError:
        return today


def _line(visit: Visit, site: Site, on_day: date, now: datetime) -> Line:
    due = at_local(on_day, visit.at or site.opens, site.tz)
    today = now.astimezone(site.tz).date()
    open_now = visit.state in (ReviewState.expected, ReviewState.missed)
    return Line(
        visit=visit,
        babies=tuple(_child(child, visit.babies, now, site) for child in visit.babies),
        kind=_(KINDS[visit.kind]),
        state=_(STATES[visit.state]) if STATES[visit.state] else "",
        mark=urgency_mark(visit.urgency) if visit.urgency else "",
        urgency=urgency_word(visit.urgency) if visit.urgency > Urgency.none else "",
        may_come=open_now and on_day <= today,
        may_miss=visit.state is ReviewState.expected and may_be_missed(site, on_day, due, now),
    )


def _child(child: Expected, all_: Sequence[Expected], now: datetime, site: Site) -> str:
    age = age_words(child, now, site.tz)
    if child.name:
        return f"{child.name}, {age}"
    return f"{_('baby %(n)s', n=child.ordinal)}, {age}" if len(all_) > 1 else age

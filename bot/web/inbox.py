"""The inbox: whom do I call next? What waits stands gravest first, and two people can't take the same."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID
from zlib import crc32
from zoneinfo import ZoneInfo

from flask import Blueprint, Response, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from bot.core.errors import Conflict, NotFound
from bot.core.follow import Content
from bot.core.follow.events import Take
from bot.core.states import Urgency
from bot.steps.inbox import act
from bot.steps.strangers import act_on_stranger
from bot.store import deaf
from bot.store.accounts import SiteName, sites_of
from bot.store.gateways import Denial, denials
from bot.store.views_inbox import Child, Item, Reason, count_open, open_items
from bot.store.views_record import missed
from bot.web.formats import MINUTE, clock_time, due_words, moment, span, urgency_mark, urgency_word
from bot.web.formats import age_words as age_of
from bot.web.language_names import tag_words
from bot.web.parts import parts
from bot.web.reasons import why
from bot.web.record_words import alarm_words
from bot.web.security import viewer
from bot.web.words import _, lazy

pages = Blueprint("inbox", __name__)

MOST = 300  # lines on one page; more are cut, and the page says so
SHOWN = {
    "todo": lazy("To do"),  # nobody's and mine
    "mine": lazy("Mine"),
    "waiting": lazy("Nobody's"),
    "all": lazy("All"),
}


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the inbox, in words. `words` are hers, the rest is ours."""

    id: str
    address: str
    urgency: str
    mark: str
    due: str
    late: bool
    words: str
    findings: tuple[tuple[str, str], ...]  # which of several babies, or ''; what holds
    who: str
    babies: tuple[tuple[str, str], ...]  # name, age
    site: str
    language: str
    holder: str
    asked: bool  # the holder asks the viewer to take it over
    mine: bool
    free: bool
    spoken: str
    later: str


@dataclass(frozen=True, slots=True)
class Listing:
    """A page of the inbox. `version` changes whenever anything that is shown does."""

    lines: tuple[Line, ...]
    now_mine: int
    waiting: int
    go_now: int
    cut: int
    version: int
    alarms: tuple[str, ...]  # why texts do not go out, or nothing is heard, at present
    behind: int  # pairs to catch up with after we were deaf


@pages.get("/inbox")
def page() -> str:
    """Show what waits."""
    with parts().store.read() as conn:
        sites = sites_of(conn, viewer())
    return render_template("inbox.html", **_context(sites))


@pages.get("/inbox/changes")
def changes() -> ResponseReturnValue:
    """Give the list anew, or 204 when it still reads as the page that has version `after`."""
    with parts().store.read() as conn:
        context = _context(sites_of(conn, viewer()))
    listing = context["listing"]
    if isinstance(listing, Listing) and request.args.get("after", type=int) == listing.version:
        return Response(status=204)
    return render_template("_inbox_list.html", **context)


@pages.post("/inbox/<uuid:item_id>/take")
def take(item_id: UUID) -> ResponseReturnValue:
    """Take an item in place. Who comes second is told who has it."""
    now = parts().clock.now()
    item = _one(item_id)
    if item is None:
        raise NotFound(_("This is not open any more. Somebody has closed it."))
    try:
        if item.enrolment is None:
            act_on_stranger(parts().store, viewer(), item.id, [Take()], now)
        else:
            act(parts().store, parts().content(), viewer(), item.enrolment, [Take()], now)
        who = item.mother or _("Unknown number")
        flash(_("Yours now: %(who)s. Put it back on its page if you can't call.", who=who))
    except Conflict:
        flash(_taken_words(_one(item_id) or item), "wrong")
    if request.headers.get("HX-Request"):
        with parts().store.read() as conn:
            return render_template("_inbox_list.html", told=True, **_context(sites_of(conn, viewer())))
    return redirect(url_for(".page", show=request.args.get("show"), site=request.args.get("site")))


def _one(item_id: UUID) -> Item | None:
    with parts().store.read() as conn:
        return next(iter(open_items(conn, viewer(), only=item_id)), None)


def _taken_words(item: Item) -> str:
    if item.taken_at is None:
        return _("Somebody was first. Look at the list again.")
    at = clock_time(item.taken_at, ZoneInfo(item.zone))
    return _("%(name)s took this at %(at)s. Ask them to hand it over.", name=item.taken_name, at=at)


def _context(sites: Sequence[SiteName]) -> dict[str, object]:
    show = request.args.get("show", "todo")
    show = show if show in SHOWN else "todo"
    code = request.args.get("site", "")
    chosen = next((site for site in sites if site.code == code), None)
    return {
        "listing": _listing(show, chosen.id if chosen else None),
        "show": show,
        "site": chosen.code if chosen else "",
        "sites": sites,
        "shown": SHOWN,
    }


def _listing(show: str, site: UUID | None) -> Listing:
    now, content, me = parts().clock.now(), parts().content(), viewer().staff_id
    with parts().store.read() as conn:
        items = open_items(conn, viewer(), limit=MOST)
        total = count_open(conn, viewer()) if len(items) == MOST else len(items)
        alarms = (*map(_alarm, denials(conn)), *map(_deaf, deaf.alarms(conn, now, parts().clock.machine())))
        behind = len(missed(conn, viewer()))
    here = [item for item in items if site is None or item.site in (site, None)]
    wanted = [item for item in here if _is_shown(item, show, me)]
    lines = tuple(_line(item, content, now, me) for item in wanted)
    return Listing(
        lines=lines,
        now_mine=sum(item.taken_by == me for item in here),
        waiting=sum(item.taken_by is None for item in here),
        go_now=sum(item.urgency is Urgency.go_now and item.spoken_at is None for item in here),
        cut=total - len(items),
        version=crc32(repr((lines, alarms, behind)).encode()),
        alarms=alarms,
        behind=behind,
    )


def _alarm(denial: Denial) -> str:
    """Say that a gateway denies us. Counsellors can't mend it, but must know that she hears nothing."""
    waits = span(max(parts().clock.machine() - denial.since, MINUTE))
    return _(
        "Texts by the gateway %(name)s have not gone out for %(span)s: it refuses our password or address. "
        "Tell whoever runs the service; until then, call.",
        name=denial.gateway,
        span=waits,
    )


def _deaf(alarm: deaf.Alarm) -> str:
    about_texts = alarm.what in ("unread", "no_replies")  # stamped with programme time
    now = parts().clock.now() if about_texts else parts().clock.machine()
    return alarm_words(alarm, span(max(now - alarm.since, MINUTE)))


def _is_shown(item: Item, show: str, me: UUID) -> bool:
    return {
        "todo": item.taken_by in (None, me) or item.offered_to == me,
        "mine": me in (item.taken_by, item.offered_to),
        "waiting": item.taken_by is None,
        "all": True,
    }[show]


def _line(item: Item, content: Content, now: datetime, me: UUID) -> Line:
    tz = ZoneInfo(item.zone)
    spoken = item.spoken_at is not None
    return Line(
        id=str(item.id),
        address=_address(item),
        urgency=urgency_word(item.urgency),
        mark=urgency_mark(item.urgency),
        due="" if spoken else due_words(item.due_at, now),
        late=not spoken and item.due_at < now,
        words=next((reason.words for reason in item.reasons if reason.words), ""),
        findings=tuple(_finding(reason, item.babies, content.at(item.site_code)) for reason in item.reasons),
        who=item.mother or _("Unknown number"),
        babies=tuple((child.name, age_of(child, now, tz)) for child in item.babies),
        site=item.site_name,
        language=tag_words(item.language),
        holder="" if item.taken_by in (None, me) else item.taken_name,
        asked=item.offered_to == me,
        mine=item.taken_by == me,
        free=item.taken_by is None,
        spoken=_("spoken to %(span)s ago", span=span(max(now - item.spoken_at, MINUTE)))
        if item.spoken_at
        else "",
        later=_("not before %(at)s", at=moment(item.not_before, tz))
        if item.not_before and item.not_before > now
        else "",
    )


def _address(item: Item) -> str:
    if item.enrolment is None:
        return url_for("stranger.page", item_id=item.id)
    return url_for("case.page", pair_id=item.enrolment)


def _finding(reason: Reason, babies: Sequence[Child], content: Content) -> tuple[str, str]:
    child = next((each for each in babies if each.ordinal == reason.baby), None)
    about = "" if child is None or len(babies) < 2 else child.name or _("baby %(n)s", n=child.ordinal)
    return about, why(content, reason.rule).words

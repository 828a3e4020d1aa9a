"""Before and after publishing: what a mother receives, whom it touches, the act itself, and every edition."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from bot.content.course import Stop, course, price
from bot.content.factory import load_factory
from bot.content.texts import is_right_to_left
from bot.core.errors import Conflict, Invalid
from bot.core.plan_changes import How, born_since, changed_contacts, changed_settings, compared
from bot.core.schedule import Schedule
from bot.steps import schedule as steps
from bot.steps.content import SCHEDULE, STANDARD, schedule_of
from bot.steps.schedule import Standing, stamp
from bot.steps.text_reviews import text_reviews
from bot.store.viewer import Role
from bot.store.views_schedule import Touched, published, touched
from bot.web.formats import moment
from bot.web.language_names import own_names, own_tags
from bot.web.parts import parts
from bot.web.review_words import review_words
from bot.web.schedule import WHO, both, chosen_pair, chosen_site, draft_words
from bot.web.schedule_words import change_words, settings_words, title
from bot.web.security import needs, viewer
from bot.web.words import _, language, lazy

pages = Blueprint("schedule_publish", __name__)

HOW = {
    How.same: "",
    How.added: lazy("New"),
    How.gone: lazy("No longer sent"),
    How.moved: lazy("Moved"),
    How.asks_otherwise: lazy("Asks otherwise"),
}


@dataclass(frozen=True, slots=True)
class Shown:
    """A contact of the course with what the draft does to it. `was` is when a moved one came before."""

    stop: Stop
    title: str
    how: str
    gone: bool
    was: datetime | None


@pages.get("/schedule/preview")
@needs(Role.manager)
def preview() -> str:
    """Show what an invented mother receives in one language, by day."""
    now = parts().clock.now()
    stands = steps.standing(parts().store, viewer(), now)
    site, who, hers = chosen_site(), chosen_pair(), _her_language()
    only = stands.draft is not None and request.args.get("show") == "changes"
    old, new = both(stands, site, hers, now, small=who == "small")
    texts = load_factory().texts
    before, after = course(*old, texts), course(*new, texts)
    return render_template(
        "schedule_preview.html",
        **draft_words(stands),
        shown=[each for each in _shown(before, after) if each.how or not only],
        only=only,
        before=price(before),
        after=price(after),
        site=site,
        who=who,
        whos=WHO,
        hers=hers,
        hers_dir="rtl" if is_right_to_left(hers) else "ltr",
        her_languages=own_tags(),
        said=_reviews(hers),
    )


@pages.get("/schedule/publish")
@needs(Role.manager)
def look() -> str:
    return _before_publishing("", {})


@pages.post("/schedule/publish")
@needs(Role.manager)
def publish() -> ResponseReturnValue:
    """Publish the draft that was looked at; it comes into force a day later."""
    why, seen = request.form.get("why", ""), request.form.get("seen", "")
    try:
        made = steps.publish(parts().store, viewer(), why, seen, parts().clock.now())
    except Invalid as refused:
        return _before_publishing(why, {each.field: _(each.message) for each in refused.problems}), 422
    except Conflict as conflict:
        return _before_publishing(why, {"": _(str(conflict))}), 409
    starts = moment(made.effective_from, chosen_site().tz)
    flash(_("Edition %(n)s is published. It comes into force on %(at)s.", n=made.number, at=starts))
    return redirect(url_for(".history"), 303)


@pages.get("/schedule/history")
@needs(Role.manager)
def history() -> str:
    """List every edition, newest first, with what it changed."""
    now = parts().clock.now()
    stands = steps.standing(parts().store, viewer(), now)
    with parts().store.read() as conn:
        editions = published(conn, viewer(), SCHEDULE, STANDARD)
    schedules = [schedule_of(each.edition) for each in editions]
    older: list[Schedule | None] = [*schedules[1:], None]
    rows = [
        (each, _difference(before, schedule), before is None)
        for each, schedule, before in zip(editions, schedules, older, strict=True)
    ]
    return render_template(
        "schedule_history.html", **draft_words(stands), rows=rows, zone=chosen_site().tz, now=now
    )


@pages.post("/schedule/take-back")
@needs(Role.manager)
def take_back() -> ResponseReturnValue:
    """Make an older edition the draft, to be published anew."""
    number = request.form.get("number", 0, type=int)
    steps.take_back(parts().store, viewer(), number, parts().clock.now())
    flash(_("Edition %(n)s is now the draft. Look at what it changes, then publish it.", n=number))
    return redirect(url_for(".look"), 303)


def _before_publishing(why: str, faults: dict[str, str]) -> str:
    now = parts().clock.now()
    stands = steps.standing(parts().store, viewer(), now)
    site = chosen_site()
    texts = load_factory().texts
    costs = []
    for code, name in own_names():
        old, new = both(stands, site, code, now, small=False)
        costs.append((name, price(course(*old, texts)), price(course(*new, texts))))
    old, new = both(stands, site, language(), now, small=False)
    before, after = course(*old, texts), course(*new, texts)
    return render_template(
        "schedule_publish.html",
        **draft_words(stands),
        touched=_touched(stands, now),
        costs=costs,
        differing=[each for each in _shown(before, after) if each.how],
        starts=moment(now + steps.AHEAD, site.tz),
        seen=stamp(stands.draft.body) if stands.draft else "",
        why=why,
        faults=faults,
        site=site,
    )


def _difference(before: Schedule | None, after: Schedule) -> list[str]:
    """Say what an edition changed against the one before, a line for each contact."""
    if before is None:
        return []
    contacts = [
        f"{title(spec)}: {'; '.join(change_words(change))}"
        for change in changed_contacts(before, after)
        if (spec := change.after or change.before) is not None
    ]
    return [*contacts, *settings_words(before, after)]


def _touched(stands: Standing, now: datetime) -> Touched:
    """Settings of the whole schedule may move any contact: then every pair counts."""
    changes = changed_contacts(stands.published, stands.drafted)
    since = born_since(changes, (now + steps.AHEAD).date())
    if changed_settings(stands.published, stands.drafted):
        since = date.min
    with parts().store.read() as conn:
        return touched(conn, viewer(), STANDARD, since)


def _shown(before: Sequence[Stop], after: Sequence[Stop]) -> list[Shown]:
    """Both courses in the order of the new one; what is no longer sent stands where it stood."""
    stops = {(stop.contact.key, stop.contact.occurrence): stop for stop in (*before, *after)}
    shown = []
    for change in compared([s.contact for s in before], [s.contact for s in after]):
        stop = stops[change.shown.key, change.shown.occurrence]
        was = change.before.due_local if change.how is How.moved and change.before else None
        how = _(HOW[change.how]) if HOW[change.how] else ""
        shown.append(Shown(stop, title(stop.contact.spec), how, change.how is How.gone, was))
    return shown


def _reviews(tag: str) -> Callable[[str], str]:
    """Give what says of a text that nobody has reviewed it; empty where somebody has."""
    with parts().store.read() as conn:
        review = text_reviews(conn, load_factory().texts)
    return lambda key: "" if review(key, tag).is_signed else review_words(review(key, tag), tag)


def _her_language() -> str:
    asked = request.args.get("language", language())
    known = load_factory().texts.tags
    return asked if asked in known else known[0]

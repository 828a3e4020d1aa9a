"""The schedule: what will she receive, when? As a picture and as a table, with what a draft changes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from bot.content.course import typical_pair
from bot.core.errors import NotFound
from bot.core.pair import Pair, Site
from bot.core.plan_changes import ContactChange, changed_contacts
from bot.core.schedule import ContactSpec, Schedule
from bot.steps import schedule as steps
from bot.steps.schedule import Standing
from bot.store.viewer import Role
from bot.store.views_reviews import sites_seen
from bot.store.views_schedule import staff_names
from bot.web.parts import parts
from bot.web.schedule_picture import panels
from bot.web.schedule_words import (
    KINDS,
    change_words,
    content_words,
    day_words,
    for_whom,
    hour_words,
    settings_words,
    title,
)
from bot.web.security import needs, viewer
from bot.web.words import _, direction, language, lazy

pages = Blueprint("schedule", __name__)

WHO = {"typical": lazy("A term baby that feeds well"), "small": lazy("A small or early baby, or twins")}


@dataclass(frozen=True, slots=True)
class Row:
    """A contact of the table, in words; `changes` against the newest edition."""

    spec: ContactSpec
    title: str
    day: str
    hour: str
    content: str
    whom: str
    changes: tuple[str, ...]


@pages.get("/schedule")
@needs(Role.manager)
def page() -> str:
    now = parts().clock.now()
    stands = steps.standing(parts().store, viewer(), now)
    site, who = chosen_site(), chosen_pair()
    flipped = direction(language()) == "rtl"
    return render_template(
        "schedule.html",
        **draft_words(stands),
        rows=rows_of(stands),
        settings=stands.drafted,
        panels=panels(*both(stands, site, language(), now, small=who == "small"), flipped=flipped),
        flipped=flipped,
        born=now.astimezone(site.tz).date(),
        titles={spec.key: title(spec) for spec in (*stands.published.contacts, *stands.drafted.contacts)},
        site=site,
        who=who,
        whos=WHO,
    )


@pages.post("/schedule/drop")
@needs(Role.manager)
def drop() -> ResponseReturnValue:
    """Forget the draft."""
    steps.drop(parts().store, viewer())
    flash(_("The draft is dropped. The schedule stands as it was published."))
    return redirect(url_for(".page"), 303)


@pages.post("/schedule/carry-over")
@needs(Role.manager)
def carry_over() -> ResponseReturnValue:
    """Put the draft's changes onto the edition that was published meanwhile."""
    steps.carry_over(parts().store, viewer(), parts().clock.now())
    flash(_("Your changes now stand on the newest edition. Look at them again before you publish."))
    return redirect(url_for(".page"), 303)


def draft_words(stands: Standing) -> Mapping[str, object]:
    """Give what the head of every page about the schedule says: what is in force, what the draft changes."""
    changes = changed_contacts(stands.published, stands.drafted)
    ids = [each for each in (stands.newest.by, stands.draft.by if stands.draft else None) if each]
    return {
        "stands": stands,
        "changes": [(title(_spec(each)), tuple(change_words(each)), each) for each in changes],
        "settings_changes": tuple(settings_words(stands.published, stands.drafted)),
        "names": _names(ids),
        "to_come": stands.newest.number != stands.in_force.number,
        "kinds": KINDS,
    }


def rows_of(stands: Standing) -> list[Row]:
    """Give every contact of the draft as a row."""
    changes = {each.key: each for each in changed_contacts(stands.published, stands.drafted)}
    return [_row(spec, changes.get(spec.key)) for spec in stands.drafted.contacts]


def chosen_site() -> Site:
    """Give the site at which the invented pair is looked at: the asked one, else the viewer's first."""
    with parts().store.read() as conn:
        sites = sites_seen(conn, viewer())
    if not sites:
        raise NotFound(_("No site is yours yet. A schedule is looked at with the hours of a site."))
    return next((each for each in sites if each.code == request.args.get("site")), sites[0])


def chosen_pair() -> str:
    asked = request.args.get("pair", "typical")
    return asked if asked in WHO else "typical"


def both(
    stands: Standing, site: Site, her_language: str, now: datetime, *, small: bool
) -> tuple[tuple[Pair, Schedule], tuple[Pair, Schedule]]:
    """Give the invented pair by the published schedule and by the draft: each books its own review."""
    return (
        (typical_pair(site, her_language, stands.published, now, small=small), stands.published),
        (typical_pair(site, her_language, stands.drafted, now, small=small), stands.drafted),
    )


def _row(spec: ContactSpec, change: ContactChange | None) -> Row:
    words = tuple(change_words(change)) if change else ()
    return Row(
        spec, title(spec), day_words(spec), hour_words(spec), content_words(spec), for_whom(spec), words
    )


def _spec(change: ContactChange) -> ContactSpec:
    spec = change.after or change.before
    assert spec is not None
    return spec


def _names(ids: list[UUID]) -> dict[UUID, str]:
    with parts().store.read() as conn:
        return staff_names(conn, viewer(), ids)

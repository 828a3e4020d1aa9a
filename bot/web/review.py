"""One review: what was seen and weighed comes in, what was found and the next review go out."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, time, timedelta
from typing import Any
from uuid import UUID

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from bot.core import growth
from bot.core.enrolment.babies import SIGNS
from bot.core.errors import Conflict, Invalid, NotFound
from bot.core.escalation import is_danger
from bot.core.follow.events import MoveReview
from bot.core.pair import Assessment, Baby, Pair, Review, Site
from bot.core.plan import at_local
from bot.core.states import EnrolmentState, ReviewState
from bot.core.young_infant import weights_before
from bot.steps.inbox import act, record_review
from bot.store.views_case import case_file
from bot.store.views_reviews import judged_at
from bot.web.formats import age_words, day
from bot.web.labels import answer_label, seen_label
from bot.web.parts import parts
from bot.web.review_form import Entry, assessment_id, read_entries
from bot.web.review_found import found_of
from bot.web.reviews import may_be_missed
from bot.web.security import person, viewer
from bot.web.story import baby_name
from bot.web.words import _, lazy

pages = Blueprint("review", __name__)

DAYS_OFFERED = 21
BOOKED = {
    "feeding_problem": lazy("Booked because of the feeding problem."),
    "weight_loss": lazy("Booked to weigh the baby again."),
    "low_weight": lazy("Booked because of the low weight for age."),
}
GROUPS = {"position": lazy("Position"), "attachment": lazy("Attachment")}


@pages.get("/pairs/<uuid:pair_id>/review/<uuid:review_id>")
def page(pair_id: UUID, review_id: UUID) -> ResponseReturnValue:
    pair, review = _load(pair_id, review_id)
    if review.state is ReviewState.attended:
        return redirect(url_for(".found", pair_id=pair_id, review_id=review_id))
    _may_be_recorded(pair, review, parts().clock.now())
    return _form(pair, review, {}, {})


@pages.post("/pairs/<uuid:pair_id>/review/<uuid:review_id>")
def record(pair_id: UUID, review_id: UUID) -> ResponseReturnValue:
    """Store that they came and what was seen, or show the form again with every fault."""
    now = parts().clock.now()
    pair, review = _load(pair_id, review_id)
    _may_be_recorded(pair, review, now)
    note = request.form.get("note", "").strip()
    entries, faults = read_entries(pair, request.form, now)
    if not faults and not note and not any(entry.says_something for entry in entries):
        faults[""] = _(
            "Nothing was seen and nothing weighed. Enter what you can, or write in the note why not."
        )
    if faults:
        return _form(pair, review, request.form, faults), 422
    seen = [_assessment(pair, review, entry, now) for entry in entries if entry.says_something]
    said = {entry.baby: entry.said for entry in entries if entry.said}
    try:
        record_review(
            parts().store, parts().content(), viewer(), pair.id, review.id, True, seen, note, now, said
        )
    except Conflict:
        pair, review = _load(pair_id, review_id)
        if review.state is not ReviewState.attended:
            raise
        flash(_("This review was recorded already; what was stored first stands below."), "wrong")
        return redirect(url_for(".found", pair_id=pair_id, review_id=review_id), 303)
    flash(_("Stored: %(who)s came.", who=pair.mother.name))
    return redirect(url_for(".found", pair_id=pair_id, review_id=review_id), 303)


@pages.post("/pairs/<uuid:pair_id>/review/<uuid:review_id>/missed")
def missed(pair_id: UUID, review_id: UUID) -> ResponseReturnValue:
    """Store that they did not come: a text to her and a call follow from it."""
    now = parts().clock.now()
    pair, review = _load(pair_id, review_id)
    due = at_local(review.on_day, review.at or pair.site.opens, pair.tz)
    if not may_be_missed(pair.site, review.on_day, due, now):
        raise Conflict(_("Its hour has not come yet. Wait, or move the review on the page of this pair."))
    after = record_review(parts().store, parts().content(), viewer(), pair.id, review.id, False, [], "", now)
    said = _("Stored: %(who)s did not come. She stands in the inbox for a call today.", who=pair.mother.name)
    if after.can_text():
        said += " " + _("A friendly text goes to her.")
    flash(said)
    return redirect(url_for("reviews.page", site=pair.site.code, day=review.on_day), 303)


@pages.get("/pairs/<uuid:pair_id>/review/<uuid:review_id>/found")
def found(pair_id: UUID, review_id: UUID, **given: Any) -> ResponseReturnValue:
    """Say what the review found, what to do now, and when they are seen again."""
    now = parts().clock.now()
    pair, review = _load(pair_id, review_id)
    content = parts().content().at(pair.site.code)
    if review.state is not ReviewState.attended:
        return redirect(url_for(".page", pair_id=pair_id, review_id=review_id))
    seen = assessments_of(pair, review)
    with parts().store.read() as conn:
        judged = judged_at(conn, viewer(), pair.id, seen[0].at) if seen else []
    return render_template(
        "review_found.html",
        pair=pair,
        review=review,
        found=[found_of(pair, each, judged, content, now) for each in seen],
        next=pair.expected_review,
        why_next=_(BOOKED.get(pair.expected_review.kind, "")) if pair.expected_review else "",
        texted=pair.can_text() and not is_danger(pair.open_escalation),
        days=_open_days(pair.site, pair.local(now).date()),
        closed=pair.state is EnrolmentState.closed,
        **given,
    )


@pages.post("/pairs/<uuid:pair_id>/review/<uuid:review_id>/next")
def book(pair_id: UUID, review_id: UUID) -> ResponseReturnValue:
    """Book or move the next review; she gets a text with the day."""
    form = request.form
    try:
        on_day = date.fromisoformat(form.get("on_day", ""))
        at = time.fromisoformat(form["at"]) if form.get("at") else None
    except ValueError:
        flash(_("Choose a day, and an hour or none."), "wrong")
        return redirect(url_for(".found", pair_id=pair_id, review_id=review_id), 303)
    try:
        move = MoveReview(on_day, at)
        act(parts().store, parts().content(), viewer(), pair_id, [move], parts().clock.now())
    except Invalid as fault:
        flash(" ".join(_(problem.message) for problem in fault.problems), "wrong")
    else:
        flash(_("Booked: %(day)s.", day=day(on_day)))
    return redirect(url_for(".found", pair_id=pair_id, review_id=review_id), 303)


def assessments_of(pair: Pair, review: Review) -> list[Assessment]:
    """Give what was seen at one review, by baby: their ids were made from the review's."""
    seen = [a for a in pair.assessments if a.id == assessment_id(review, a.baby, a.at)]
    return sorted(seen, key=lambda each: each.baby)


def _load(pair_id: UUID, review_id: UUID) -> tuple[Pair, Review]:
    with parts().store.read() as conn:
        pair = case_file(conn, viewer(), pair_id).pair
    review = next((each for each in pair.reviews if each.id == review_id), None)
    if review is None:
        raise NotFound(_("This review is not one of this pair's."))
    return pair, review


def _may_be_recorded(pair: Pair, review: Review, now: datetime) -> None:
    if review.state is ReviewState.cancelled:
        raise Conflict(_("This review was moved to another day. Record the one that stands now."))
    if review.on_day > pair.local(now).date():
        raise Conflict(_("This review is not today. If they came early, move it to today first."))


def _form(pair: Pair, review: Review, given: Mapping[str, str], faults: Mapping[str, str]) -> str:
    now = parts().clock.now()
    babies = [
        (baby, baby_name(pair, baby.ordinal), age_words(baby, now, pair.tz), _last(pair, baby, now))
        for baby in pair.living
    ]
    return render_template(
        "review_form.html",
        pair=pair,
        review=review,
        babies=babies,
        given=given,
        faults=faults,
        groups=[(_(GROUPS[group]), [f"{group}_{name}" for name in names]) for group, names in SIGNS.items()],
        label=lambda sign: seen_label(sign, "")[0],
        words=lambda seen: seen_label("", seen)[1],
        other_food=answer_label("other_food"),
        thrush=answer_label("thrush"),
        policy=parts().content().schedule.review,
    )


def _last(pair: Pair, baby: Baby, now: datetime) -> growth.Weight | None:
    """The weight that the scale is compared with at once, so that a slip is seen before it is stored."""
    known = weights_before(pair, baby, now)
    return max(known, key=lambda w: (w.on, not w.at_birth), default=None)


def _assessment(pair: Pair, review: Review, entry: Entry, now: datetime) -> Assessment:
    made = assessment_id(review, entry.baby, now)
    return Assessment(made, entry.baby, now, person().name, "review", entry.signs, entry.weight_g)


def _open_days(site: Site, today: date) -> list[date]:
    ahead = [today + timedelta(days=n) for n in range(1, DAYS_OFFERED + 1)]
    return [each for each in ahead if site.is_open(each)]

"""One review: what was seen and weighed comes in, what was found and the next review go out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any
from uuid import UUID

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from bot.content.counselling import Step, counselling, steps_for
from bot.core import growth
from bot.core.enrolment.babies import SIGNS
from bot.core.errors import Conflict, Invalid, NotFound
from bot.core.follow import Content
from bot.core.follow.events import MoveReview
from bot.core.pair import Assessment, Baby, Pair, Review, Site
from bot.core.plan import at_local
from bot.core.review import feeding_problems
from bot.core.states import EnrolmentState, ReviewState, Urgency
from bot.steps.inbox import act, record_review
from bot.store.views_case import case_file
from bot.store.views_reviews import Judged, judged_at
from bot.web.formats import age_words, day, urgency_mark, urgency_word
from bot.web.labels import seen_label
from bot.web.parts import parts
from bot.web.reasons import Why, why
from bot.web.review_form import Entry, assessment_id, read_entries, weights_before
from bot.web.reviews import may_be_missed
from bot.web.security import person, viewer
from bot.web.story import baby_name
from bot.web.words import _, lazy

pages = Blueprint("review", __name__)

DAYS_OFFERED = 21
GROUPS = {"position": lazy("Position"), "attachment": lazy("Attachment")}
PROBLEMS = {
    "not well positioned": lazy("not well positioned"),
    "not well attached": lazy("not well attached"),
    "not suckling effectively": lazy("not suckling effectively"),
    "other food or drink": lazy("other food or drink"),
}


@dataclass(frozen=True, slots=True)
class Found:
    """What a review found of one baby. A change is None where there is nothing to compare with."""

    name: str
    age: str
    weight_g: int | None
    since_birth: growth.Change | None
    since_last: growth.Change | None
    poor: tuple[str, ...]
    problems: tuple[str, ...]
    steps: tuple[Step, ...]
    urgency: str
    mark: str
    reasons: tuple[Why, ...]


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
    try:
        record_review(parts().store, parts().content(), viewer(), pair.id, review.id, True, seen, note, now)
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
    content, now = parts().content(), parts().clock.now()
    pair, review = _load(pair_id, review_id)
    if review.state is not ReviewState.attended:
        return redirect(url_for(".page", pair_id=pair_id, review_id=review_id))
    seen = assessments_of(pair, review)
    with parts().store.read() as conn:
        judged = judged_at(conn, viewer(), pair.id, seen[0].at) if seen else []
    return render_template(
        "review_found.html",
        pair=pair,
        review=review,
        found=[_found(pair, each, judged, content, now) for each in seen],
        next=pair.expected_review,
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
    )


def _last(pair: Pair, baby: Baby, now: datetime) -> growth.Weight | None:
    """The weight that the scale is compared with at once, so that a slip is seen before it is stored."""
    known = weights_before(pair, baby, now)
    return max(known, key=lambda w: (w.on, not w.at_birth), default=None)


def _assessment(pair: Pair, review: Review, entry: Entry, now: datetime) -> Assessment:
    made = assessment_id(review, entry.baby, now)
    return Assessment(made, entry.baby, now, person().name, "review", entry.signs, entry.weight_g)


def _found(pair: Pair, seen: Assessment, judged: Sequence[Judged], content: Content, now: datetime) -> Found:
    baby = next(each for each in pair.babies if each.ordinal == seen.baby)
    verdict = next((each for each in judged if each.baby == seen.baby), None)
    since_birth = since_last = None
    if seen.weight_g is not None:
        on = pair.local(seen.at).date()
        since_birth, since_last = growth.changes(weights_before(pair, baby, seen.at), seen.weight_g, on)
    answers = [a for a in pair.answers if a.baby in (None, baby.ordinal) and _recent(a.at, seen.at)]
    local = content.at(pair.site.code)
    problems = feeding_problems(seen, answers, content.schedule.review)
    urgency = verdict.urgency if verdict else Urgency.none
    return Found(
        name=baby_name(pair, baby.ordinal),
        age=age_words(baby, now, pair.tz),
        weight_g=seen.weight_g,
        since_birth=since_birth,
        since_last=since_last,
        poor=tuple(_poor(sign, value) for sign, value in seen.signs.items() if _is_poor(value)),
        problems=tuple(_(PROBLEMS.get(each, each)) for each in problems),
        steps=steps_for(seen.signs, counselling()),
        urgency=urgency_word(urgency) if urgency else "",
        mark=urgency_mark(urgency) if urgency else "",
        reasons=tuple(why(local, fired["rule"]) for fired in verdict.fired) if verdict else (),
    )


def _recent(said_at: datetime, at: datetime) -> bool:
    return timedelta(0) <= at - said_at < timedelta(days=2)


def _is_poor(value: str) -> bool:
    return value in ("no", "not_effective", "not_at_all")


def _poor(sign: str, value: str) -> str:
    name, words = seen_label(sign, value)
    return f"{name}: {words}"


def _open_days(site: Site, today: date) -> list[date]:
    ahead = [today + timedelta(days=n) for n in range(1, DAYS_OFFERED + 1)]
    return [each for each in ahead if site.is_open(each)]

"""Whom do I try to reach next, and how? The list of those whom texts do not reach, and what was tried."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from bot.core import chase as wanted
from bot.core.chase import Place
from bot.core.errors import Conflict, Invalid, NotFound, Problem
from bot.core.follow import events as act
from bot.core.pair import Attempt, Pair
from bot.core.states import ChaseState
from bot.steps.chase import ask_to_call
from bot.steps.inbox import act as do_all
from bot.store.accounts import SiteName, colleagues, sites_of
from bot.store.views_chase import count_on_the_list, on_the_list
from bot.web.chase_words import (
    DONE_WORDS,
    GIVEN_UP_WORDS,
    GROUND_WORDS,
    LEFT_WORDS,
    RISK_WORDS,
    attempt_words,
)
from bot.web.formats import MINUTE, age_words, moment, span
from bot.web.language_names import tag_words
from bot.web.parts import parts
from bot.web.security import viewer
from bot.web.story import baby_name
from bot.web.words import _, _n

pages = Blueprint("chase", __name__)

MOST = 200  # lines on one page; more are cut, and the page says so


@dataclass(frozen=True, slots=True)
class Second:
    """The second contact of a pair, and whether they may know what it is about."""

    name: str
    phone: str
    may_know: bool


@dataclass(frozen=True, slots=True)
class Line:
    """One pair of the list, in words."""

    pair: Pair
    mark: str
    since: str
    ground: str
    risks: tuple[str, ...]
    babies: tuple[tuple[str, str], ...]  # name, age
    language: str
    lives_at: str
    second: Second | None
    tried: tuple[str, ...]  # newest first
    left: tuple[str, ...]
    visit: Attempt | None
    late: bool
    may_visit: bool
    done: tuple[tuple[str, str], ...]  # what can be noted
    given_up: str  # who gave up and why
    mine: bool  # the viewer gave up: somebody else signs


@pages.get("/chase")
def page() -> str:
    """Show the list, by risk."""
    now, content = parts().clock.now(), parts().content()
    with parts().store.read() as conn:
        sites = sites_of(conn, viewer())
        chosen = _chosen(sites)
        pairs = on_the_list(conn, viewer(), chosen.id if chosen else None, MOST)
        total = count_on_the_list(conn, viewer(), chosen.id if chosen else None)
        staff = colleagues(conn, viewer())
    places = wanted.ranked(pairs, content.occasions, now)
    return render_template(
        "chase.html",
        lines=[_line(place, staff, now) for place in places],
        cut=total - len(places),
        some_can_be_texted=any(place.pair.can_text() for place in places),
        sites=sites,
        site=chosen.code if chosen else "",
        why_give_up=[("", _("choose")), *((code, _(words)) for code, words in GIVEN_UP_WORDS.items())],
    )


@pages.post("/chase/text")
def text() -> ResponseReturnValue:
    """Ask the chosen ones to call, each in her own language."""
    chosen = [UUID(each) for each in request.form.getlist("pair") if _is_id(each)]
    if not chosen:
        flash(_("Tick whom to text first."), "wrong")
        return _back(None)
    asked, left_out = ask_to_call(parts().store, parts().content(), viewer(), chosen, parts().clock.now())
    if asked:
        flash(_n("%(n)s is asked by text to call.", "%(n)s are asked by text to call.", asked))
    if left_out:
        flash(_n("%(n)s can't be texted now.", "%(n)s can't be texted now.", left_out), "wrong")
    return _back(None)


@pages.post("/chase/<uuid:pair_id>/<what>")
def note(pair_id: UUID, what: str) -> ResponseReturnValue:
    """Note one thing about one pair and lead back to where it was noted."""
    ask = _ACTS.get(what)
    if ask is None:
        raise NotFound(_("There is no such page, or it is not one that you may see."))
    try:
        action, said = ask(request.form)
        do_all(parts().store, parts().content(), viewer(), pair_id, [action], parts().clock.now())
        flash(said)
    except Invalid as error:
        for problem in error.problems:
            flash(_(problem.message), "wrong")
    except Conflict as error:
        flash(_(str(error)), "wrong")
    return _back(pair_id)


def _is_id(text: str) -> bool:
    try:
        UUID(text)
    except ValueError:
        return False
    return True


def _back(pair_id: UUID | None) -> ResponseReturnValue:
    if pair_id is not None and request.form.get("back") == "case":
        return redirect(url_for("case.page", pair_id=pair_id), 303)
    return redirect(url_for(".page", site=request.form.get("site") or None), 303)


def _chosen(sites: Sequence[SiteName]) -> SiteName | None:
    return next((site for site in sites if site.code == request.args.get("site")), None)


# ---------------------------------------------------------------- what can be noted

Form = Mapping[str, str]
Asked = tuple[act.Action, str]


def _done(form: Form) -> Asked:
    kind, _colon, result = form.get("done", "").partition(":")
    if (kind, result) not in DONE_WORDS:
        raise Invalid([Problem("done", _("Choose what was tried and what came of it."))])
    if result == "reached":
        said = _("Noted: she was spoken to, and is off the list.")
    else:
        said = _("Noted: %(what)s.", what=_(DONE_WORDS[kind, result]))
    if kind == "visit":
        return act.Visited(result), said
    return act.Tried("call" if kind == "call" else "second_contact", result), said


def _visit(form: Form) -> Asked:
    try:
        on_day = date.fromisoformat(form.get("visit_on", ""))
    except ValueError as error:
        raise Invalid([Problem("visit_on", _("Choose a day."))]) from error
    return act.PlanVisit(on_day, form.get("visit_who", "")[:80]), _("The visit is planned.")


def _give_up(form: Form) -> Asked:
    said = _("You give up on reaching them. They stay on the list until a second person signs.")
    return act.GiveUp(form.get("why", "")), said


def _sign(form: Form) -> Asked:
    return act.SignUnresolved(), _("Signed by two: they could not be reached, and are off the list.")


def _try_on(form: Form) -> Asked:
    return act.TryOn(), _("It goes on: they are to be reached.")


def _she_rang(form: Form) -> Asked:
    return act.SheRang(), _("Noted: she rang, and was spoken to. Enter what she said below.")


def _checked(form: Form) -> Asked:
    if not (form.get("name") and form.get("born")):
        raise Invalid([Problem("name", _("Tick both only when she has said both herself."))])
    return act.CheckedWho(), _("Noted: it is she who is on the line.")


_ACTS: Mapping[str, Callable[[Form], Asked]] = {
    "done": _done,
    "visit": _visit,
    "give-up": _give_up,
    "sign": _sign,
    "try-on": _try_on,
    "she-rang": _she_rang,
    "checked": _checked,
}


# ---------------------------------------------------------------- one line


def _line(place: Place, staff: Mapping[UUID, str], now: datetime) -> Line:
    pair, chase = place.pair, place.pair.open_chase
    assert chase is not None
    visit, second = wanted.planned_visit(pair), wanted.second_contact(pair)
    since = [each for each in pair.attempts if each.at >= chase.opened_at] or wanted.since_heard(pair)
    giver = staff.get(chase.given_up_by, _("a colleague")) if chase.given_up_by else ""
    given_up = _("%(name)s gives up: %(why)s", name=giver, why=_(GIVEN_UP_WORDS[chase.why])) if giver else ""
    return Line(
        pair=pair,
        mark="go-now" if "danger" in place.risks else "same-day" if place.risks else "routine",
        since=span(max(now - chase.opened_at, MINUTE)),
        ground=_(GROUND_WORDS[chase.ground]),
        risks=tuple(_(RISK_WORDS[risk]) for risk in place.risks),
        babies=tuple(
            (baby_name(pair, baby.ordinal), age_words(baby, now, pair.tz))
            for baby in pair.living or pair.babies
        ),
        language=tag_words(pair.mother.language),
        lives_at=pair.extra.get("lives_at", ""),
        second=Second(*second) if second else None,
        tried=tuple(f"{moment(each.done_at or each.at, pair.tz)}: {attempt_words(each)}" for each in since)[
            ::-1
        ],
        left=tuple(_(LEFT_WORDS[way]) for way in place.left),
        visit=visit,
        late=place.late,
        may_visit=wanted.may_visit(pair),
        done=_may_be_noted(pair, visit is not None, second is not None),
        given_up=given_up if chase.state is ChaseState.given_up else "",
        mine=chase.given_up_by == viewer().staff_id,
    )


def _may_be_noted(pair: Pair, visit: bool, second: bool) -> tuple[tuple[str, str], ...]:
    ways = {"call": pair.mother.phone is not None, "second_contact": second, "visit": visit}
    noted = ((f"{kind}:{result}", _(words)) for (kind, result), words in DONE_WORDS.items() if ways[kind])
    return ("", _("What was tried?")), *noted

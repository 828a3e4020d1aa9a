"""Enrolling at the bedside: one form for a phone in one hand, every fault at once, nothing typed is lost."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from uuid import uuid4

from flask import Blueprint, Response, flash, make_response, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from werkzeug.datastructures import MultiDict

from bot.content.factory import load_factory
from bot.core.enrolment import Fault
from bot.core.enrolment.babies import MOST_BABIES
from bot.steps.enrolment import Door, enrol, look_at
from bot.store.accounts import sites_of
from bot.web import enrol_words as words
from bot.web.enrol_form import MADE_UP, Form, babies_on, details, unanswered
from bot.web.language_names import latin_languages, own_names
from bot.web.parts import parts
from bot.web.security import person, viewer
from bot.web.words import _

pages = Blueprint("enrol", __name__)

HOURS = range(7, 20)  # to choose from; a schedule keeps its own quiet hours


@pages.get("/enrol")
def page() -> Response:
    """Show the empty form. It holds nobody's data, so a browser may keep what is typed into it."""
    begun = MultiDict({"key": f"{MADE_UP}{uuid4().hex[:12]}", "leaves": "now", "follow_up_by": "text"})
    answer = make_response(_form(begun, ()))
    answer.headers["Cache-Control"] = "private, no-cache"
    return answer


@pages.post("/enrol")
def save() -> ResponseReturnValue:
    """Store the pair, or show the form again with every fault; more room for babies changes nothing else."""
    form = request.form
    if "add" in form or "less" in form:
        return _form(_with_babies(form, 1 if "add" in form else -1), ())
    now, content, door = parts().clock.now(), parts().content(), _door()
    raw, open_questions = details(form, now, person().name), list(unanswered(form))
    if open_questions:
        found = look_at(parts().store, content, door, raw, now)
        return _refused(form, _with(found.faults, open_questions))
    done = enrol(parts().store, content, door, raw, now)
    if done.pair is None:
        return _refused(form, done.faults)
    if done.already:
        flash(_("Enrolled already under this number. Nothing was changed."))
    return _lead_to(url_for("ward.practice", pair_id=done.pair.id))


def _door() -> Door:
    return Door("form", viewer().sites, load_factory().texts.languages, parts().demo, viewer().staff_id)


def _with(faults: tuple[Fault, ...], more: list[Fault]) -> tuple[Fault, ...]:
    """Faults of the form stand for those that the same empty field would bring."""
    asked = {fault.field for fault in more}
    return (*(fault for fault in faults if fault.field not in asked), *more)


def _with_babies(form: Form, change: int) -> Form:
    changed = MultiDict(form)
    changed["babies"] = str(min(max(babies_on(form) + change, 1), MOST_BABIES))
    return changed


def _refused(form: Form, faults: tuple[Fault, ...]) -> ResponseReturnValue:
    # htmx shows an answer only if it is a good one; to a browser on its own the form is not stored: 422.
    return _form(form, faults), 200 if request.headers.get("HX-Request") else 422


def _lead_to(address: str) -> ResponseReturnValue:
    if request.headers.get("HX-Request"):
        return Response(status=204, headers={"HX-Redirect": address})
    return redirect(address, 303)


def _form(form: Form, faults: tuple[Fault, ...]) -> str:
    with parts().store.read() as conn:
        sites = sites_of(conn, viewer())
    order = {name: place for place, name in enumerate(words.FIELDS)}
    wrong = [fault for fault in faults if not fault.confirm]
    wrong.sort(key=lambda fault: (_baby_of(fault), order.get(fault.field, len(order))))
    asked = [fault for fault in faults if fault.confirm]
    return render_template("enrol/form.html", **_context(form, wrong, asked), sites=sites)


def _baby_of(fault: Fault) -> str:
    """Faults of the mother first, then those of each baby."""
    return fault.field[: len("babies.0")] if fault.field.startswith("babies.") else ""


def _context(form: Form, wrong: list[Fault], asked: list[Fault]) -> Mapping[str, Any]:
    shown = {fault.field for fault in asked}
    return {
        "form": form,
        "babies": babies_on(form),
        "most": MOST_BABIES,
        "words": words,
        "faults": {fault.field: words.words_of(fault) for fault in wrong},
        "asked": [(fault.field, words.words_of(fault)) for fault in asked],
        "confirmed": [name for name in form.getlist("confirmed") if name not in shown],
        "her_languages": own_names(),
        "latin_languages": latin_languages(),
        "hours": [(str(hour), f"{hour:02}:00") for hour in HOURS],
    }

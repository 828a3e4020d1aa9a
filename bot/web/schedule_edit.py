"""Editing a contact, and the settings of the whole schedule: forms come in, changes of the draft go out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from bot.content.factory import load_factory
from bot.content.schedule import schedule_to
from bot.core.errors import Conflict, Invalid, NotFound, Problem
from bot.core.schedule import Anchor, ContactKind, ContactSpec
from bot.steps import schedule as steps
from bot.steps.schedule import contact_of, settings_of, stamp
from bot.store.viewer import Role
from bot.web.formats import HOUR, MINUTE, number
from bot.web.labels import answer_label
from bot.web.parts import parts
from bot.web.schedule import draft_words
from bot.web.schedule_words import CLOCKS, CONDITIONS, DAYS_FROM, EVERYBODY, title, typed_time
from bot.web.security import needs, viewer
from bot.web.words import _

pages = Blueprint("schedule_edit", __name__)

MOST_QUESTIONS = 4
Form = Mapping[str, str]


@pages.get("/schedule/contacts/<key>")
@needs(Role.manager)
def contact(key: str) -> str:
    return _contact_form(key, {}, {})


@pages.post("/schedule/contacts/<key>")
@needs(Role.manager)
def keep_contact(key: str) -> ResponseReturnValue:
    """Keep a contact's new form in the draft, or show it again with every fault."""
    form, now = request.form, parts().clock.now()
    spec = _spec(key)
    values, faults = read_contact(form, spec)
    if not faults:
        try:
            steps.change_contact(parts().store, viewer(), key, values, form.get("seen", ""), now)
        except Invalid as refused:
            faults = by_field(refused.problems, f"contacts.{key}")
        except Conflict as conflict:
            faults = {"": _(str(conflict))}
    if faults:
        return _contact_form(key, form, faults), 422
    flash(_("Kept in the draft. Nothing changes for any mother until you publish."))
    return redirect(url_for("schedule.page", _anchor=f"c-{key}"), 303)


@pages.get("/schedule/settings")
@needs(Role.manager)
def settings() -> str:
    return _settings_form({}, {})


@pages.post("/schedule/settings")
@needs(Role.manager)
def keep_settings() -> ResponseReturnValue:
    """Keep new quiet hours, limits, hours of cover and review policy in the draft."""
    form, now = request.form, parts().clock.now()
    values, faults = read_settings(form)
    if not faults:
        try:
            steps.change_settings(parts().store, viewer(), values, form.get("seen", ""), now)
        except Invalid as refused:
            faults = by_field(refused.problems, "")
        except Conflict as conflict:
            faults = {"": _(str(conflict))}
    if faults:
        return _settings_form(form, faults), 422
    flash(_("Kept in the draft. Nothing changes for any mother until you publish."))
    return redirect(url_for("schedule.page"), 303)


def read_contact(form: Form, spec: ContactSpec) -> tuple[dict[str, Any], dict[str, str]]:
    """Give the fields of a contact as a schedule's file writes them, and by field what can't be read."""
    faults: dict[str, str] = {}
    clock = form.get("clock", "")
    values: dict[str, Any] = {
        "on": form.get("on") == "yes",
        "days": _whole(form, "days", faults),
        "at": form.get("at") or None if clock == "at" else None,
        "window": _window(form) if clock == "window" else None,
        "cover": clock == "cover",
        "hours": _amount(form, "hours", faults) if clock == "after" else 0,
        "valid_for_hours": _amount(form, "valid_for_hours", faults),
        "condition": form.get("condition") or None,
        "meaning": form.get("meaning", "").strip(),
        "source": form.get("source", "").strip(),
    }
    if not values["meaning"]:
        faults["meaning"] = _("Say what this contact is for.")
    if not values["source"]:
        faults["source"] = _("Say where it is from; if from nowhere: common practice, no source.")
    if clock == "at" and not form.get("at"):
        faults["at"] = _("Give the time of day.")
    if spec.kind is ContactKind.check_in:
        asked = [form.get(f"question_{n}", "") for n in range(1, MOST_QUESTIONS + 1)]
        values["questions"] = [each for each in asked if each]
        values["open_for_hours"] = _amount(form, "open_for_hours", faults)
    if spec.repeat is not None:
        repeat = {name: _whole(form, name, faults) for name in ("every_days", "until_days")}
        values["repeat"] = repeat
    return values, faults


def read_settings(form: Form) -> tuple[dict[str, dict[str, Any]], dict[str, str]]:
    """Give the sections of a schedule's file, and by field what can't be read."""
    faults: dict[str, str] = {}
    later = _whole(form, "later_hours", faults) if form.get("later_hours", "").strip() else None
    sections: dict[str, dict[str, Any]] = {
        "quiet": {"from": form.get("from", ""), "until": form.get("until", "")},
        "limits": {name: _whole(form, name, faults) for name in ("questions_first_week", "asking_a_day")},
        "cover": {
            name: _whole(form, name, faults) for name in ("minutes_after_opening", "minutes_before_closing")
        },
        "review": {
            name: _whole(form, name, faults)
            for name in (
                "target_hours",
                "latest_hours",
                "follow_up_days",
                "low_weight_days",
                "feeds_at_least",
            )
        }
        | {"later_hours": later},
    }
    for name, section in sections.items():
        section["source"] = form.get(f"{name}_source", "").strip()
        if not section["source"]:
            faults[f"{name}_source"] = _("Say where it is from; if from nowhere: common practice, no source.")
    return sections, faults


def by_field(problems: tuple[Problem, ...], here: str) -> dict[str, str]:
    """Lay out the faults of a schedule by the fields of a form; those of other contacts name them."""
    faults: dict[str, str] = {}
    for problem in problems:
        where, words = problem.field, _(problem.message)
        if here and (where == here or where.startswith(f"{here}.")):
            name = where.removeprefix(here).strip(".").split(".")[0]
        elif where.startswith("contacts."):
            key = where.split(".")[1]
            name, words = f"contact {key}", f"{_title(key)}: {words}"
        else:
            name = where.split(".", 1)[-1].replace("source", f"{where.split('.')[0]}_source")
        faults[name] = f"{faults[name]} {words}" if name in faults else words
    return faults


def _contact_form(key: str, form: Form, faults: Mapping[str, str]) -> str:
    stands = steps.standing(parts().store, viewer(), parts().clock.now())
    spec = _spec(key)
    held = form or fields_of(spec)
    questions = [q for q in load_factory().questions if q not in ("practice",)]
    return render_template(
        "schedule_contact.html",
        **draft_words(stands),
        spec=spec,
        title=title(spec),
        held=held,
        faults=faults,
        seen=stamp(contact_of(schedule_to(stands.drafted), key)),
        clocks=[(code, _(words)) for code, words in CLOCKS.items() if _fits(code, spec)],
        questions=[(q, answer_label(q)) for q in questions],
        most=MOST_QUESTIONS,
        conditions=[("", _(EVERYBODY)), *((each.value, _(words)) for each, words in CONDITIONS.items())],
        is_check_in=spec.kind is ContactKind.check_in,
        to_review=spec.anchor is Anchor.review,
        days_from=_(DAYS_FROM[spec.anchor]),
    )


def fields_of(spec: ContactSpec) -> dict[str, str]:
    """Give a contact as its form holds it."""
    clock = "at" if spec.at else "cover" if spec.cover else "window" if spec.window else "after"
    held = {
        "on": "yes" if spec.on else "",
        "days": str(spec.days),
        "clock": clock,
        "at": typed_time(spec.at),
        "start": typed_time(spec.window.start if spec.window else None),
        "end": typed_time(spec.window.end if spec.window else None),
        "hours": number(spec.hours),
        "valid_for_hours": number(spec.valid_for / HOUR),
        "open_for_hours": number(spec.open_for / HOUR),
        "condition": spec.condition.value if spec.condition else "",
        "meaning": spec.meaning,
        "source": spec.source,
    }
    if spec.repeat is not None:
        held |= {"every_days": str(spec.repeat.every_days), "until_days": str(spec.repeat.until_days)}
    return held | {f"question_{n}": question for n, question in enumerate(spec.questions, start=1)}


def _fits(clock: str, spec: ContactSpec) -> bool:
    """Only what hangs on an hour that is known can come so many hours after it."""
    return clock != "after" or spec.anchor is not Anchor.birth or fields_of(spec)["clock"] == "after"


def _settings_form(form: Form, faults: Mapping[str, str]) -> str:
    stands = steps.standing(parts().store, viewer(), parts().clock.now())
    drafted = stands.drafted
    policy = drafted.review
    held: Form = form or {
        "from": typed_time(drafted.quiet_from),
        "until": typed_time(drafted.quiet_until),
        "questions_first_week": str(drafted.max_questions_first_week),
        "asking_a_day": str(drafted.max_asking_a_day),
        "minutes_after_opening": str(drafted.cover_after_opening // MINUTE),
        "minutes_before_closing": str(drafted.cover_before_closing // MINUTE),
        "target_hours": str(policy.target_hours),
        "latest_hours": str(policy.latest_hours),
        "later_hours": str(policy.later_hours or ""),
        "follow_up_days": str(policy.follow_up_days),
        "low_weight_days": str(policy.low_weight_days),
        "feeds_at_least": str(policy.feeds_at_least),
        **{f"{name}_source": words for name, words in drafted.sources.items()},
    }
    seen = stamp(settings_of(schedule_to(drafted)))
    return render_template(
        "schedule_settings.html", **draft_words(stands), held=held, faults=faults, seen=seen
    )


def _spec(key: str) -> ContactSpec:
    stands = steps.standing(parts().store, viewer(), parts().clock.now())
    found = next((spec for spec in stands.drafted.contacts if spec.key == key), None)
    if found is None:
        raise NotFound(_("There is no such contact in the schedule."))
    return found


def _title(key: str) -> str:
    try:
        return title(_spec(key))
    except NotFound:
        return key


def _window(form: Form) -> dict[str, str]:
    return {"start": form.get("start", ""), "end": form.get("end", "")}


def _whole(form: Form, name: str, faults: dict[str, str]) -> int:
    typed = form.get(name, "").strip()
    if not typed.removeprefix("-").isdecimal():
        faults[name] = _("Write a whole number.")
        return 0
    return int(typed)


def _amount(form: Form, name: str, faults: dict[str, str]) -> float:
    typed = form.get(name, "").strip().replace(",", ".")
    if not typed.replace(".", "", 1).isdecimal():
        faults[name] = _("Write a number of hours, such as 6 or 0.5.")
        return 0
    value = float(typed)
    return int(value) if value.is_integer() else value

"""Trying a draft of the schedule: invented mothers live by what stands and by the draft, side by side."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from bot.cohort.figures import parts as figures_of
from bot.cohort.trial import DAYS, MOTHERS, Trial, begin, trial_of
from bot.core.errors import Conflict
from bot.steps.schedule import trial_request
from bot.store.viewer import Role
from bot.web.parts import parts
from bot.web.security import needs, viewer
from bot.web.words import _

pages = Blueprint("schedule_trial", __name__)


@pages.get("/schedule/trial")
@needs(Role.manager)
def page() -> str:
    """Show how far the trial of the draft is; `part` gives only what changes while one waits."""
    asked = _request()
    trial = trial_of(asked) if asked else None
    template = "_schedule_trial.html" if "part" in request.args else "schedule_trial.html"
    return render_template(template, trial=trial, rows=_rows(trial), mothers=MOTHERS, days=DAYS)


@pages.post("/schedule/trial")
@needs(Role.manager)
def start() -> ResponseReturnValue:
    asked = _request()
    if asked is None:
        raise Conflict("There is no draft to try. Change a contact first.")
    begin(asked)
    return redirect(url_for(".page"), 303)


def _request() -> dict[str, object] | None:
    return trial_request(parts().store, viewer(), parts().content().unsigned, parts().clock.now())


def _rows(trial: Trial | None) -> list[tuple[str, list[tuple[str, list[str], str]]]]:
    """By part: label, both values and the change, in the words of the reader."""
    if trial is None or not trial.outcomes:
        return []
    said = {"same": _("same"), "differs": _("differs")}
    return [
        (
            _(part.title),
            [(_(each.label), each.shown(), said.get(each.change, each.change)) for each in part.figures],
        )
        for part in figures_of(trial.outcomes)
    ]

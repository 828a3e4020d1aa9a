"""Whom we could not hear: after an outage one list, in the place of a wave of silences in the inbox."""

from __future__ import annotations

from uuid import UUID
from zoneinfo import ZoneInfo

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from bot.store.views_record import missed, seen
from bot.web.formats import moment
from bot.web.parts import parts
from bot.web.security import viewer
from bot.web.words import _

pages = Blueprint("catch_up", __name__)


@pages.get("/catch-up")
def page() -> str:
    """List them, longest first."""
    with parts().store.read() as conn:
        listed = [(each, moment(each.since, ZoneInfo(each.zone))) for each in missed(conn, viewer())]
    return render_template("catch_up.html", listed=listed)


@pages.post("/catch-up/<uuid:pair_id>")
def looked(pair_id: UUID) -> ResponseReturnValue:
    """Take one off: somebody has asked how they are."""
    with parts().store.write() as conn:
        seen(conn, viewer(), pair_id, parts().clock.now())
    flash(_("Off the list."))
    return redirect(url_for(".page"), 303)

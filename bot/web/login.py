"""Signing in and out, and the language of one's screens."""

from __future__ import annotations

from urllib.parse import urlsplit

from flask import Blueprint, flash, redirect, render_template, request, session, url_for
from flask.typing import ResponseReturnValue

from bot.content.staff_words import LANGUAGES
from bot.core.errors import NotAllowed
from bot.steps.sign_in import sign_in
from bot.store.accounts import set_language
from bot.web.parts import parts
from bot.web.security import begin_session, end_session, kept, machine_time, open_to_all, person
from bot.web.words import _

pages = Blueprint("login", __name__)


@pages.get("/")
def home() -> ResponseReturnValue:
    """Lead to where work begins."""
    return redirect(url_for("inbox.page"))


@pages.get("/login")
@open_to_all
def page() -> ResponseReturnValue:
    return render_template("login.html", next=request.args.get("next", ""), kept="")


@pages.post("/login")
@open_to_all
def enter() -> ResponseReturnValue:
    """Sign in; what a form sent after its session had ended is offered again."""
    login = request.form.get("login", "")
    after, held = request.form.get("next", ""), request.form.get("kept", "")
    try:
        account = sign_in(parts().store, login, request.form.get("password", ""), machine_time())
    except NotAllowed as error:
        return render_template("login.html", next=after, kept=held, login=login, wrong=_(str(error))), 403
    begin_session(account)
    found = kept(held) if held else None
    if found is not None:
        return render_template("kept.html", path=found["path"], fields=found["fields"])
    return redirect(after if _is_ours(after) else url_for("inbox.page"))


@pages.post("/logout")
def leave() -> ResponseReturnValue:
    end_session()
    flash(_("You are signed out."))
    return redirect(url_for("login.page"))


@pages.post("/language")
@open_to_all
def language() -> ResponseReturnValue:
    """Change the language of one's screens, for this and every later session."""
    chosen = request.form.get("language", "")
    if chosen in LANGUAGES and "staff" in session:
        with parts().store.write() as conn:
            set_language(conn, person().id, chosen)
    after = request.form.get("next", "")
    return redirect(after if _is_ours(after) else url_for("inbox.page"))


def _is_ours(address: str) -> bool:
    """Tell whether an address stays on this site: a path, with nothing that leads to another host."""
    split = urlsplit(address)
    inside = address.startswith("/") and not address.startswith(("//", "/\\"))
    return inside and not split.scheme and not split.netloc and "\\" not in address

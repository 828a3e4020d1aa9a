"""Errors as pages: what went wrong and what to do, in plain words."""

from __future__ import annotations

from flask import Flask, g, render_template, request
from werkzeug.exceptions import HTTPException

from bot.core.errors import Conflict, DunnockError, Invalid, NotAllowed, NotFound
from bot.web.words import _

_STATUS: tuple[tuple[type[DunnockError], int], ...] = (
    (NotFound, 404),
    (NotAllowed, 403),
    (Conflict, 409),
    (Invalid, 422),
)


def status_of(error: DunnockError) -> int:
    """Give the HTTP status that says the same as the error."""
    return next((status for kind, status in _STATUS if isinstance(error, kind)), 400)


def show_errors(app: Flask, csrf_error: type[Exception], http_error: type[Exception]) -> None:
    """Give every error a page."""
    app.register_error_handler(DunnockError, _ours)
    app.register_error_handler(csrf_error, _stale_form)
    app.register_error_handler(http_error, _http)


def _page(title: str, words: list[str], status: int) -> tuple[str, int]:
    if "person" not in g:
        g.person = None
    return render_template("error.html", title=title, words=words, back=request.referrer), status


def _ours(error: DunnockError) -> tuple[str, int]:
    titles = {
        404: _("Not here"),
        403: _("Not yours to do"),
        409: _("Somebody was first"),
        422: _("Not yet right"),
    }
    status = status_of(error)
    problems = error.problems if isinstance(error, Invalid) else ()
    words = [_(problem.message) for problem in problems] or [_(str(error))]
    return _page(titles.get(status, _("Not done")), words, status)


def _stale_form(error: Exception) -> tuple[str, int]:
    words = [
        _("This form did not come from a page of this browser's session, so nothing was changed."),
        _("Go back, load the page again, and send it once more."),
    ]
    return _page(_("Nothing was changed"), words, 400)


def _http(error: Exception) -> tuple[str, int]:
    assert isinstance(error, HTTPException)
    status = error.code or 500
    if status == 404:
        return _page(_("Not here"), [_("There is no such page, or it is not one that you may see.")], 404)
    if status >= 500:
        words = [_("The program failed; nothing of this step was stored. Try again; tell your manager.")]
        return _page(_("Something broke"), words, status)
    words = [_("The address or the form was not understood (%(n)s).", n=status)]
    return _page(_("This did not work"), words, status)

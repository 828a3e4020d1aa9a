"""Who may see a page: sessions with an idle time-out, forms that only our pages can send, strict headers.

Everything is closed to strangers unless its view is marked `open_to_all`, or its blueprint is one of the
doors for machines, which check their callers themselves.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from functools import wraps
from typing import Any, ParamSpec, TypeVar
from uuid import UUID

from flask import (
    Blueprint,
    Flask,
    Response,
    current_app,
    g,
    redirect,
    render_template,
    request,
    session,
    url_for,
)
from flask.typing import ResponseReturnValue
from flask_wtf.csrf import CSRFProtect
from itsdangerous import BadSignature, URLSafeTimedSerializer

from bot.store.accounts import Account, account_by_id
from bot.store.viewer import Role, Viewer
from bot.web.parts import parts

P = ParamSpec("P")
R = TypeVar("R")

csrf = CSRFProtect()

HEADERS = {
    "Content-Security-Policy": "default-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; "
    "frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}
_KEPT_SECONDS = 3600


def open_to_all(view: Callable[P, R]) -> Callable[P, R]:
    """Mark a view that strangers may ask for."""
    view.open_to_all = True  # type: ignore[attr-defined]
    return view


def needs(least: Role) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Let only a role that reaches `least` in; others get the page that says so."""

    def wrap(view: Callable[P, R]) -> Callable[P, R]:
        @wraps(view)
        def checked(*args: P.args, **kwargs: P.kwargs) -> R:
            viewer().needs(least)
            return view(*args, **kwargs)

        return checked

    return wrap


def viewer() -> Viewer:
    """Give who looks at this page."""
    return person().viewer


def person() -> Account:
    """Give the account of who looks at this page; only behind the guard."""
    found: Account = g.person
    return found


def guard(app: Flask, doors: tuple[Blueprint, ...]) -> None:
    """Close every page, load who asks, and send the headers with every answer."""
    csrf.init_app(app)
    for door in doors:
        csrf.exempt(door)
    for_machines = frozenset(door.name for door in doors) | {"openapi"}  # the API's description is public

    @app.before_request
    def _let_in() -> ResponseReturnValue | None:
        if request.blueprint in for_machines or request.endpoint == "static":
            return None
        g.person = _who()
        view = current_app.view_functions.get(request.endpoint or "")
        if g.person is not None or view is None or getattr(view, "open_to_all", False):
            return None
        return _ask_to_sign_in()

    @app.after_request
    def _with_headers(answer: Response) -> Response:
        for name, value in HEADERS.items():
            answer.headers.setdefault(name, value)
        if request.endpoint != "static":
            answer.headers.setdefault("Cache-Control", "no-store")
        if parts().https:
            answer.headers.setdefault("Strict-Transport-Security", "max-age=31536000")
        return answer


def begin_session(account: Account) -> None:
    """Sign somebody in. The token of the forms stays, so that a form opened before can still be sent."""
    session["staff"], session["epoch"] = str(account.id), account.epoch
    session["seen"] = _seconds()
    g.person = account


def end_session() -> None:
    """Forget everything about whoever used this browser."""
    session.clear()
    g.person = None


def _who() -> Account | None:
    if "staff" not in session:
        return None
    if _seconds() - session.get("seen", 0) > parts().idle.total_seconds():
        del session["staff"]
        return None
    with parts().store.read() as conn:
        account = account_by_id(conn, UUID(session["staff"]))
    if account is None or not account.active or account.epoch != session.get("epoch"):
        end_session()
        return None
    if not request.headers.get("X-Dunnock-Poll"):  # a page that refreshes itself is nobody at work
        session["seen"] = _seconds()
    return account


def _seconds() -> int:
    """Machine time: a session does not age with a demo's clock."""
    return int(parts().clock.machine().timestamp())


def _ask_to_sign_in() -> ResponseReturnValue:
    if request.method == "POST":
        whole_page = {"HX-Retarget": "body", "HX-Reswap": "innerHTML"}
        return render_template("login.html", kept=keep(), next=""), 401, whole_page
    if request.headers.get("HX-Request"):
        return Response(status=204, headers={"HX-Redirect": url_for("login.page")})
    return redirect(url_for("login.page", next=request.full_path.rstrip("?")))


def keep() -> str:
    """Seal what a form sent after its session ended, so that nothing written is lost by signing in again."""
    fields = [(name, value) for name, value in request.form.items(multi=True) if name != "csrf_token"]
    return _keeper().dumps({"path": request.path, "fields": fields})


def kept(text: str) -> dict[str, Any] | None:
    """Open what `keep` sealed; None when it is older than an hour or not ours."""
    try:
        found: dict[str, Any] = _keeper().loads(text, max_age=_KEPT_SECONDS)
    except BadSignature:
        return None
    return found


def _keeper() -> URLSafeTimedSerializer:
    return URLSafeTimedSerializer(parts().secret_key, salt="kept form")


def machine_time() -> datetime:
    """Give the machine's time, for sessions and attempts to sign in."""
    return parts().clock.machine().astimezone(UTC)

"""The doors for gateways: replies and delivery reports come in by signed POST, on disk before the answer.

200 with an empty body: stored, now or before, even if the body can't be read. Some gateways text out to the
mother whatever a hook answers, so there is nothing in it. 401: the signature is missing, wrong or old, and
nothing is stored. 404: no gateway of that name. 413: larger than any reply. 503: not stored, send it again.
"""

from __future__ import annotations

import logging
from collections.abc import Mapping
from datetime import datetime

from flask import Blueprint, Flask, Response, abort, request
from werkzeug.middleware.dispatcher import DispatcherMiddleware

from bot.clock import Clock
from bot.gateway.incoming import e164, read_reply, read_report
from bot.gateway.profile import Profile
from bot.gateway.signing import HEADERS, BadSignature, verify
from bot.store.intake import IncomingReply, IncomingReport, Intake, NotStored

log = logging.getLogger(__name__)

PREFIX = "/hooks"
_MOST_BYTES = 64 * 1024
# Looked up where WSGI keeps them: on this path even the walk through `request.headers` counts.
_IN_ENVIRON = {name: f"HTTP_{name.upper().replace('-', '_')}" for name in HEADERS}


def put_before(app: Flask, hooks: Blueprint) -> None:
    """Serve `hooks` by an application of their own in front of `app`, so that nothing of the pages (sessions,
    forms, headers for browsers) is done for a machine that only brings a text."""
    alone = Flask(__name__, static_folder=None)
    alone.register_blueprint(hooks, url_prefix="/")
    app.wsgi_app = DispatcherMiddleware(app.wsgi_app, {PREFIX: alone.wsgi_app})  # type: ignore[method-assign]


def create_hooks(intake: Intake, profiles: Mapping[str, Profile], clock: Clock) -> Blueprint:
    """Build the hooks of all gateways, by name."""
    hooks = Blueprint("hooks", __name__, url_prefix=PREFIX)

    def trusted(gateway: str) -> tuple[str, bytes]:
        """Give the id and the raw body of a hook that this gateway signed."""
        if gateway not in profiles:
            abort(404)
        request.max_content_length = _MOST_BYTES
        body = request.get_data(cache=False)
        try:
            given = {name: request.environ.get(key, "") for name, key in _IN_ENVIRON.items()}
            return verify(profiles[gateway].keys, given, body, clock.machine()), body
        except BadSignature as error:
            log.warning("a hook of %s was refused: %s", gateway, error)
            abort(401)

    @hooks.post("/<gateway>/replies")
    def replies(gateway: str) -> Response:
        hook_id, body = trusted(gateway)
        intake.reply(_reply(gateway, hook_id, body, clock.now()))
        return _taken()

    @hooks.post("/<gateway>/receipts")
    def receipts(gateway: str) -> Response:
        hook_id, body = trusted(gateway)
        intake.report(_report(gateway, hook_id, body, clock.now()))
        return _taken()

    @hooks.errorhandler(NotStored)
    def not_stored(_error: NotStored) -> Response:
        return Response(status=503, headers={"Retry-After": "5"})

    return hooks


def _reply(gateway: str, hook_id: str, body: bytes, now: datetime) -> IncomingReply:
    raw = body.decode("latin-1")
    reply = read_reply(body)
    if reply is None:
        return IncomingReply(gateway, _unnamed(hook_id), None, None, raw, now, now)
    key = reply.id or _unnamed(hook_id)
    phone = e164(reply.sender) or reply.sender
    received_at = min(reply.received_at or now, now)
    return IncomingReply(gateway, key, phone, reply.text, raw, received_at, now)


def _report(gateway: str, hook_id: str, body: bytes, now: datetime) -> IncomingReport:
    raw = body.decode("latin-1")
    report = read_report(body)
    if report is None:
        return IncomingReport(gateway, _unnamed(hook_id), "", "", raw, now)
    return IncomingReport(gateway, f"{report.ref} {report.state}", report.ref, report.state, raw, now)


def _unnamed(hook_id: str) -> str:
    """Give the key of a hook whose body names nothing: it stays the same when the hook is sent again."""
    return f"hook:{hook_id}"


def _taken() -> Response:
    return Response(status=200, mimetype="text/plain")

"""The doors for gateways: replies and delivery reports come in as the gateway's profile says, on disk before
the answer.

The profile's own answer, 200 with an empty body if it says nothing: stored, now or before, even if the body
can't be read. Some gateways text out to the mother whatever a hook answers, so there is nothing in it. 401:
we do not know who sends it, and nothing is stored. 404: no gateway of that name. 405: the gateway's hooks use
another method. 413: larger than any hook. 503: not stored, send it again.
"""

from __future__ import annotations

import logging
from collections.abc import Mapping
from datetime import datetime
from functools import lru_cache

from flask import Blueprint, Flask, Response, abort, request
from werkzeug.middleware.dispatcher import DispatcherMiddleware
from werkzeug.middleware.proxy_fix import ProxyFix

from bot.clock import Clock
from bot.gateway.incoming import Reply, Report, e164, read_replies, read_reports
from bot.gateway.places import Envelope
from bot.gateway.profile import Profile
from bot.gateway.signing import BadSignature
from bot.gateway.trust import check
from bot.gateway.wire import Hook
from bot.store.inbound import Kind
from bot.store.intake import IncomingReply, IncomingReport, Intake, NotStored

log = logging.getLogger(__name__)

PREFIX = "/hooks"
_MOST_BYTES = 256 * 1024
_BAD_METHOD = 405


def put_before(app: Flask, hooks: Blueprint, *, proxies: int = 0) -> None:
    """Serve `hooks` by an application of their own in front of `app`, so that nothing of the pages (sessions,
    forms, headers for browsers) is done for a machine that only brings a text.

    proxies  how many stand in front of us; the sender's address is what the outermost of them saw
    """
    alone = Flask(__name__, static_folder=None)
    alone.register_blueprint(hooks, url_prefix="/")
    served = ProxyFix(alone.wsgi_app, x_for=proxies, x_proto=0, x_host=0) if proxies else alone.wsgi_app
    app.wsgi_app = DispatcherMiddleware(app.wsgi_app, {PREFIX: served})  # type: ignore[method-assign]


def create_hooks(intake: Intake, profiles: Mapping[str, Profile], clock: Clock) -> Blueprint:
    """Build the hooks of all gateways, by name."""
    hooks = Blueprint("hooks", __name__, url_prefix=PREFIX)

    def trusted(gateway: str, door: str) -> tuple[Profile, Hook, Envelope, str]:
        """Give what a hook of this gateway brought, and the id it was signed with."""
        profile = profiles.get(gateway)
        wire = profile and (profile.wire.replies if door == "replies" else profile.wire.receipts)
        if not profile or not wire:
            abort(404)
        if request.method != wire.method:
            abort(_BAD_METHOD)
        hook = _envelope(door)
        try:
            return profile, wire, hook, check(profile, hook, clock.machine())
        except BadSignature as error:
            log.warning("a hook of %s was refused: %s", gateway, error)
            abort(401)

    @hooks.route("/<gateway>/replies", methods=["GET", "POST"])
    def replies(gateway: str) -> Response:
        profile, wire, hook, hook_id = trusted(gateway, "replies")
        now, found = clock.now(), read_replies(profile, hook)
        signed_as = f"hook:{hook_id}" if hook_id and len(found) == 1 else ""
        intake.take([_reply(profile, each, intake, hook, signed_as, now) for each in found])
        return _answer(wire)

    @hooks.route("/<gateway>/receipts", methods=["GET", "POST"])
    def receipts(gateway: str) -> Response:
        profile, wire, hook, hook_id = trusted(gateway, "receipts")
        now, found = clock.now(), read_reports(profile, hook)
        intake.take([_report(gateway, each, intake, hook, hook_id, now) for each in found])
        return _answer(wire)

    @hooks.errorhandler(NotStored)
    def not_stored(_error: NotStored) -> Response:
        return Response(status=503, headers={"Retry-After": "5"})

    return hooks


def _envelope(door: str) -> Envelope:
    request.max_content_length = _MOST_BYTES
    environ = request.environ
    headers = {
        name[5:].replace("_", "-").lower(): text for name, text in environ.items() if name[:5] == "HTTP_"
    }
    return Envelope(
        request.get_data(cache=False) if request.method == "POST" else b"",
        headers,
        environ.get("QUERY_STRING", "").encode("latin-1"),
        method=request.method,
        path=f"/{door}",
        address=environ.get("REMOTE_ADDR", ""),
    )


@lru_cache(maxsize=256)
def _header(name: str) -> str:
    return name.removeprefix("HTTP_").replace("_", "-").lower()


def _reply(
    profile: Profile,
    reply: Reply | None,
    intake: Intake,
    hook: Envelope,
    signed_as: str,
    now: datetime,
) -> IncomingReply:
    gateway = profile.name
    if reply is None:
        return IncomingReply(gateway, _unnamed(intake, hook, signed_as), None, None, hook.raw(), now, now)
    phone = e164(reply.sender, profile.region)
    received_at = min(reply.received_at or now, now)
    kind = Kind.missed_call if reply.missed_call else Kind.reply
    part = (reply.part.ref, reply.part.number, reply.part.total) if reply.part else None
    return IncomingReply(
        gateway,
        reply.id or _twin(reply, intake, signed_as),
        phone or reply.sender,
        reply.text,
        hook.raw(),
        received_at,
        now,
        kind if phone else Kind.no_number,
        part,
    )


def _twin(reply: Reply, intake: Intake, signed_as: str) -> str | None:
    """Without an id, the same words from the same sender at the same time are the same reply; so are those of
    a hook that is signed with an id of its own. Nothing else tells a second '8' from the first brought
    twice: both are kept."""
    if reply.received_at is not None:
        said = "\x1f".join((reply.sender, reply.text, reply.received_at.isoformat()))
        return f"same:{intake.fingerprint(said)}"
    return signed_as or None


def _report(
    gateway: str, report: Report | None, intake: Intake, hook: Envelope, hook_id: str, now: datetime
) -> IncomingReport:
    if report is None:
        signed_as = f"hook:{hook_id}" if hook_id else ""
        return IncomingReport(gateway, _unnamed(intake, hook, signed_as), "", "", hook.raw(), now)
    key = f"{report.ref} {report.state}"
    return IncomingReport(gateway, key, report.ref, report.state, hook.raw(), now, report.failure)


def _unnamed(intake: Intake, hook: Envelope, signed_as: str) -> str:
    """Give the key of a hook that can't be read: it stays the same when the hook is sent again."""
    return signed_as or f"body:{intake.fingerprint(hook.raw())}"


def _answer(wire: Hook) -> Response:
    answer = wire.answer
    return Response(answer.body, status=answer.status, content_type=answer.content_type)

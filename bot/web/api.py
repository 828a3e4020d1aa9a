"""The door for other systems: JSON in and out under /api/v1, a bearer token for each caller.

400: no JSON. 401: no such token. 422: refused, with every fault by field. The description at
/api/openapi.json is made in `api_schema`.
"""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any

from apiflask import APIBlueprint
from flask import Response, abort, g, jsonify, request
from flask.typing import ResponseReturnValue
from werkzeug.exceptions import HTTPException

from bot.content.factory import load_factory
from bot.core.enrolment import Fault
from bot.core.errors import DunnockError
from bot.steps.enrolment import Door, enrol, next_contact_at, review_at
from bot.store.tokens import viewer_of_token
from bot.store.viewer import Viewer
from bot.store.views_inbox import Item, open_items
from bot.web.errors import status_of
from bot.web.parts import parts

door = APIBlueprint("api", __name__, url_prefix="/api/v1", enable_openapi=False)

STATES = ("waiting", "taken")
MOST_LISTED = 5000


@door.before_request
def _let_in() -> ResponseReturnValue | None:
    scheme, _, token = request.headers.get("Authorization", "").partition(" ")
    found = None
    if scheme.lower() == "bearer" and token.strip():
        with parts().store.read() as conn:
            found = viewer_of_token(conn, token.strip())
    if found is None:
        answer = jsonify(error="A valid token is needed: send 'Authorization: Bearer TOKEN'.")
        answer.status_code, answer.headers["WWW-Authenticate"] = 401, "Bearer"
        return answer
    g.caller = found
    return None


@door.post("/enrolments")
def add_enrolment() -> ResponseReturnValue:
    """Enrol one mother: 201 stored, 200 stored before (and what differs), 422 refused."""
    now, content = parts().clock.now(), parts().content()
    caller = _caller()
    way = Door("api", caller.sites, load_factory().texts.languages, parts().demo, caller.staff_id)
    done = enrol(parts().store, content, way, _body(), now)
    if done.pair is None:
        return _refused(done.faults)
    answer: dict[str, Any] = {
        "id": str(done.pair.id),
        "next_contact_at": _instant(next_contact_at(done.pair, content.schedule, now)),
        "review_at": _instant(review_at(done.pair)),
    }
    return (answer | {"differs": list(done.differs)}, 200) if done.already else (answer, 201)


@door.get("/escalations")
def list_escalations() -> ResponseReturnValue:
    """List what is open at the caller's sites, gravest and longest first. Nothing that a mother wrote."""
    state = request.args.get("state", "waiting")
    if state not in STATES:
        return _refused((Fault("state", f"must be one of: {', '.join(STATES)}"),))
    with parts().store.read() as conn:
        items = open_items(conn, _caller(), limit=MOST_LISTED)
    return jsonify([_item(item) for item in items if _state(item) == state])


@door.errorhandler(DunnockError)
def _ours(error: DunnockError) -> ResponseReturnValue:
    return jsonify(error=str(error)), status_of(error)


@door.errorhandler(HTTPException)
def _http(error: HTTPException) -> ResponseReturnValue:
    return jsonify(error=error.description), error.code or 500


def _caller() -> Viewer:
    found: Viewer = g.caller
    return found


def _body() -> object:
    def no_number(word: str) -> object:
        raise ValueError(f"{word} is no number in JSON")

    try:
        return json.loads(request.get_data(cache=False), parse_constant=no_number)
    except (ValueError, RecursionError) as error:
        abort(400, f"The body is no JSON: {error}")


def _refused(faults: tuple[Fault, ...]) -> tuple[Response, int]:
    listed = [{"field": fault.field, "message": fault.message, "confirm": fault.confirm} for fault in faults]
    words = (
        "Nothing was stored. Mend the fields below; those with confirm may be named in 'confirmed' instead."
    )
    return jsonify(error=words, faults=listed), 422


def _item(item: Item) -> dict[str, object]:
    return {
        "id": str(item.id),
        "enrolment": str(item.enrolment) if item.enrolment else None,
        "urgency": item.urgency.name,
        "findings": [
            {"rule": reason.rule, "baby": reason.baby, "urgency": reason.urgency.name}
            for reason in item.reasons
        ],
        "due_at": item.due_at.isoformat(),
        "state": _state(item),
    }


def _state(item: Item) -> str:
    return "waiting" if item.taken_by is None else "taken"


def _instant(at: datetime | None) -> str | None:
    return at.isoformat() if at else None

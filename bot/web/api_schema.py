"""The description of the API (OpenAPI 3.1), made from the same bounds and words that the examination uses."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from apiflask import APIFlask

from bot.content.factory import load_factory
from bot.core.enrolment import babies as b
from bot.core.enrolment import examination as e
from bot.web.api import STATES

Schema = dict[str, Any]

_YES: Schema = {"type": "boolean"}
_INSTANT: Schema = {"type": "string", "format": "date-time"}
_WHEN = "ISO 8601; without an offset it is read in the zone of the site."


def describe(app: APIFlask) -> None:
    """Put the API's paths into the description that `app` gives."""

    @app.spec_processor
    def _with_api(spec: Schema | str) -> Schema | str:
        assert isinstance(spec, dict)
        spec.setdefault("paths", {}).update(_paths())
        schemes = spec.setdefault("components", {}).setdefault("securitySchemes", {})
        schemes["bearer"] = {"type": "http", "scheme": "bearer"}
        return spec


def _paths() -> Schema:
    return {
        "/api/v1/enrolments": {
            "post": {
                "operationId": "add_enrolment",
                "summary": "Enrol a mother and her babies; the same external_id may be sent again.",
                "security": [{"bearer": []}],
                "requestBody": {"required": True, "content": _json(enrolment())},
                "responses": {
                    "201": _answer("Stored.", _stored()),
                    "200": _answer("Stored before; nothing was changed.", _stored(differs=True)),
                    "422": _answer("Refused, with every fault.", _faults()),
                    **_common(),
                },
            }
        },
        "/api/v1/escalations": {
            "get": {
                "operationId": "list_escalations",
                "summary": "List what is open at the sites of the token, gravest and longest first.",
                "security": [{"bearer": []}],
                "parameters": [
                    {"name": "state", "in": "query", "schema": _one_of(STATES) | {"default": STATES[0]}}
                ],
                "responses": {
                    "200": _answer("The list.", {"type": "array", "items": _escalation()}),
                    "422": _answer("No such state.", _faults()),
                    **_common(),
                },
            }
        },
    }


def enrolment() -> Schema:
    """Give the schema of the discharge details."""
    agreed = ("texts", "calls", "second_contact", "home_visit", "research")
    consent = _object(dict.fromkeys(agreed, _YES) | {"taken_by": _text(100), "language": _text(40)})
    return _object(
        {
            "external_id": _text(64),
            "site": _text(64, "The code of the site."),
            "mother": _mother(),
            "babies": {"type": "array", "items": _baby(), "minItems": 1, "maxItems": b.MOST_BABIES},
            "discharged_at": _INSTANT | {"description": _WHEN},
            "consent": {"oneOf": [{"type": "boolean", "enum": [True]}, consent]},
            "preferred_hour": _whole(0, 23),
            "follow_up_by": _one_of(e.FOLLOW_UP_BY),
            "second_contact": _object(
                {"name": _text(100), "phone": _text(40), "may_know": _YES}, ("name", "phone")
            ),
            "lives_at": _text(200),
            "nearest_facility": _text(200),
            "feeding_plan": _text(300, "Holds for every baby without its own."),
            "confirmed": {
                "type": "array",
                "items": {"type": "string"},
                "description": "Fields with unusual facts that somebody has looked at again.",
            },
        },
        ("external_id", "site", "mother", "babies", "discharged_at", "consent"),
    )


def _mother() -> Schema:
    return _object(
        {
            "name": _text(100),
            "phone": _text(40, "National or international; empty only when follow_up_by is call or visit."),
            "language": _one_of(load_factory().texts.languages),
            "latin": _YES | {"description": "Her phone shows Latin letters only: texts are written in them."},
            "phone_shared": _YES | {"description": "Texts name nobody unless this is false."},
            "age": _whole(*e.AGE_YEARS),
            "parity": _whole(*e.PARITY),
            "birth_mode": _one_of(e.BIRTH_MODES, nullable=True),
            "risks": {"type": "array", "items": {"type": "string"}},
        },
        ("name", "language"),
    )


def _baby() -> Schema:
    seen = {group: _object(dict.fromkeys(signs, _one_of(b.SEEN))) for group, signs in b.SIGNS.items()}
    return _object(
        {
            "name": _text(100),
            "born_at": {
                "type": "string",
                "description": f"A date alone when the hour is not known, else a date and time. {_WHEN}",
            },
            "sex": _one_of(b.SEXES, nullable=True),
            "birth_weight_g": _whole(*b.WEIGHT_G),
            "gestation_weeks": {"type": ["number", "null"]}
            | dict(zip(("minimum", "maximum"), b.GESTATION_WEEKS, strict=True)),
            "place": _one_of(b.PLACES),
            "feeding_plan": _text(300),
            "assessment": _object(seen | {"suckling": _one_of(b.SUCKLING), "weight_g": _whole(*b.WEIGHT_G)}),
        },
        ("born_at",),
    )


def _stored(*, differs: bool = False) -> Schema:
    named: dict[str, Schema] = {
        "id": {"type": "string", "format": "uuid"},
        "next_contact_at": _or_null(_INSTANT),
        "review_at": _or_null(_INSTANT) | {"description": "Null where a person phones instead."},
    }
    if differs:
        named["differs"] = {"type": "array", "items": {"type": "string"}}
    return _object(named, named)


def _escalation() -> Schema:
    urgency = _one_of(("go_now", "same_day", "routine"))
    baby = {"type": ["integer", "null"], "description": "Which baby; null for the mother or pair."}
    finding: dict[str, Schema] = {"rule": {"type": "string"}, "baby": baby, "urgency": urgency}
    item: dict[str, Schema] = {
        "id": {"type": "string", "format": "uuid"},
        "enrolment": {"type": ["string", "null"], "format": "uuid"},
        "urgency": urgency,
        "findings": {"type": "array", "items": _object(finding, finding)},
        "due_at": _INSTANT,
        "state": _one_of(STATES),
    }
    return _object(item, item)


def _faults() -> Schema:
    fault: dict[str, Schema] = {
        "field": {"type": "string"},
        "message": {"type": "string"},
        "confirm": _YES | {"description": "True: naming the field in 'confirmed' accepts the fact."},
    }
    named: dict[str, Schema] = {
        "error": {"type": "string"},
        "faults": {"type": "array", "items": _object(fault, fault)},
    }
    return _object(named, named)


def _common() -> Schema:
    error = _object({"error": {"type": "string"}}, ("error",))
    return {"400": _answer("The body is no JSON.", error), "401": _answer("No valid token.", error)}


def _answer(words: str, schema: Schema) -> Schema:
    return {"description": words, "content": _json(schema)}


def _json(schema: Schema) -> Schema:
    return {"application/json": {"schema": schema}}


def _object(named: Mapping[str, Schema], needed: Iterable[str] = ()) -> Schema:
    made: Schema = {"type": "object", "properties": dict(named), "additionalProperties": False}
    return made | ({"required": list(needed)} if needed else {})


def _text(most: int, words: str = "") -> Schema:
    return {"type": "string", "maxLength": most} | ({"description": words} if words else {})


def _whole(low: int, high: int) -> Schema:
    return {"type": ["integer", "null"], "minimum": low, "maximum": high}


def _one_of(options: Iterable[str], *, nullable: bool = False) -> Schema:
    made: Schema = {"type": "string", "enum": list(options)}
    return _or_null(made) | {"enum": [*options, None]} if nullable else made


def _or_null(schema: Schema) -> Schema:
    return schema | {"type": [schema["type"], "null"]}

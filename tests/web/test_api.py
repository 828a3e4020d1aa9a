"""The door for other systems: who may call, what is stored and refused, whether its description is true."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime
from typing import Any

import pytest
from flask.testing import FlaskClient
from sqlalchemy import select
from werkzeug.test import TestResponse

from bot.store.tables import enrolment
from bot.store.tokens import add_token, revoke_token
from bot.store.viewer import Role
from bot.web.api_schema import enrolment as enrolment_schema
from tests.support.bedside import demo_app
from tests.support.discharges import ASSESSMENT, details
from tests.support.ward import Ward

Call = Callable[..., TestResponse]


@pytest.fixture
def client(ward: Ward) -> FlaskClient:
    return demo_app(ward).test_client()


def token_for(ward: Ward, *codes: str) -> str:
    with ward.store.write() as conn:
        return add_token(conn, "-".join(codes), Role.counsellor, [ward.sites[c].id for c in codes], ward.now)


@pytest.fixture
def post(ward: Ward, client: FlaskClient) -> Call:
    token = token_for(ward, "lakeside")

    def call(body: object) -> TestResponse:
        raw = body if isinstance(body, bytes) else json.dumps(body).encode()
        return client.post("/api/v1/enrolments", data=raw, headers={"Authorization": f"Bearer {token}"})

    return call


def raw(**changes: Any) -> dict[str, Any]:
    return details(mother__phone="+44 7700 900123", **changes)


def count(ward: Ward) -> int:
    with ward.store.read() as conn:
        return len(conn.execute(select(enrolment.c.id)).all())


def test_a_new_mother_gives_201_with_her_id_next_contact_and_review(ward, post):
    answer = post(raw())
    assert answer.status_code == 201
    assert set(answer.json) == {"id", "next_contact_at", "review_at"}
    assert datetime.fromisoformat(answer.json["next_contact_at"]).tzinfo is not None
    # Discharged on Tuesday 3 March, but enrolled on Thursday the 5th: the review is on the next open day.
    assert answer.json["review_at"] == "2026-03-06T14:00:00+03:00"
    assert count(ward) == 1


def test_the_same_external_id_again_gives_200_and_what_differs(ward, post):
    first = post(raw()).json
    again = post(raw())
    assert (again.status_code, again.json["id"], again.json["differs"]) == (200, first["id"], [])
    other = post(raw(mother__name="Halima"))
    assert (other.status_code, other.json["differs"]) == (200, ["mother.name"])
    assert count(ward) == 1


def test_every_fault_is_listed_by_field(ward, post):
    answer = post(raw(babies__0__birth_weight_g=90, mother__language="xx", colour="red"))
    assert answer.status_code == 422
    assert {fault["field"] for fault in answer.json["faults"]} == {
        "babies.0.birth_weight_g",
        "mother.language",
        "colour",
    }
    assert all(fault["message"] and fault["confirm"] is False for fault in answer.json["faults"])
    assert count(ward) == 0


def test_an_unusual_fact_says_that_it_can_be_confirmed(post):
    answer = post(raw(babies__0__birth_weight_g=1200))
    assert answer.status_code == 422
    assert [(fault["field"], fault["confirm"]) for fault in answer.json["faults"]] == [
        ("babies.0.birth_weight_g", True)
    ]
    assert post(raw(babies__0__birth_weight_g=1200, confirmed=["babies.0.birth_weight_g"])).status_code == 201


@pytest.mark.parametrize("header", [None, "Bearer", "Bearer wrong", "Basic abc", "wrong"])
def test_without_a_token_nothing_is_stored(ward, client, header):
    headers = {"Authorization": header} if header else {}
    answer = client.post("/api/v1/enrolments", json=raw(), headers=headers)
    assert (answer.status_code, answer.headers["WWW-Authenticate"]) == (401, "Bearer")
    assert count(ward) == 0


def test_a_revoked_token_is_no_token(ward, client):
    token = token_for(ward, "lakeside")
    with ward.store.write() as conn:
        revoke_token(conn, "lakeside", ward.now)
    answer = client.get("/api/v1/escalations", headers={"Authorization": f"Bearer {token}"})
    assert answer.status_code == 401


def test_a_token_enrols_at_its_own_sites_only(ward, client):
    headers = {"Authorization": f"Bearer {token_for(ward, 'coast')}"}
    answer = client.post("/api/v1/enrolments", json=raw(), headers=headers)
    assert answer.status_code == 422
    assert [fault["field"] for fault in answer.json["faults"]] == ["site"]


@pytest.mark.parametrize("body", [b"", b"{", b"\xff\xfe", b'{"a": NaN}', b"[" * 100_000])
def test_what_is_no_json_is_told_so(post, body):
    answer = post(body)
    assert answer.status_code == 400
    assert "no JSON" in answer.json["error"]


@pytest.mark.parametrize("body", [[], "text", 3, None, {}])
def test_json_that_is_no_enrolment_is_refused_with_its_faults(post, body):
    answer = post(body)
    assert answer.status_code == 422
    assert answer.json["faults"]


def test_what_waits_is_listed_at_the_token_s_sites_without_her_words(ward, client):
    pair = ward.enrol("Zainab")
    ward.writes(pair, "my baby is not feeding at all and is very hot")
    headers = {"Authorization": f"Bearer {token_for(ward, 'lakeside')}"}
    answer = client.get("/api/v1/escalations?state=waiting", headers=headers)
    assert answer.status_code == 200
    (item,) = answer.json
    assert set(item) == {"id", "enrolment", "urgency", "findings", "due_at", "state"}
    assert (item["enrolment"], item["urgency"], item["state"]) == (str(pair.id), "go_now", "waiting")
    assert item["findings"]
    assert "hot" not in json.dumps(answer.json).split('"rule"')[0]
    assert "not feeding at all" not in answer.text
    assert client.get("/api/v1/escalations?state=taken", headers=headers).json == []
    assert client.get("/api/v1/escalations?state=x", headers=headers).status_code == 422
    elsewhere = {"Authorization": f"Bearer {token_for(ward, 'coast')}"}
    assert client.get("/api/v1/escalations", headers=elsewhere).json == []


# ---- its description


def fits(value: Any, schema: dict[str, Any]) -> bool:
    """Whether a value is what the schema says: the parts of JSON Schema that ours uses."""
    if "oneOf" in schema:
        return sum(fits(value, each) for each in schema["oneOf"]) == 1
    kinds = schema["type"] if isinstance(schema["type"], list) else [schema["type"]]
    names: dict[str, Any] = {
        "object": dict,
        "array": list,
        "string": str,
        "boolean": bool,
        "null": type(None),
        "integer": int,
        "number": (int, float),
    }
    if not any(
        isinstance(value, names[kind]) and (kind == "boolean") == isinstance(value, bool) for kind in kinds
    ):
        return False
    if "enum" in schema and value not in schema["enum"]:
        return False
    if isinstance(value, dict):
        named = schema["properties"]
        return set(schema.get("required", ())) <= value.keys() <= named.keys() and all(
            fits(inner, named[name]) for name, inner in value.items()
        )
    if isinstance(value, list):
        return all(fits(inner, schema["items"]) for inner in value)
    if isinstance(value, int | float) and not isinstance(value, bool):
        return bool(schema.get("minimum", value) <= value <= schema.get("maximum", value))
    return True


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"babies__0__assessment": ASSESSMENT, "mother__age": 19, "mother__risks": ["first baby"]},
        {"consent": True, "babies__0__sex": None, "babies__0__birth_weight_g": None},
        {"babies__0__gestation_weeks": 32, "mother__birth_mode": None, "preferred_hour": None},
    ],
)
def test_what_the_description_allows_is_stored(post, changes):
    body = raw(**changes)
    assert fits(body, enrolment_schema())
    assert post(body).status_code == 201


@pytest.mark.parametrize(
    "changes",
    [
        {"colour": "red"},
        {"babies__0__birth_weight_g": 399},
        {"babies__0__birth_weight_g": 7001},
        {"babies__0__gestation_weeks": 45.1},
        {"mother__language": "xx"},
        {"babies__0__sex": "f"},
        {"consent": False},
        {"preferred_hour": 24},
        {"babies__0__assessment": {"suckling": "well"}},
    ],
)
def test_what_the_description_forbids_is_refused(post, changes):
    body = raw(**changes)
    assert not fits(body, enrolment_schema())
    assert post(body).status_code == 422


def test_answers_are_what_the_description_says(ward, client, post):
    spec = client.get("/api/openapi.json").json
    assert spec["openapi"].startswith("3.1")
    described = spec["paths"]["/api/v1/enrolments"]["post"]["responses"]

    def schema(status: int) -> Any:
        return described[str(status)]["content"]["application/json"]["schema"]

    for body in (raw(), raw(), raw(external_id="")):
        answer = post(body)
        assert fits(answer.json, schema(answer.status_code)), answer.json
    assert fits(client.post("/api/v1/enrolments").json, schema(401))
    assert fits(post(b"{").json, schema(400))
    ward.writes(ward.enrol("Zainab"), "my baby is not feeding at all")
    headers = {"Authorization": f"Bearer {token_for(ward, 'lakeside', 'coast')}"}
    listed = spec["paths"]["/api/v1/escalations"]["get"]["responses"]["200"]["content"]["application/json"]
    items = client.get("/api/v1/escalations", headers=headers).json
    assert items
    assert fits(items, listed["schema"])

"""Who gets in, for how long, and what keeps others out."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest

from tests.support.ward import PASSWORD, Visitor, Ward, csrf_of

Visit = Callable[[str], Visitor]


@pytest.mark.parametrize(
    "address", ["/inbox", "/inbox/changes?after=1", "/pairs/0197f0c4-7d5a-7000-8000-000000000000"]
)
def test_a_stranger_is_led_to_the_sign_in_page(ward: Ward, address: str) -> None:
    answer = ward.app().test_client().get(address)
    assert answer.status_code == 302
    assert answer.location.startswith("/login?next=")


def test_whoever_signs_in_comes_to_the_page_that_was_asked_for(ward: Ward) -> None:
    client = ward.app().test_client()
    token = csrf_of(client.get("/login?next=/inbox?show=all").text)
    data = {"login": "njeri", "password": PASSWORD, "csrf_token": token, "next": "/inbox?show=all"}
    assert client.post("/login", data=data).location == "/inbox?show=all"


@pytest.mark.parametrize("elsewhere", ["https://bad.example/", "//bad.example", "/\\bad.example", "inbox"])
def test_sign_in_never_leads_to_another_host(ward: Ward, elsewhere: str) -> None:
    client = ward.app().test_client()
    token = csrf_of(client.get("/login").text)
    data = {"login": "njeri", "password": PASSWORD, "csrf_token": token, "next": elsewhere}
    assert client.post("/login", data=data).location == "/inbox"


def test_login_and_password_must_belong_together(ward: Ward) -> None:
    visitor = Visitor(ward.app().test_client())
    assert visitor.sign_in("njeri", "some other long words") == 403
    assert visitor.sign_in("nobody", PASSWORD) == 403
    assert visitor.client.get("/inbox").status_code == 302


def test_five_failures_lock_a_login_for_a_quarter_of_an_hour(ward: Ward) -> None:
    visitor = Visitor(ward.app().test_client())
    for _ in range(5):
        assert visitor.sign_in("njeri", "wrong words, and many") == 403
    assert visitor.sign_in("njeri") == 403
    assert visitor.sign_in("otieno") == 302  # another login is not locked
    ward.machine += timedelta(minutes=15, seconds=1)
    assert visitor.sign_in("njeri") == 302


def test_a_success_forgets_the_failures_before_it(ward: Ward) -> None:
    visitor = Visitor(ward.app().test_client())
    for _ in range(4):
        visitor.sign_in("njeri", "wrong words, and many")
    ward.machine += timedelta(seconds=1)
    assert visitor.sign_in("njeri") == 302
    ward.machine += timedelta(seconds=1)
    for _ in range(4):
        visitor.sign_in("njeri", "wrong words, and many")
    assert visitor.sign_in("njeri") == 302


def test_a_session_that_rests_for_half_an_hour_is_over(ward: Ward, visit: Visit) -> None:
    njeri = visit("njeri")
    ward.machine += timedelta(minutes=29)
    njeri.page("/inbox")
    ward.machine += timedelta(minutes=29)
    njeri.page("/inbox")
    ward.machine += timedelta(minutes=31)
    njeri.page("/inbox", status=302)


def test_a_page_that_refreshes_itself_keeps_no_session_alive(ward: Ward, visit: Visit) -> None:
    njeri = visit("njeri")
    ward.machine += timedelta(minutes=20)
    assert njeri.client.get("/inbox/changes", headers={"X-Dunnock-Poll": "1"}).status_code == 200
    ward.machine += timedelta(minutes=20)
    njeri.page("/inbox", status=302)


def test_a_moved_demo_clock_ends_no_session(ward: Ward, visit: Visit) -> None:
    njeri = visit("njeri")
    ward.now += timedelta(days=2)
    njeri.page("/inbox")


def test_a_form_sent_after_the_session_ended_is_offered_again_after_sign_in(ward: Ward, visit: Visit) -> None:
    pair = ward.writes(ward.enrol("Amina"), "please call me")
    njeri = visit("njeri")
    token = csrf_of(njeri.page(f"/pairs/{pair.id}"))
    ward.machine += timedelta(hours=1)
    fields = {"csrf_token": token, "text": "I call at nine", "key": "k1"}
    answer = njeri.client.post(f"/pairs/{pair.id}/write", data=fields)
    assert answer.status_code == 401
    kept = answer.text.split('name="kept" value="', 1)[1].split('"', 1)[0]
    data = {"login": "njeri", "password": PASSWORD, "csrf_token": csrf_of(answer.text), "kept": kept}
    offered = njeri.client.post("/login", data=data)
    assert 'action="/pairs/' in offered.text
    assert "I call at nine" in offered.text


def test_a_form_without_its_token_changes_nothing(ward: Ward, visit: Visit) -> None:
    pair = ward.writes(ward.enrol("Amina"), "please call me")
    njeri = visit("njeri")
    answer = njeri.client.post(f"/pairs/{pair.id}/take", data={})
    assert answer.status_code == 400
    assert "nothing was changed" in answer.text
    item = ward.load(pair.id).open_escalation
    assert item is not None
    assert item.taken_by is None


def test_every_page_forbids_foreign_and_inline_code(ward: Ward, visit: Visit) -> None:
    pair = ward.writes(ward.enrol("Amina"), "feeds 5", asking=["feeds"])
    njeri = visit("njeri")
    for address in ("/login", "/inbox", f"/pairs/{pair.id}"):
        answer = njeri.client.get(address)
        policy = answer.headers["Content-Security-Policy"]
        assert "default-src 'self'" in policy
        assert "unsafe" not in policy
        assert answer.headers["Cache-Control"] == "no-store"
        assert " style=" not in answer.text
        assert "<style" not in answer.text
        assert " onclick" not in answer.text


def test_the_language_of_the_screens_is_remembered_with_the_account(ward: Ward, visit: Visit) -> None:
    njeri = visit("njeri")
    assert '<html lang="en" dir="ltr">' in njeri.page("/inbox")
    njeri.sends("/language", "/inbox", language="ar", next="/inbox")
    assert '<html lang="ar" dir="rtl">' in visit("njeri").page("/inbox")


def test_signing_out_ends_the_session(ward: Ward, visit: Visit) -> None:
    njeri = visit("njeri")
    njeri.sends("/logout", "/inbox")
    njeri.page("/inbox", status=302)


def test_health_pages_need_no_sign_in_and_hold_no_names(ward: Ward) -> None:
    ward.writes(ward.enrol("Amina"), "please call me")
    client = ward.app().test_client()
    assert client.get("/healthz").status_code == 200
    assert client.get("/readyz").status_code == 200
    metrics = client.get("/metrics").text
    assert 'dunnock_waiting{kind="escalation_same_day"} 1.0' in metrics
    assert "Amina" not in metrics

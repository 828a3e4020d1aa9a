"""From the warning to the arrival on the screens: case, inbox, the end of a shift, a tap on an alert."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from uuid import uuid4

import pytest
from sqlalchemy import select

from bot.core.pair import Episode, OnCall, Pair, Place
from bot.core.states import EpisodeState, EscalationState, MessageState, Urgency
from bot.store import pulse, record
from bot.store.sites import change_site
from bot.store.tables import alert, event_log, message
from tests.support.ward import Visitor, Ward, csrf_of

Visit = Callable[[str], Visitor]
WARD = OnCall("Ward phone", "+447700900910")
HEAD = OnCall("Head", "+447700900911", manager=True)


@pytest.fixture
def night(ward: Ward) -> Ward:
    """The ward with two people on call, and a place nearer to where some live."""
    clinic = Place("Reed Bridge Clinic", "+447700900920", near=("Reed Bridge",))
    site = replace(ward.sites["lakeside"], on_call=(WARD, HEAD), places=(clinic,))
    with ward.store.write() as conn:
        ward.sites["lakeside"] = change_site(conn, site)
    return ward


@pytest.fixture
def danger(night: Ward) -> Pair:
    return night.writes(night.enrol("Amina"), "he is very hot and will not wake")


def episode_of(ward: Ward, pair: Pair) -> Episode:
    return ward.load(pair.id).episodes[-1]


def test_the_case_shows_the_way_to_help_and_who_was_woken(danger: Pair, visit: Visit) -> None:
    page = visit("njeri").page(f"/pairs/{danger.id}")
    assert "On the way to help" in page
    assert "She was told by text to go now." in page
    assert "Sent to:" in page
    assert "Ward phone: a danger; woken, no answer yet" in page or "follows if nobody has it by then" in page


def test_what_a_person_learns_moves_the_episode_and_only_an_outcome_ends_it(
    night: Ward, danger: Pair, visit: Visit
) -> None:
    njeri, case = visit("njeri"), f"/pairs/{danger.id}"
    status, page = njeri.sends(f"{case}/going", case, going="cannot")
    assert status == 422
    assert "Choose what keeps her from going." in page
    njeri.sends(f"{case}/going", case, going="cannot", hindrance="transport")
    assert episode_of(night, danger).state is EpisodeState.cannot
    assert "No money or no transport." in njeri.page(case)
    njeri.sends(f"{case}/going", case, going="on_the_way")
    njeri.sends(f"{case}/spoke", case)
    njeri.sends(f"{case}/going", case, going="arrived")
    assert episode_of(night, danger).state is EpisodeState.arrived

    status, page = njeri.sends(f"{case}/close", case, found="advice_given")
    assert status == 422
    assert "Say how the danger ended." in page
    assert episode_of(night, danger).closed_at is None
    njeri.sends(f"{case}/close", case, found="advice_given", outcome="admitted")
    ended = episode_of(night, danger)
    assert (ended.state, ended.outcome, ended.closed_by) == (
        EpisodeState.closed,
        "admitted",
        night.staff["njeri"],
    )
    assert "Admitted" in njeri.page(case)


def test_closing_without_a_word_to_her_needs_a_reason_under_a_name(
    night: Ward, danger: Pair, visit: Visit
) -> None:
    njeri, case = visit("njeri"), f"/pairs/{danger.id}"
    status, page = njeri.sends(f"{case}/close", case, found="advice_given", outcome="stood_down")
    assert status == 422
    assert "Say why this is closed all the same." in page
    why = "Her sister stands here with them."
    njeri.sends(f"{case}/close", case, found="advice_given", outcome="stood_down", note=why)
    assert night.load(danger.id).escalations[-1].note == why


def test_a_danger_can_not_be_put_off_and_another_item_can(night: Ward, danger: Pair, visit: Visit) -> None:
    njeri = visit("njeri")
    assert "Look at it again later" not in njeri.page(f"/pairs/{danger.id}")
    case = f"/pairs/{danger.id}"
    page = njeri.sends(f"{case}/put-off", case, later="3h", why="call_again")[1]
    assert "This says go now: it can&#39;t be put off." in page

    milder = night.writes(night.enrol("Zuri"), "please call me")
    case = f"/pairs/{milder.id}"
    assert njeri.sends(f"{case}/put-off", case, later="", why="call_again")[0] == 422
    njeri.sends(f"{case}/put-off", case, later="3h", why="call_again")
    item = night.load(milder.id).open_escalation
    assert item is not None
    assert item.not_before == night.now + timedelta(hours=3)
    assert "not before" in njeri.page("/inbox")


def test_a_shift_ends_when_somebody_has_accepted_each_item(night: Ward, danger: Pair, visit: Visit) -> None:
    njeri, otieno = visit("njeri"), visit("otieno")
    other = night.writes(night.enrol("Zuri"), "please call me")
    for pair in (danger, other):
        njeri.sends(f"/pairs/{pair.id}/take", f"/pairs/{pair.id}")
    assert "End my shift" in njeri.page("/inbox")
    items = [night.load(pair.id).escalations[-1].id for pair in (danger, other)]
    status, page = njeri.sends("/shift", "/shift", **{f"to-{items[0]}": str(night.staff["salma"])})
    assert status == 422
    assert "Choose to whom you hand it over." in page

    page = njeri.sends("/shift", "/shift", **{f"to-{items[0]}": str(night.staff["otieno"])})[1]
    assert "1 is asked of a colleague." in page
    assert "1 is still yours alone." in page
    assert night.load(danger.id).escalations[-1].taken_by == night.staff["njeri"]
    assert "asks you to take it over" in otieno.page("/inbox")
    otieno.sends(f"/pairs/{danger.id}/accept", f"/pairs/{danger.id}")
    assert night.load(danger.id).escalations[-1].taken_by == night.staff["otieno"]
    assert str(items[0]) not in njeri.page("/shift")


def alert_link(ward: Ward) -> str:
    with ward.store.read() as conn:
        first = conn.scalars(select(alert.c.id).order_by(alert.c.step)).first()
    assert first is not None
    return f"/a/{ward.store.sealer.link_token('alert', first)}"


def test_a_tap_says_i_have_it_and_wakes_nobody_else(night: Ward, danger: Pair) -> None:
    phone = night.app().test_client()
    link = alert_link(night)
    page = phone.get(link)
    assert page.status_code == 200
    assert "Lakeside Hospital" in page.text
    assert "Amina" not in page.text
    assert queued_alerts(night) == 2  # opening the page alone heeds nothing: previews open links, too

    answer = phone.post(link, data={"csrf_token": csrf_of(page.text)})
    assert "Somebody has it." in answer.text
    assert queued_alerts(night) == 0
    item = night.load(danger.id).open_escalation
    assert item is not None
    assert (item.state, item.spoken_at) == (EscalationState.waiting, None)  # its clock runs on
    assert item.urgency is Urgency.go_now


def queued_alerts(ward: Ward) -> int:
    query = select(message.c.id).join(alert, alert.c.message == message.c.id)
    with ward.store.read() as conn:
        return len(conn.scalars(query.where(message.c.state == MessageState.queued)).all())


def test_a_link_is_not_guessed_and_does_not_last(night: Ward, danger: Pair) -> None:
    phone, link = night.app().test_client(), alert_link(night)
    assert phone.get(f"/a/{night.store.sealer.link_token('alert', uuid4())}").status_code == 404
    assert phone.get(link[:-1] + ("A" if link[-1] != "A" else "B")).status_code == 404
    assert phone.get("/a/nonsense").status_code == 404
    night.now += timedelta(hours=13)
    assert phone.get(link).status_code == 404


def test_an_outcome_opens_an_entry_that_a_person_completes(night: Ward, danger: Pair, visit: Visit) -> None:
    njeri, case = visit("njeri"), f"/pairs/{danger.id}"
    page = njeri.sends(f"{case}/close", case, found="advice_given", outcome="admitted", spoke="1")[1]
    assert "Away for a while" in page.split("</main>")[0].split("<h1")[0]  # or she is asked as at home
    page = njeri.page(case)
    assert "Admitted: day, place and source are missing" in page
    entry = page.split('name="entry" value="', 1)[1].split('"', 1)[0]
    given = {"entry": entry, "on_day": night.now.date().isoformat(), "place": "Lakeside Hospital"}
    status, page = njeri.sends(f"{case}/adverse", case, **given)
    assert status == 422
    assert "Choose who says so." in page
    page = njeri.sends(f"{case}/adverse", case, told_by="place", **given)[1]
    assert "The entry is complete." in page
    assert "day, place and source are missing" not in page


def test_who_opened_a_case_stands_in_the_audit_once(night: Ward, danger: Pair, visit: Visit) -> None:
    njeri = visit("njeri")
    for _ in range(3):
        njeri.page(f"/pairs/{danger.id}")
    query = select(event_log.c.actor).where(event_log.c.what == "opened", event_log.c.subject == danger.id)
    with night.store.read() as conn:
        assert conn.scalars(query).all() == [str(night.staff["njeri"])]


def test_a_deaf_service_says_so_in_the_inbox_and_lists_whom_it_missed(
    night: Ward, danger: Pair, visit: Visit
) -> None:
    with night.store.write() as conn:
        pulse.beat(conn, pulse.WORKER, "ok", night.machine - timedelta(minutes=20))
        record.list_to_catch_up(conn, [danger.id], night.now)
    njeri = visit("njeri")
    page = njeri.page("/inbox")
    assert "the worker does not run" in page
    assert "1 mother could not be heard while the service was down" in page
    assert 'dunnock_deaf{gateway="",what="worker"} 1.0' in njeri.page("/metrics")
    listed = njeri.page("/catch-up")
    assert "Amina" in listed
    assert "Off the list." in njeri.sends(f"/catch-up/{danger.id}", "/catch-up")[1]
    assert "everybody was heard" in njeri.page("/catch-up")

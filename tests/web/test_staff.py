"""Accounts and closed days: who may manage whom, and passwords shown once; on both databases."""

from __future__ import annotations

from html import unescape

import pytest
from sqlalchemy import insert

from bot.core.errors import NotAllowed, NotFound
from bot.store.staff import change_person, people, set_password
from bot.store.tables import staff_site
from bot.store.viewer import Role, Viewer
from tests.support.ward import Opening, Visitor, Ward, csrf_of


@pytest.fixture
def office(ward: Ward) -> Ward:
    ward.add_staff("amara", "Amara", Role.manager, "lakeside")
    ward.add_staff("root", "Roda", Role.admin, "lakeside", "coast")
    return ward


def viewer(office: Ward, login: str, role: Role, *codes: str) -> Viewer:
    return Viewer(office.staff[login], role, frozenset(office.sites[code].id for code in codes))


def add(visitor: Visitor, **fields: object) -> tuple[int, str]:
    form = {"name": "Kendi", "login": "kendi", "role": "counsellor", "sites": ["lakeside"], "language": "en"}
    status, page = visitor.sends("/staff", "/staff", **form | fields)
    return status, unescape(page)


def password_on(page: str) -> str:
    return page.split('class="secret"><bdi dir="ltr">', 1)[1].split("<", 1)[0]


def test_staff_is_for_managers(office: Ward, visit: Opening) -> None:
    visit("wairimu").page("/staff", status=403)
    visit("amara").page("/staff")


def test_a_manager_sees_those_below_her_at_her_sites_only(office: Ward) -> None:
    with office.store.read() as conn:
        mine = {p.login for p in people(conn, viewer(office, "amara", Role.manager, "lakeside"))}
        all_ = {p.login for p in people(conn, viewer(office, "root", Role.admin, "lakeside"))}

    assert mine == {"njeri", "otieno"}  # Wairimu works at the coast too, Salma only there
    assert all_ == {"njeri", "otieno", "salma", "wairimu", "amara", "root"}


def test_a_new_account_signs_in_with_the_password_shown_once(office: Ward, visit: Opening) -> None:
    amara = visit("amara")
    status, page = add(amara)
    password = password_on(page)

    assert status == 200
    assert "shown this once" in page
    assert password not in amara.page("/staff")
    assert Visitor(office.app().test_client()).sign_in("kendi", password) == 302


def test_every_fault_of_a_new_account_is_told(office: Ward, visit: Opening) -> None:
    status, page = add(visit("amara"), name="", login="two words", sites=[])

    assert status == 422
    for words in ("Give a login of Latin letters", "Give the name that colleagues see", "at least one site"):
        assert words in page


def test_a_login_that_exists_is_refused_and_what_was_typed_stays(office: Ward, visit: Opening) -> None:
    status, page = add(visit("amara"), login="njeri")

    assert status == 422
    assert "There is an account with the login njeri already" in page
    assert 'value="Kendi"' in page


@pytest.mark.parametrize("fields", [{"role": "manager"}, {"role": "admin"}, {"sites": ["coast"]}])
def test_a_manager_can_t_give_what_she_does_not_have(
    office: Ward, visit: Opening, fields: dict[str, object]
) -> None:
    assert add(visit("amara"), **fields)[0] == 403


def test_who_is_shut_out_is_out_at_once(office: Ward, visit: Opening) -> None:
    njeri, amara = visit("njeri"), visit("amara")
    place = f"/staff/{office.staff['njeri']}"
    amara.sends(place, place, active="no", role="counsellor", sites=["lakeside"])

    assert njeri.client.get("/inbox").status_code == 302
    assert "may not sign in" in amara.page("/staff")


def test_a_new_password_ends_the_old_one_and_its_sessions(office: Ward, visit: Opening) -> None:
    njeri, amara = visit("njeri"), visit("amara")
    place = f"/staff/{office.staff['njeri']}"
    answer = amara.client.post(f"{place}/password", data={"csrf_token": csrf_of(amara.page(place))})

    assert njeri.client.get("/inbox").status_code == 302
    fresh = Visitor(office.app().test_client())
    assert fresh.sign_in("njeri") == 403
    assert fresh.sign_in("njeri", password_on(answer.text)) == 302


def test_nobody_reaches_beyond_those_they_manage(office: Ward) -> None:
    amara = viewer(office, "amara", Role.manager, "lakeside")
    with office.store.write() as conn:
        for login in ("salma", "wairimu", "root", "amara"):
            with pytest.raises(NotFound):
                set_password(conn, amara, office.staff[login], "x")
        with pytest.raises(NotAllowed):
            change_person(conn, amara, office.staff["njeri"], role=Role.manager, sites=[], active=True)


def test_an_admin_can_t_shut_out_herself(office: Ward) -> None:
    root = viewer(office, "root", Role.admin, "lakeside", "coast")
    with office.store.write() as conn, pytest.raises(NotAllowed):
        change_person(conn, root, root.staff_id, role=Role.counsellor, sites=root.sites, active=True)


def test_sites_outside_the_form_stay_with_their_people(office: Ward, visit: Opening) -> None:
    far = office.add_site("far", "Far Clinic")
    with office.store.write() as conn:
        conn.execute(insert(staff_site).values(staff=office.staff["njeri"], site=far.id))
    place = f"/staff/{office.staff['njeri']}"
    visit("root").sends(place, place, active="yes", role="lead", sites=["lakeside"])
    with office.store.read() as conn:
        found = {p.login: p for p in people(conn, viewer(office, "root", Role.admin))}["njeri"]

    assert (found.role, found.sites) == (Role.lead, frozenset({far.id, office.sites["lakeside"].id}))


def test_a_day_is_closed_and_opened_again(office: Ward, visit: Opening) -> None:
    amara = visit("amara")
    page = amara.sends("/sites/lakeside/closed", "/staff", day="2026-03-09")[1]
    assert "is closed on Mon 9 Mar" in page
    assert "closed this day" in amara.page("/reviews?day=2026-03-09")
    assert "day=2026-03-09" not in amara.page("/reviews?day=2026-03-07")
    amara.sends("/sites/lakeside/closed", "/staff", day="2026-03-09", what="open")

    assert "closed this day" not in amara.page("/reviews?day=2026-03-09")
    assert "day=2026-03-09" in amara.page("/reviews?day=2026-03-07")


def test_nobody_closes_another_s_site(office: Ward, visit: Opening) -> None:
    assert visit("amara").sends("/sites/coast/closed", "/staff", day="2026-03-09")[0] == 404

"""The inbox: what stands there, in which order, for whom, and who may take it."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

from bot.core.follow.events import Spoke, Take
from bot.core.states import Urgency
from bot.store.viewer import Role, Viewer
from bot.store.views_inbox import open_items
from tests.support.ward import Visitor, Ward, csrf_of

Visit = Callable[[str], Visitor]
MINUTES = timedelta(minutes=1)


def names(page: str) -> list[str]:
    """The mothers of a page of the inbox, from top to bottom."""
    return re.findall(r'id="open-[^"]+" href="[^"]+"><bdi dir="auto">([^<]+)', page)


def test_an_empty_inbox_says_how_to_begin(visit: Visit) -> None:
    page = visit("njeri").page("/inbox")
    assert "Nothing waits here." in page
    assert "Enrol a pair at discharge to begin." in page


def test_the_gravest_stands_first_then_the_longest_due(ward: Ward, visit: Visit) -> None:
    ward.writes(ward.enrol("Later"), "please call me", before=10 * MINUTES)
    ward.writes(ward.enrol("Earlier"), "please call me", before=90 * MINUTES)
    ward.writes(ward.enrol("Mild"), "feeds 6", asking=["feeds"], before=300 * MINUTES)
    ward.writes(ward.enrol("Grave"), "she is very hot and will not wake up", before=2 * MINUTES)
    assert names(visit("njeri").page("/inbox")) == ["Grave", "Earlier", "Later", "Mild"]


def test_who_was_spoken_to_stands_last_however_grave(ward: Ward, visit: Visit) -> None:
    grave = ward.writes(ward.enrol("Grave"), "she is very hot and will not wake up")
    ward.acts("njeri", grave, Take(), Spoke())
    ward.writes(ward.enrol("Mild"), "feeds 6", asking=["feeds"])
    assert names(visit("njeri").page("/inbox")) == ["Mild", "Grave"]


def test_a_line_says_how_soon_her_words_and_the_finding(ward: Ward, visit: Visit) -> None:
    ward.writes(ward.enrol("Amina"), "she is very hot and will not wake up", before=3 * MINUTES)
    ward.writes(ward.enrol("Rehema"), "only 5", asking=["feeds"], before=5 * 60 * MINUTES)
    page = visit("njeri").page("/inbox")
    for words in (
        "Go now",
        "due in 12 min",  # 15 minutes from when she wrote
        "she is very hot and will not wake up",
        "The baby is hard to wake, floppy or hardly moves.",
        "3 days old",
        "Lakeside Hospital",
        "Today",
        "missed by 1 h",  # 4 hours from when she wrote
    ):
        assert words in page


def test_a_death_stands_right_after_the_danger(ward: Ward, visit: Visit) -> None:
    pair = ward.writes(ward.enrol("Amina"), "my baby died yesterday", before=timedelta(minutes=9))
    ward.writes(pair, "i bleed heavily and have fever of 39 and fits", before=timedelta(minutes=5))
    with ward.store.read() as conn:
        viewer = Viewer(ward.staff["njeri"], Role.counsellor, frozenset(s.id for s in ward.sites.values()))
        (item,) = open_items(conn, viewer)
    assert len(item.reasons) > 2
    assert item.reasons[0].urgency is Urgency.go_now
    assert item.reasons[1].rule == "bereaved"


def test_a_counsellor_sees_her_own_sites_only(ward: Ward, visit: Visit) -> None:
    ward.writes(ward.enrol("Amina"), "please call me")
    ward.writes(ward.enrol("Layla", code="coast"), "please call me")
    assert names(visit("njeri").page("/inbox")) == ["Amina"]
    assert names(visit("salma").page("/inbox")) == ["Layla"]
    assert sorted(names(visit("wairimu").page("/inbox"))) == ["Amina", "Layla"]
    assert names(visit("wairimu").page("/inbox?site=coast")) == ["Layla"]
    assert names(visit("njeri").page("/inbox?site=coast")) == ["Amina"]  # not hers: as if not chosen


def test_filters_tell_mine_from_nobodys_and_all(ward: Ward, visit: Visit) -> None:
    for name, login in (("Amina", "njeri"), ("Grace", "otieno"), ("Halima", "")):
        pair = ward.writes(ward.enrol(name), "please call me")
        if login:
            ward.acts(login, pair, Take())
    njeri = visit("njeri")
    assert sorted(names(njeri.page("/inbox"))) == ["Amina", "Halima"]
    assert names(njeri.page("/inbox?show=mine")) == ["Amina"]
    assert names(njeri.page("/inbox?show=waiting")) == ["Halima"]
    everything = njeri.page("/inbox?show=all")
    assert sorted(names(everything)) == ["Amina", "Grace", "Halima"]
    assert '<bdi dir="auto">Otieno</bdi>' in everything


def test_the_second_who_takes_is_told_who_has_it(ward: Ward, visit: Visit) -> None:
    pair = ward.writes(ward.enrol("Amina"), "please call me")
    item = pair.open_escalation
    assert item is not None
    njeri, otieno = visit("njeri"), visit("otieno")
    otieno_page = otieno.page("/inbox")
    status, page = njeri.sends(f"/inbox/{item.id}/take", "/inbox")
    assert status == 302
    assert "Yours now: Amina" in page
    data = {"csrf_token": csrf_of(otieno_page)}
    late = otieno.client.post(f"/inbox/{item.id}/take", data=data, follow_redirects=True)
    assert "Njeri took this at 09:30" in late.text
    taken = ward.load(pair.id).open_escalation
    assert taken is not None
    assert taken.taken_by == ward.staff["njeri"]


def test_taking_twice_by_the_same_person_is_harmless(ward: Ward, visit: Visit) -> None:
    pair = ward.writes(ward.enrol("Amina"), "please call me")
    item = pair.open_escalation
    assert item is not None
    njeri = visit("njeri")
    for _ in range(2):
        status, page = njeri.sends(f"/inbox/{item.id}/take", "/inbox")
        assert status == 302
        assert "Yours now: Amina" in page


def test_an_item_of_another_site_can_not_be_taken(ward: Ward, visit: Visit) -> None:
    item = ward.writes(ward.enrol("Amina"), "please call me").open_escalation
    assert item is not None
    status, _ = visit("salma").sends(f"/inbox/{item.id}/take", "/inbox")
    assert status == 404


def test_changes_are_silent_until_something_changes(ward: Ward, visit: Visit) -> None:
    amina = ward.writes(ward.enrol("Amina"), "please call me")
    njeri = visit("njeri")
    after = int(re.findall(r"after=(\d+)", njeri.page("/inbox"))[0])
    address = f"/inbox/changes?show=todo&after={after}"
    assert njeri.client.get(address).status_code == 204
    ward.acts("otieno", amina, Take())
    changed = njeri.client.get(address)
    assert changed.status_code == 200
    assert names(changed.text) == []


def test_forty_lines_are_one_page_of_modest_weight(ward: Ward, visit: Visit) -> None:
    for n in range(40):
        pair = ward.enrol(f"Mother {n:02}", phone=f"+4477009{n:05}")
        ward.writes(pair, "please call me", before=n * MINUTES)
    page = visit("njeri").page("/inbox")
    assert len(names(page)) == 40
    assert len(page.encode()) < 100_000

"""The manager's screens on both databases, without JavaScript: schedule, preview, publishing, editions."""

from __future__ import annotations

from datetime import timedelta
from html import unescape
from html.parser import HTMLParser
from typing import Any

import pytest

from bot.content.course import typical_pair
from bot.content.factory import load_factory
from bot.content.schedule import schedule_to
from bot.core.errors import Conflict, NotAllowed
from bot.core.plan import planned
from bot.steps import schedule as steps
from bot.steps.content import publish_factory, schedule_of
from bot.store import editions
from bot.store.viewer import Role, Viewer
from tests.support.ward import Opening, Visitor, Ward, csrf_of

DAY_3 = "/schedule/contacts/day-3"


@pytest.fixture
def office(ward: Ward) -> Ward:
    """A ward whose schedule is published, with two managers: Amara, and Layla who reads Arabic."""
    publish_factory(ward.store, load_factory(), ward.now - timedelta(days=30))
    ward.add_staff("amara", "Amara", Role.manager, "lakeside", "coast")
    ward.add_staff("layla", "Layla", Role.manager, "lakeside", language="ar")
    return ward


def amara(office: Ward) -> Viewer:
    return Viewer(office.staff["amara"], Role.manager, frozenset())


def fields_of(page: str) -> dict[str, str]:
    """Give what the browser would send of the page's form, radio buttons and selects included."""
    held: dict[str, str] = {}

    class Reader(HTMLParser):
        select = ""

        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            given = dict(attrs)
            name, value = given.get("name") or "", given.get("value") or ""
            is_pick = given.get("type") in ("radio", "checkbox")
            if tag == "select":
                self.select = name
                held.setdefault(name, "")
            elif tag == "option" and "selected" in given:
                held[self.select] = value
            elif tag == "input" and name and ("checked" in given or not is_pick):
                held[name] = value

    form = page[page.index("<form", page.index("<main")) :]
    reader = Reader()
    reader.feed(form[: form.index("</form>")])
    return held


def edit(visitor: Visitor, address: str, **changes: str) -> tuple[int, str]:
    """Open a form, change some fields as a person would, and send it."""
    return send(visitor, address, fields_of(visitor.page(address)) | changes)


def send(visitor: Visitor, address: str, fields: dict[str, str]) -> tuple[int, str]:
    """Post fields as they stand; give the status and the page it leads to."""
    answer = visitor.client.post(address, data=fields, follow_redirects=True)
    return (answer.history[0].status_code if answer.history else answer.status_code), unescape(answer.text)


def drafted(office: Ward) -> Any:
    return steps.standing(office.store, amara(office), office.now).drafted


def test_only_managers_see_the_schedule(office: Ward, visit: Opening) -> None:
    visit("wairimu").page("/schedule", status=403)
    assert "What will she receive, when?" in visit("amara").page("/schedule")
    assert "/schedule" not in visit("njeri").page("/reviews")


def test_the_table_and_the_picture_show_every_contact_that_is_sent(office: Ward, visit: Opening) -> None:
    page = unescape(visit("amara").page("/schedule?pair=small"))

    for spec in drafted(office).contacts:
        assert f'id="c-{spec.key}"' in page
    marks = page.count('<g class="mark')
    stands = steps.standing(office.store, amara(office), office.now)
    pair = typical_pair(office.sites["coast"], "en", stands.drafted, office.now, small=True)
    assert marks == len(planned(pair, stands.drafted))
    assert ">review<" in page


def test_opening_and_keeping_a_form_unchanged_makes_no_draft(office: Ward, visit: Opening) -> None:
    visitor = visit("amara")
    for spec in drafted(office).contacts:
        assert edit(visitor, f"/schedule/contacts/{spec.key}")[0] == 303
    assert edit(visitor, "/schedule/settings")[0] == 303
    assert steps.standing(office.store, amara(office), office.now).draft is None


def test_an_edit_stands_in_the_draft_and_nothing_is_published(office: Ward, visit: Opening) -> None:
    visitor = visit("amara")
    status, page = edit(visitor, DAY_3, clock="at", at="14:00", question_3="dirty_nappies")
    stands = steps.standing(office.store, amara(office), office.now)

    assert status == 303
    assert "hour: 14:00 instead of her hour, while somebody reads" in page
    asked = "Worried, Wet nappies, Dirty nappies, Bad headache or sight disturbed (after high blood pressure)"
    assert f"{asked} instead of" in page
    assert 'class="mark old"' in page
    assert 'class="mark new"' in page
    assert stands.newest.number == 1
    assert stands.drafted != stands.published
    # Another manager sees the same draft, in another session.
    assert "Amara" in visit("layla").page("/schedule")


def test_every_fault_is_told_and_what_was_typed_stays(office: Ward, visit: Opening) -> None:
    visitor = visit("amara")
    status, page = edit(visitor, DAY_3, clock="at", at="", days="x", valid_for_hours="six", meaning="Mine.")

    assert status == 422
    assert page.count("Write a whole number.") >= 1
    assert "Write a number of hours" in page
    assert "Give the time of day." in page
    assert 'value="Mine."' in page
    assert steps.standing(office.store, amara(office), office.now).draft is None


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"clock": "at", "at": "23:30"}, "This time is in the quiet hours."),
        ({"question_4": "other_food"}, "In the first week ask at most 3 questions."),
        ({"question_2": "worry"}, "A question stands twice."),
        ({"question_1": "", "question_2": "", "question_3": ""}, "A check-in needs questions."),
        ({"clock": "window", "start": "12:00", "end": "09:00"}, "The window ends before it starts."),
        ({"source": " "}, "Say where it is from"),
    ],
)
def test_a_schedule_that_does_not_hold_is_refused(
    office: Ward, visit: Opening, changes: dict[str, str], words: str
) -> None:
    status, page = edit(visit("amara"), DAY_3, **changes)

    assert status == 422
    assert words in page


def test_new_quiet_hours_name_the_contacts_that_fall_into_them(office: Ward, visit: Opening) -> None:
    status, page = edit(visit("amara"), "/schedule/settings", **{"from": "17:00"})

    assert status == 422
    assert "The review is tomorrow: This time is in the quiet hours." in page


def test_settings_are_drafted(office: Ward, visit: Opening) -> None:
    status, page = edit(visit("amara"), "/schedule/settings", latest_hours="96", later_hours="96")

    assert status == 303
    assert "review, at the latest: 96 h instead of 72 h" in page
    assert drafted(office).review.later_hours == 96


def test_two_managers_do_not_overwrite_one_another(office: Ward, visit: Opening) -> None:
    first, second = visit("amara"), visit("amara")
    stale = fields_of(second.page(DAY_3))
    edit(first, DAY_3, clock="at", at="14:00")
    status, page = send(second, DAY_3, stale | {"clock": "at", "at": "15:00"})

    assert status == 422
    assert "Somebody else changed this meanwhile" in page
    assert drafted(office).contacts[3].at.hour == 14


def test_taking_an_edit_back_by_hand_drops_the_draft(office: Ward, visit: Opening) -> None:
    visitor = visit("amara")
    edit(visitor, DAY_3, days="4")
    edit(visitor, DAY_3, days="3")

    assert steps.standing(office.store, amara(office), office.now).draft is None


def test_the_preview_shows_real_texts_with_their_price_in_each_language(office: Ward, visit: Opening) -> None:
    visitor = visit("amara")
    edit(visitor, "/schedule/contacts/day-28", on="")
    page = unescape(visitor.page("/schedule/preview?language=en"))
    arabic = unescape(visitor.page("/schedule/preview?language=ar"))

    assert "Thank you, Amina Yusuf." in page
    assert "GSM-7" in page
    assert "No longer sent" in page
    assert "With the draft: 38 texts" in page
    assert "before: 41 texts" in page
    assert 'dir="rtl"' in arabic
    assert "أمينة يوسف" in arabic
    assert "UCS-2" in arabic


def test_publishing_says_whom_it_touches_and_takes_effect_a_day_later(office: Ward, visit: Opening) -> None:
    office.enrol("Amina")
    office.enrol("Zuri")
    visitor = visit("amara")
    edit(visitor, DAY_3, clock="at", at="14:00")
    page = unescape(visitor.page("/schedule/publish"))
    assert "2 pairs are followed by this schedule, at all sites." in page
    # Both were born three days ago: by tomorrow day 3 lies behind them.
    assert "For 0 of them a changed contact can still lie ahead." in page

    status, page = visitor.sends("/schedule/publish", "/schedule/publish", why="Staff come at two.")
    assert status == 303
    assert "Edition 2 is published." in unescape(page)
    assert "Staff come at two." in unescape(page)
    with office.store.read() as conn:
        newest = editions.newest(conn, "schedule", "standard")
        assert newest is not None
        assert newest.effective_from - office.now >= timedelta(hours=24)
        assert (newest.by, newest.why, newest.origin) == (
            office.staff["amara"],
            "Staff come at two.",
            "edited",
        )
        assert editions.in_force(conn, "schedule", office.now)["standard"].number == 1
        assert editions.in_force(conn, "schedule", newest.effective_from)["standard"].number == 2
    assert schedule_of(newest).contacts[3].at is not None


def test_publishing_needs_a_reason(office: Ward, visit: Opening) -> None:
    visitor = visit("amara")
    edit(visitor, DAY_3, days="4")
    status, page = visitor.sends("/schedule/publish", "/schedule/publish", why="  ")

    assert status == 422
    assert "Say in a few words why the schedule changes." in page
    assert steps.standing(office.store, amara(office), office.now).newest.number == 1


def test_what_was_not_looked_at_is_not_published(office: Ward, visit: Opening) -> None:
    first, second = visit("amara"), visit("layla")
    edit(first, DAY_3, days="4")
    looked = first.page("/schedule/publish")
    seen = looked.split('name="seen" value="', 1)[1].split('"', 1)[0]
    edit(second, "/schedule/contacts/day-7", on="")
    answer = first.client.post(
        "/schedule/publish", data={"csrf_token": csrf_of(looked), "seen": seen, "why": "x"}
    )

    assert answer.status_code == 409
    assert "The draft changed since you looked at it" in answer.text


def test_a_draft_begun_before_another_edition_is_carried_over(office: Ward, visit: Opening) -> None:
    visitor = visit("amara")
    edit(visitor, DAY_3, days="4")
    with office.store.write() as conn:  # somebody publishes by another way
        body = schedule_to(load_factory().schedules["standard"])
        rows = [dict(row, on=False) if row["key"] == "day-7" else row for row in body["contacts"]]
        editions.publish(
            conn, "schedule", "standard", {**body, "contacts": rows},
            at=office.now, effective_from=office.now,
        )  # fmt: skip
    seen = steps.stamp(steps.standing(office.store, amara(office), office.now).draft.body)  # type: ignore[union-attr]
    with pytest.raises(Conflict, match="published meanwhile"):
        steps.publish(office.store, amara(office), "why", seen, office.now)
    assert "Put my changes onto edition 2" in visitor.page("/schedule")
    visitor.sends("/schedule/carry-over", "/schedule")
    contacts = {spec.key: spec for spec in drafted(office).contacts}

    assert contacts["day-3"].days == 4
    assert not contacts["day-7"].on
    assert not steps.standing(office.store, amara(office), office.now).behind


def test_an_older_edition_is_taken_back_by_publishing_it_anew(office: Ward, visit: Opening) -> None:
    visitor = visit("amara")
    edit(visitor, DAY_3, days="4")
    visitor.sends("/schedule/publish", "/schedule/publish", why="A try.")
    visitor.sends("/schedule/take-back", "/schedule/history", number="1")
    page = unescape(visitor.page("/schedule/publish"))
    assert "day: day 3 instead of day 4" in page
    visitor.sends("/schedule/publish", "/schedule/publish", why="It was worse.")
    history = unescape(visitor.page("/schedule/history"))
    stands = steps.standing(office.store, amara(office), office.now)

    assert stands.newest.number == 3
    assert stands.published.contacts == load_factory().schedules["standard"].contacts
    assert (
        history.index("It was worse.") < history.index("A try.") < history.index("As the program brings it")
    )


def test_no_step_of_the_schedule_is_open_to_a_counsellor(office: Ward) -> None:
    njeri = Viewer(office.staff["njeri"], Role.counsellor, frozenset())
    for act in (
        lambda: steps.standing(office.store, njeri, office.now),
        lambda: steps.change_contact(office.store, njeri, "day-3", {}, "", office.now),
        lambda: steps.change_settings(office.store, njeri, {}, "", office.now),
        lambda: steps.take_back(office.store, njeri, 1, office.now),
        lambda: steps.carry_over(office.store, njeri, office.now),
        lambda: steps.drop(office.store, njeri),
        lambda: steps.publish(office.store, njeri, "why", "", office.now),
    ):
        with pytest.raises(NotAllowed):
            act()

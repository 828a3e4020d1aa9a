"""The day's list of reviews and the recording of one, on both databases, without JavaScript."""

from __future__ import annotations

from datetime import timedelta
from html import unescape

from bot.core.pair import Pair
from bot.core.states import EscalationState, ReviewState
from bot.store.tables import message
from bot.store.viewer import Role, Viewer
from bot.store.views_reviews import visits_on
from tests.support.ward import Opening, Ward

GOOD = {
    f"b1_{sign}": "yes"
    for sign in (
        "position_neck", "position_turned", "position_close", "position_supported",
        "attachment_chin", "attachment_mouth", "attachment_lower_lip", "attachment_areola",
    )
} | {"b1_suckling": "effective"}  # fmt: skip
WELL = GOOD | {"b1_feeds": "9", "b1_other_food": "no", "b1_thrush": "no"}


def expected(ward: Ward, name: str = "Amina", **facts: object) -> tuple[Pair, str]:
    """A pair whose review was at noon today, an hour ago, and the address of that review."""
    pair = ward.enrol(name, **facts)  # type: ignore[arg-type]
    ward.now += timedelta(hours=3, minutes=30)
    assert pair.expected_review is not None
    assert pair.expected_review.on_day == pair.local(ward.now).date()
    return pair, f"/pairs/{pair.id}/review/{pair.expected_review.id}"


def test_the_list_shows_who_comes_in_order_of_hour(ward: Ward, visit: Opening) -> None:
    ward.enrol("Zuri")
    ward.now -= timedelta(hours=2)
    ward.enrol("Early", babies=2)
    ward.now += timedelta(hours=2)
    page = visit("njeri").page("/reviews")

    assert page.index("10:00") < page.index("Early") < page.index("12:00") < page.index("Zuri")
    assert "Baby Early 2, 3 days old" in page
    assert "First review" in page
    assert "2 to come" in page
    assert "tel:+447700900" in page


def test_the_list_tells_what_waits_in_the_inbox_for_a_visitor(ward: Ward, visit: Opening) -> None:
    pair = ward.enrol("Amina")
    ward.writes(pair, "baby very hot and won't wake")

    assert "In the inbox: Go now" in visit("njeri").page("/reviews")


def test_nobody_sees_the_list_of_another_site(ward: Ward, visit: Opening) -> None:
    pair, address = expected(ward)
    salma = visit("salma")

    assert "Amina" not in salma.page("/reviews?site=lakeside")
    salma.page(address, status=404)
    on_day = pair.expected_review.on_day if pair.expected_review else None
    assert on_day is not None
    other = Viewer(ward.staff["salma"], Role.counsellor, frozenset({ward.sites["coast"].id}))
    with ward.store.read() as conn:
        assert visits_on(conn, other, pair.site.id, on_day) == []


def test_a_closed_day_says_so_and_is_stepped_over(ward: Ward, visit: Opening) -> None:
    njeri = visit("njeri")

    assert "closed this day" in njeri.page("/reviews?day=2026-03-08")  # a Sunday
    saturday = njeri.page("/reviews?day=2026-03-07")
    assert "day=2026-03-09" in saturday
    assert "day=2026-03-08" not in saturday


def test_a_review_with_good_signs_says_the_weight_and_books_nothing(ward: Ward, visit: Opening) -> None:
    pair, address = expected(ward)
    status, page = visit("njeri").sends(address, address, b1_weight_g="2850", note="All well.", **GOOD)
    after = ward.load(pair.id)

    assert status == 303
    assert "150 g less" in page
    assert "−5.0 %" in page
    assert "no feeding problem was found" in page
    assert "All well." in page
    assert after.reviews[0].state is ReviewState.attended
    assert after.expected_review is None
    assert [(a.weight_g, a.occasion, a.by) for a in after.assessments if a.occasion == "review"] == [
        (2850, "review", "Njeri")
    ]


def test_a_feeding_problem_is_counselled_judged_and_booked_again(ward: Ward, visit: Opening) -> None:
    pair, address = expected(ward)
    fields = GOOD | {"b1_attachment_mouth": "no", "b1_weight_g": "2690"}
    page = unescape(visit("njeri").sends(address, address, **fields)[1])
    after = ward.load(pair.id)

    assert "Bring the baby on quickly" in page
    assert "Weight loss of 10 % or more" in page  # 2690 of 3000: 10.3 %
    assert "NICE NG75" in page
    assert "local protocol and licensed practice" in page
    assert "Booked because of the feeding problem." in page
    assert after.expected_review is not None
    assert after.expected_review.on_day - after.reviews[0].on_day == timedelta(days=2)
    assert after.open_escalation is not None


def test_thrush_and_other_food_are_counselled_kept_and_seen_again(ward: Ward, visit: Opening) -> None:
    """Follow-up in 2 days: Open University HEAT IMNCI Session 10 Table 10.2."""
    pair, address = expected(ward)
    fields = WELL | {"b1_thrush": "yes", "b1_other_food": "yes", "b1_weight_g": "2900"}
    njeri = visit("njeri")
    page = unescape(njeri.sends(address, address, **fields)[1])
    after = ward.load(pair.id)

    assert "Feeding problem or low weight for age" in page
    assert "other food or drink, thrush" in page
    assert "Thrush: treat the baby's mouth" in page
    assert "less of the other food or drink" in page
    assert "She gets a text with the day." in page
    assert {(a.key, a.baby, a.high) for a in after.answers if a.by is not None} == {
        ("feeds", 1, 9), ("other_food", 1, 1), ("thrush", 1, 1),
    }  # fmt: skip
    assert after.expected_review is not None
    assert after.expected_review.kind == "feeding_problem"
    assert after.expected_review.on_day - after.reviews[0].on_day == timedelta(days=2)
    with ward.store.read() as conn:
        keys = conn.scalars(message.select().with_only_columns(message.c.text_key)).all()
    assert "review-next" in keys
    case = njeri.page(f"/pairs/{pair.id}")
    assert "White patches in the mouth (thrush): yes" in case
    assert 'class="band"' in case
    assert "2900 (−3.3 %), z −" in case  # the same in the table


def test_what_was_not_looked_at_is_said_and_nothing_is_called_well(ward: Ward, visit: Opening) -> None:
    _, address = expected(ward)
    page = visit("njeri").sends(address, address, **GOOD)[1]

    assert "not everything was looked at" in page
    assert "feeds in 24 hours, other food or drink, the mouth, weight for age" in page


def test_who_is_sent_to_hospital_is_not_told_of_a_visit(ward: Ward, visit: Opening) -> None:
    pair, address = expected(ward)
    page = visit("njeri").sends(address, address, **GOOD | {"b1_suckling": "not_at_all"})[1]

    assert "Not able to feed: refer now" in page
    assert "She gets a text with the day." not in page
    with ward.store.read() as conn:
        keys = conn.scalars(message.select().with_only_columns(message.c.text_key)).all()
    assert "review-next" not in keys
    assert ward.load(pair.id).expected_review is not None


def test_every_fault_is_told_at_once_and_nothing_typed_is_lost(ward: Ward, visit: Opening) -> None:
    pair, address = expected(ward, babies=2)
    fields = {"b1_weight_g": "2400", "b2_weight_g": "20", "b1_position_neck": "no", "note": "Sore left."}
    fields |= {"b1_feeds": "many"}
    status, page = visit("njeri").sends(address, address, **fields)

    assert status == 422
    assert "2400 g would be an unusual loss" in page
    assert "20 g can&#39;t be: give 300 to 15000 grams." in page
    assert "Write a whole number from 0 to 30." in page
    assert 'value="many"' in page
    assert 'value="2400"' in page
    assert "Sore left." in page
    assert 'name="b1_position_neck" value="no" checked' in page
    assert ward.load(pair.id).reviews[0].state is ReviewState.expected


def test_an_unusual_weight_is_stored_once_it_is_confirmed(ward: Ward, visit: Opening) -> None:
    pair, address = expected(ward)
    njeri = visit("njeri")

    assert njeri.sends(address, address, b1_weight_g="2400", b1_sure="2500")[0] == 422  # ticked for another
    assert njeri.sends(address, address, b1_weight_g="2400", b1_sure="2400")[0] == 303
    assert ward.load(pair.id).assessments[-1].weight_g == 2400


def test_an_empty_form_is_asked_about(ward: Ward, visit: Opening) -> None:
    pair, address = expected(ward)
    status, page = visit("njeri").sends(address, address)

    assert status == 422
    assert "Nothing was seen and nothing weighed" in page
    assert ward.load(pair.id).reviews[0].state is ReviewState.expected


def test_a_form_sent_twice_records_one_visit(ward: Ward, visit: Opening) -> None:
    pair, address = expected(ward)
    njeri = visit("njeri")
    source = "/reviews"
    njeri.sends(address, source, b1_weight_g="2850", **GOOD)
    status, page = njeri.sends(address, source, b1_weight_g="2860", **GOOD)

    assert status == 303
    assert "recorded already" in page
    assert [a.weight_g for a in ward.load(pair.id).assessments if a.occasion == "review"] == [2850]


def test_twins_are_found_each_on_their_own(ward: Ward, visit: Opening) -> None:
    _, address = expected(ward, babies=2)
    fields = GOOD | {"b1_weight_g": "2850", "b2_suckling": "not_effective"}
    page = visit("njeri").sends(address, address, **fields)[1]
    first, second = page.split("Baby Amina 2", 1)

    assert "150 g less" in first
    assert "Not weighed." in second
    assert "not suckling effectively" in second
    assert "not suckling effectively" not in first


def test_who_did_not_come_gets_a_text_and_a_call(ward: Ward, visit: Opening) -> None:
    pair, address = expected(ward)
    status, page = visit("njeri").sends(f"{address}/missed", "/reviews")
    after = ward.load(pair.id)

    assert status == 303
    assert "Amina did not come" in page
    assert "A friendly text goes to her." in page
    assert "1 did not come" in page
    assert after.reviews[0].state is ReviewState.missed
    assert after.open_escalation is not None
    assert after.open_escalation.state is EscalationState.waiting
    with ward.store.read() as conn:
        keys = conn.scalars(message.select().with_only_columns(message.c.text_key)).all()
    assert "review-missed" in keys


def test_a_review_can_t_be_missed_before_its_hour(ward: Ward, visit: Opening) -> None:
    pair = ward.enrol("Amina")
    assert pair.expected_review is not None
    page = visit("njeri")

    assert "Did not come" not in page.page("/reviews").split("missed-does")[0]
    status, words = page.sends(f"/pairs/{pair.id}/review/{pair.expected_review.id}/missed", "/reviews")
    assert status == 409
    assert "Its hour has not come yet" in words


def test_she_who_comes_after_all_is_recorded(ward: Ward, visit: Opening) -> None:
    pair, address = expected(ward)
    njeri = visit("njeri")
    njeri.sends(f"{address}/missed", "/reviews")
    assert "Came after all" in njeri.page("/reviews")
    njeri.sends(address, address, b1_weight_g="2900", **GOOD)

    assert ward.load(pair.id).reviews[0].state is ReviewState.attended


def test_a_review_of_another_day_is_not_recorded_today(ward: Ward, visit: Opening) -> None:
    pair = ward.enrol("Amina")
    ward.now -= timedelta(days=1)
    assert pair.expected_review is not None

    page = visit("njeri").page(f"/pairs/{pair.id}/review/{pair.expected_review.id}", status=409)
    assert "move it to today first" in page


def test_the_next_review_is_booked_where_none_was(ward: Ward, visit: Opening) -> None:
    pair, address = expected(ward)
    njeri = visit("njeri")
    njeri.sends(address, address, b1_weight_g="2850", **GOOD)
    status, page = njeri.sends(f"{address}/next", f"{address}/found", on_day="2026-03-10", at="10:00")
    booked = ward.load(pair.id).expected_review

    assert status == 303
    assert "Tue 10 Mar, 10:00" in page
    assert booked is not None
    assert (booked.on_day.isoformat(), booked.at and booked.at.hour) == ("2026-03-10", 10)


def test_a_closed_day_is_not_booked(ward: Ward, visit: Opening) -> None:
    pair, address = expected(ward)
    njeri = visit("njeri")
    njeri.sends(address, address, b1_weight_g="2850", **GOOD)
    _, page = njeri.sends(f"{address}/next", f"{address}/found", on_day="2026-03-08")

    assert "is closed that day" in page
    assert ward.load(pair.id).expected_review is None

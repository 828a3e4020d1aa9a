"""A site's file is read whole or refused with every fault at once."""

from datetime import date, time

import pytest

from bot.content.site import read_site
from bot.core.errors import Invalid
from bot.core.pair import Hours, OnCall, Place
from tests.support.pairs import DISCHARGED, some_numbers

GOOD = """
code = "lakeside"
name = "Lakeside Hospital"
zone = "Africa/Nairobi"
region = "KE"
open_days = ["monday", "Tuesday", "saturday"]
opens = 08:00:00
closes = 16:00:00
closed_days = [2026-12-25]

[numbers]
text = "+447700900100"
call = "+447700900101"
hours = "8:00 to 16:00, Monday to Saturday"
place = "Lakeside Hospital"
place_call = "+447700900102"
"""


def test_a_good_file_gives_the_site() -> None:
    site = read_site(GOOD, DISCHARGED)
    assert (site.code, site.zone, site.opens, site.closes) == (
        "lakeside",
        "Africa/Nairobi",
        time(8),
        time(16),
    )
    assert (site.open_days, site.closed_days) == (frozenset({0, 1, 5}), frozenset({date(2026, 12, 25)}))
    assert site.numbers == some_numbers()
    assert site.is_open(date(2026, 12, 21))
    assert not site.is_open(date(2026, 12, 25))


@pytest.mark.parametrize(
    ("line", "written", "field"),
    [
        ('code = "lakeside"', 'code = "Lake Side"', "code"),
        ('name = "Lakeside Hospital"', 'name = " "', "name"),
        ('zone = "Africa/Nairobi"', 'zone = "Nairobi"', "zone"),
        ('zone = "Africa/Nairobi"', "zone = []", "zone"),
        ('region = "KE"', 'region = "Kenya"', "region"),
        ('open_days = ["monday", "Tuesday", "saturday"]', 'open_days = ["mo"]', "open_days"),
        ('open_days = ["monday", "Tuesday", "saturday"]', "open_days = []", "open_days"),
        ("opens = 08:00:00", 'opens = "8"', "opens"),
        ("closes = 16:00:00", "closes = 07:00:00", "closes"),
        ("closed_days = [2026-12-25]", 'closed_days = ["2026-12-25"]', "closed_days"),
        ('text = "+447700900100"', 'text = "07700900100"', "numbers.text"),
        ('text = "+447700900100"', 'text = ""', "numbers.text"),
        ('call = "+447700900101"', 'call = "+44 7700 900101"', "numbers.call"),
        ('place = "Lakeside Hospital"', 'place = ""', "numbers.place"),
        ('hours = "8:00 to 16:00, Monday to Saturday"', "", "numbers.hours"),
        ('code = "lakeside"', 'code = "lakeside"\ncover = 1', "cover"),
    ],
)
def test_one_fault_is_named_by_its_field(line: str, written: str, field: str) -> None:
    assert line in GOOD
    with pytest.raises(Invalid) as caught:
        read_site(GOOD.replace(line, written), DISCHARGED)
    assert [fault.field for fault in caught.value.problems] == [field]


@pytest.mark.parametrize("number", ["112", "+254700000000"])
def test_a_number_to_dial_may_be_a_short_code_or_a_number_of_any_country(number: str) -> None:
    file = GOOD.replace('call = "+447700900101"', f'call = "{number}"')
    assert read_site(file, DISCHARGED).numbers.call == number


def test_every_fault_is_named_at_once() -> None:
    with pytest.raises(Invalid) as caught:
        read_site('name = "Lakeside"\nzone = "x"\n[numbers]\ntext = "1"\n', DISCHARGED)
    assert {fault.field for fault in caught.value.problems} == {
        "code", "zone", "region", "open_days", "opens", "closes",
        "numbers.text", "numbers.call", "numbers.hours", "numbers.place",
    }  # fmt: skip


def test_a_file_that_is_not_toml_is_one_clear_error() -> None:
    with pytest.raises(Invalid, match="not TOML"):
        read_site("code: lakeside", DISCHARGED)


COVERED = (
    GOOD
    + """
[[cover]]
days = ["monday", "tuesday"]
since = 07:00:00
until = 19:00:00

[[on_call]]
who = "Labour ward phone"
phone = "+447700900110"
strangers = true

[[on_call]]
who = "Head"
email = "head@lakeside.example"
manager = true

[[places]]
name = "Reed Bridge Clinic"
call = "+447700900120"
near = ["Reed Bridge", "Old Mill"]
heads_up = "+447700900121"
"""
)


def test_a_file_says_when_somebody_is_there_whom_to_wake_and_where_she_may_go() -> None:
    site = read_site(COVERED, DISCHARGED)
    assert site.cover == (Hours(frozenset({0, 1}), time(7), time(19)),)
    assert site.on_call == (
        OnCall("Labour ward phone", "+447700900110", strangers=True),
        OnCall("Head", email="head@lakeside.example", manager=True),
    )
    near = ("Reed Bridge", "Old Mill")
    assert site.places == (Place("Reed Bridge Clinic", "+447700900120", near=near, heads_up="+447700900121"),)


@pytest.mark.parametrize(
    ("line", "written", "field"),
    [
        ('days = ["monday", "tuesday"]', 'days = ["mo"]', "cover 1: days"),
        ("until = 19:00:00", 'until = "19:00"', "cover 1: until"),
        ('who = "Head"', 'who = ""', "on_call 2: who"),
        ('phone = "+447700900110"', 'phone = "0110"', None),
        ('phone = "+447700900110"', 'phone = "07700 900110"', "on_call 1: phone"),
        ('email = "head@lakeside.example"', "", "on_call 2: email"),
        ('email = "head@lakeside.example"', 'email = "head"', "on_call 2: email"),
        ("strangers = true", 'strangers = "yes"', "on_call 1: strangers"),
        ("strangers = true", "stranger = true", "on_call 1: stranger"),
        ('call = "+447700900120"', 'call = ""', "places 1: call"),
        ('near = ["Reed Bridge", "Old Mill"]', 'near = "Reed Bridge"', "places 1: near"),
    ],
)
def test_a_fault_of_cover_is_named_with_its_row(line: str, written: str, field: str | None) -> None:
    assert COVERED.count(line) == 1
    try:
        read_site(COVERED.replace(line, written), DISCHARGED)
        found = set()
    except Invalid as refused:
        found = {problem.field for problem in refused.problems}
    assert found == ({field} if field else set())

"""Numbers as people write them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.core.phone import Standing, is_reserved, read_phone


@pytest.mark.parametrize(
    ("text", "region", "e164"),
    [
        ("07700 900123", "GB", "+447700900123"),
        ("+44 7700 900123", "KE", "+447700900123"),
        ("00 44 7700 900123", "FR", "+447700900123"),
        ("٠٧٧٠٠ ٩٠٠١٢٣", "GB", "+447700900123"),
        ("\u202a+44 7700 900123\u202c", "KE", "+447700900123"),
        ("(07700) 900-123", "GB", "+447700900123"),
    ],
)
def test_a_number_is_read_with_the_region_of_the_site(text, region, e164):
    assert read_phone(text, region).e164 == e164


# Ofcom, ACMA, Arcep, ComReg and PTS: numbers for drama (from copies of their lists); both ends of each range.
@pytest.mark.parametrize(
    ("inside", "outside"),
    [
        ("+447700900000", "+447700899999"),
        ("+447700900999", "+447700901000"),
        ("+442079460999", "+442079461000"),
        ("+441632960000", "+441632959999"),
        ("+12025550100", "+12025550099"),
        ("+12025550199", "+12025550200"),
        ("+61491570006", "+61491570007"),
        ("+61491570156", "+61491570155"),
        ("+61491570159", "+61491570160"),
        ("+33199000000", "+33199010000"),
        ("+33639980000", "+33639990000"),
        ("+353209100000", "+353209200000"),
        ("+46701740605", "+46701740604"),
        ("+46701740699", "+46701740700"),
    ],
)
def test_ranges_for_fiction_end_where_their_lists_say(inside, outside):
    assert is_reserved(inside)
    assert not is_reserved(outside)


@pytest.mark.parametrize(
    ("text", "region", "standing"),
    [
        ("07700 900123", "GB", Standing.reserved),
        ("+44 7700 9001", "GB", Standing.impossible),  # too short
        ("+44 7700 900 123 456 789", "GB", Standing.impossible),
        ("+44 7700", "GB", Standing.impossible),  # possible only inside one town
        ("7700 900123 ext 4", "GB", Standing.impossible),
        ("0800 FLOWERS", "GB", Standing.impossible),
        ("+999 1234567", "GB", Standing.impossible),
        ("0712 345 678", None, Standing.impossible),  # no region to read it in
        ("", "GB", Standing.impossible),
        ("+1 555 555 1234", "US", Standing.unusual),  # ten digits, but no such area code
    ],
)
def test_a_number_stands_where_its_plan_and_length_put_it(text, region, standing):
    assert read_phone(text, region).standing is standing


@given(st.text(max_size=40), st.sampled_from(["GB", "KE", None, "XX"]))
def test_any_text_is_read_without_an_error_and_no_number_is_longer_than_e164(text, region):
    read = read_phone(text, region)
    assert len(read.e164) <= 16
    assert read.e164 or read.standing is Standing.impossible

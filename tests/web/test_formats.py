"""Times as people of either script read them."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from bot.web.formats import moment
from tests.support.bedside import demo_app
from tests.support.ward import Ward

# Commas of either script: Unicode CLDR, dateTimeFormats.
AT = datetime(2026, 12, 6, 7, 5, tzinfo=UTC)


@pytest.mark.parametrize(("language", "said"), [("en", "Sun 6 Dec, 10:05"), ("ar", "الأحد 6 ديسمبر، 10:05")])
def test_a_day_and_its_time_are_joined_by_the_comma_of_the_script(
    ward: Ward, language: str, said: str
) -> None:
    with demo_app(ward).test_request_context(headers={"accept-language": language}):
        assert moment(AT, ZoneInfo("Africa/Nairobi")) == said

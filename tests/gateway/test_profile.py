"""A gateway's settings are checked whole."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from bot.core.errors import Invalid
from bot.gateway.profile import make_profile

SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
GOOD: dict[str, Any] = {
    "url": "https://sms.example/v1",
    "token": "t",
    "sender": "+447700900001",
    "secrets": [SECRET],
}


def test_a_profile_never_shows_its_secrets():
    profile = make_profile("district", **(GOOD | {"token": "hidden-token"}))
    assert "hidden-token" not in repr(profile)
    assert repr(profile.keys[0]) not in repr(profile)


def test_all_faults_are_named_at_once():
    with pytest.raises(Invalid) as refused:
        make_profile("My gateway", url="sms.example", token="", sender="CLINIC", secrets=["x"], rate=0)
    fields = [
        problem.field.removeprefix("gateways.My gateway").lstrip(".") for problem in refused.value.problems
    ]
    assert fields == ["", "url", "token", "number", "secret", "per_second"]


@pytest.mark.parametrize("sender", ["+447700900001", "40404"])
def test_numbers_and_short_codes_can_take_replies(sender):
    assert make_profile("district", **(GOOD | {"sender": sender})).sender == sender


def test_a_lease_outlasts_a_claim_of_which_every_post_hangs():
    profile = make_profile("district", **GOOD)
    assert profile.lease(500, 64) > 8 * (profile.connect_timeout + profile.timeout)
    assert profile.lease(1, 64) > profile.connect_timeout + profile.timeout
    assert profile.lease(1, 64) < timedelta(minutes=1)

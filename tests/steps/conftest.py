"""What the tests of steps share: the content that ships with the program."""

import pytest

from bot.content.factory import load_factory
from bot.core.follow import Content


@pytest.fixture(scope="session")
def content() -> Content:
    factory = load_factory()
    return Content(
        schedule=factory.schedules["standard"],
        rules=factory.rules,
        occasions=factory.occasions,
        questions=frozenset(factory.questions),
    )

"""A ward on a fresh database of each engine, and people who sign in to it."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest

from tests.support.database import opened, upgraded
from tests.support.ward import Visitor, Ward, open_ward


@pytest.fixture
def ward(database_url: str) -> Iterator[Ward]:
    with opened(upgraded(database_url)) as store:
        yield open_ward(store)


@pytest.fixture
def visit(ward: Ward) -> Callable[[str], Visitor]:
    """Sign somebody in, each in a browser of their own."""
    app = ward.app()

    def signed_in(login: str) -> Visitor:
        visitor = Visitor(app.test_client())
        assert visitor.sign_in(login) == 302
        return visitor

    return signed_in

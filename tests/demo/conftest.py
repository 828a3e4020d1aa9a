"""One filled district for all tests of the demo: filling it is the slow part."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from bot.demo.folder import Folder, open_folder
from bot.demo.phones import Phones
from bot.demo.seeding import beginning, seed

BEGINS = beginning(datetime(2026, 2, 28, 12, 0, tzinfo=UTC))  # Tuesday 3 March 2026, 07:30 UTC


@pytest.fixture(scope="session")
def district(tmp_path_factory: pytest.TempPathFactory) -> Folder:
    """A folder as a first start leaves it. Do not change what is in it."""
    path: Path = tmp_path_factory.mktemp("demo") / "district"
    folder = open_folder(path, fresh=False)
    store, phones = folder.store(), Phones(str(folder.phones))
    seed(store, phones, folder.profile(18999), BEGINS, lambda words: None)
    store.close()
    phones.close()
    folder.keep_time(BEGINS)
    folder.whole()
    return folder

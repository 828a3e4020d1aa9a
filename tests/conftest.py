"""What every test may ask for (both databases, a browser) and what holds for all (no network)."""

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from playwright.sync_api import Browser, sync_playwright

from bot.store.engine import Store
from tests.support.browser import LAUNCH_ARGS, find_chromium
from tests.support.database import opened, upgraded
from tests.support.network import shut_network
from tests.support.postgres import Postgres, running_postgres

# Two shared cores make single examples slow at times, so there is no deadline. CI tries the same examples on
# every run, so that a red run means a change; a developer's machine looks for new ones.
settings.register_profile("dev", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("ci", settings.get_profile("dev"), derandomize=True, print_blob=True)
settings.load_profile("ci" if os.environ.get("CI") else "dev")


@pytest.fixture(scope="session", autouse=True)
def _closed_network() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        shut_network(patch)
        yield


@pytest.fixture(scope="session")
def postgres() -> Iterator[Postgres]:
    """A real PostgreSQL, one for each test process, for as long as that runs."""
    with running_postgres() as server:
        yield server


@pytest.fixture
def postgres_url(postgres: Postgres) -> Iterator[str]:
    """The SQLAlchemy URL of a fresh, empty PostgreSQL database."""
    with postgres.fresh_database() as name:
        yield postgres.url(name)


@pytest.fixture
def sqlite_url(tmp_path: Path) -> str:
    """The SQLAlchemy URL of an SQLite file that does not exist yet."""
    return f"sqlite:///{tmp_path / 'dunnock.db'}"


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def database_url(request: pytest.FixtureRequest) -> str:
    """The SQLAlchemy URL of a fresh, empty database: the test runs once on each engine."""
    fixture = {"sqlite": "sqlite_url", "postgresql": "postgres_url"}[request.param]
    url: str = request.getfixturevalue(fixture)
    return url


@pytest.fixture(scope="session")
def _migrated_sqlite(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An SQLite file at the newest revision, made once a run, to copy."""
    path = tmp_path_factory.mktemp("template") / "dunnock.db"
    upgraded(f"sqlite:///{path}")
    return path


@pytest.fixture(scope="session")
def _migrated_postgres(postgres: Postgres) -> Iterator[str]:
    """The name of a PostgreSQL database at the newest revision, made once a run, to copy."""
    with postgres.fresh_database() as name:
        upgraded(postgres.url(name))
        yield name


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def migrated_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The SQLAlchemy URL of a fresh database at the newest revision: the test runs once on each engine."""
    if request.param == "sqlite":
        template: Path = request.getfixturevalue("_migrated_sqlite")
        yield f"sqlite:///{shutil.copy(template, tmp_path / 'dunnock.db')}"
        return
    server: Postgres = request.getfixturevalue("postgres")
    with server.fresh_database(request.getfixturevalue("_migrated_postgres")) as name:
        yield server.url(name)


@pytest.fixture
def store(migrated_url: str) -> Iterator[Store]:
    """A fresh, empty store; the test runs once on each engine."""
    with opened(migrated_url) as store:
        yield store


@pytest.fixture(scope="session")
def chromium() -> str:
    """The path of a Chromium; without one the test is skipped, and the summary says so."""
    found = find_chromium()
    if found is None:
        pytest.skip("NO CHROMIUM HERE, BROWSER TESTS ARE SKIPPED: `sh tests/run.sh` can install one.")
    return found


@pytest.fixture(scope="session")
def browser(chromium: str) -> Iterator[Browser]:
    """A running Chromium; open a page with `browser.new_context(...).new_page()`."""
    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=chromium, args=list(LAUNCH_ARGS))
        yield running
        running.close()

"""The ground: locked requirements, the set-up scripts, the wheel, a real PostgreSQL, a closed network."""

import os
import re
import shutil
import socket
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest
import sqlalchemy as sa
from playwright.sync_api import Browser

import bot
from tests.support.network import OutsideCall

ROOT = Path(__file__).parents[1]
LOCKS = [ROOT / "deploy/requirements.txt", ROOT / "tests/requirements.txt"]
SCRIPTS = [ROOT / name for name in ("deploy/setup.sh", "deploy/demo.sh", "tests/run.sh", "tests/peers.sh")]

# A line of a lock file: name==version, an optional marker, then the hashes on lines of their own.
PINNED = re.compile(r"([a-z0-9-]+)==[^ ;]+( ; [^\\]+)? \\\n((?: {4}--hash=sha256:[0-9a-f]{64}(?: \\)?\n)+)")


def pinned_names(lock: Path) -> set[str]:
    return {match[1] for match in PINNED.finditer(lock.read_text())}


def wanted_names(wishes: Path) -> set[str]:
    """Read the names of a requirements.in, as package indexes spell them (PEP 503)."""
    lines = [line.split("#")[0].strip() for line in wishes.read_text().splitlines()]
    names = [re.split(r"[\[<>=!~; ]", line)[0] for line in lines if line]
    return {re.sub(r"[-_.]+", "-", name).lower() for name in names}


@pytest.mark.parametrize("lock", LOCKS, ids=str)
def test_a_lock_file_holds_nothing_but_pinned_packages_with_hashes(lock: Path) -> None:
    text = lock.read_text()
    assert len(pinned_names(lock)) > 20
    assert PINNED.sub("", text) == ""


@pytest.mark.parametrize("lock", LOCKS, ids=str)
def test_a_lock_file_names_no_host_and_no_folder(lock: Path) -> None:
    text = lock.read_text()
    assert "://" not in text
    assert "--index" not in text
    assert "find-links" not in text
    assert " /" not in text


@pytest.mark.parametrize("lock", LOCKS, ids=str)
def test_every_package_we_ask_for_is_locked(lock: Path) -> None:
    assert wanted_names(lock.with_suffix(".in")) <= pinned_names(lock)


def test_both_lock_files_agree_on_the_version_of_every_package_they_share() -> None:
    run_time, tests = (dict(re.findall(r"^([a-z0-9-]+)==([^ ;]+)", lock.read_text(), re.M)) for lock in LOCKS)
    shared = run_time.keys() & tests.keys()
    assert "click" in shared
    assert {name: run_time[name] for name in shared} == {name: tests[name] for name in shared}


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda script: script.name)
def test_a_script_is_valid_for_plain_sh(script: Path) -> None:
    done = subprocess.run(["sh", "-n", script], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")


@pytest.fixture
def checkout(tmp_path: Path) -> Path:
    """A copy of what the set-up needs, without .venv; and beside it an empty folder for commands."""
    made = tmp_path / "checkout"
    shutil.copytree(ROOT / "deploy", made / "deploy")
    for name in ("dirname", "cat"):
        tool = shutil.which(name)
        assert tool is not None
        (tmp_path / "bin").mkdir(exist_ok=True)
        (tmp_path / "bin" / name).symlink_to(tool)
    return made


def run_demo(checkout: Path, pythons: dict[str, str]) -> subprocess.CompletedProcess[str]:
    """Run the demo's script where only `pythons` (name of command -> sh script) can be found as Python."""
    commands = checkout.parent / "bin"
    for name, script in pythons.items():
        (commands / name).write_text(f"#!/bin/sh\n{script}\n")
        (commands / name).chmod(0o755)
    return subprocess.run(
        ["/bin/sh", checkout / "deploy/demo.sh"],
        cwd="/",
        env={"PATH": str(commands)},
        capture_output=True,
        text=True,
        check=False,
    )


def test_a_python_that_is_too_old_is_named_in_the_message(checkout: Path) -> None:
    done = run_demo(checkout, {"python3": 'case "$1" in --version) echo Python 3.9.2 ;; *) exit 1 ;; esac'})
    assert done.returncode == 1
    assert "needs Python 3.11 or newer; found: Python 3.9.2." in done.stderr
    assert not (checkout / ".venv").exists()


def test_a_machine_without_python_is_told_what_to_install(checkout: Path) -> None:
    done = run_demo(checkout, {})
    assert done.returncode == 1
    assert "found: no python3 at all." in done.stderr
    assert "apt-get install python3 python3-venv" in done.stderr


# As Debian's python3 without python3-venv behaves: everything but the import of ensurepip works.
WITHOUT_VENV = f'case "$2" in *ensurepip*) exit 1 ;; *) exec {sys.executable} "$@" ;; esac'


def test_a_missing_venv_module_is_told_with_the_name_of_the_debian_package(checkout: Path) -> None:
    done = run_demo(checkout, {"python3": WITHOUT_VENV})
    assert done.returncode == 1
    assert "venv" in done.stderr
    assert f"apt-get install python3.{sys.version_info.minor}-venv" in done.stderr
    assert not (checkout / ".venv").exists()


def test_a_second_python_that_is_new_enough_and_whole_is_taken(checkout: Path) -> None:
    takes = f'case "$2" in venv) echo "python3.13 makes it" ; exit 1 ;; *) exec {sys.executable} "$@" ;; esac'
    done = run_demo(checkout, {"python3": WITHOUT_VENV, "python3.13": takes})
    assert "python3.13 makes it" in done.stdout


def files_under(folder: Path) -> set[str]:
    return {path.relative_to(folder.parent).as_posix() for path in folder.rglob("*") if path.is_file()}


def test_the_wheel_carries_the_program_the_content_and_the_command(tmp_path: Path) -> None:
    # A copy, because building writes beside the sources; planted files show that any depth is packed.
    for name in ("bot", "deploy", "messages", "locales"):
        if (ROOT / name).is_dir():
            shutil.copytree(ROOT / name, tmp_path / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    for planted in ("messages/planted.toml", "locales/xx/LC_MESSAGES/planted.po"):
        (tmp_path / planted).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / planted).touch()
    program = files_under(tmp_path / "bot")
    content = files_under(tmp_path / "messages") | files_under(tmp_path / "locales")
    build = [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--no-build-isolation", "."]
    subprocess.run(build, cwd=tmp_path, env=os.environ | {"PIP_CONSTRAINT": "/dev/null"}, check=True)
    with zipfile.ZipFile(tmp_path / f"dunnock-{bot.__version__}-py3-none-any.whl") as wheel:
        packed = {name for name in wheel.namelist() if ".dist-info/" not in name}
        commands = wheel.read(f"dunnock-{bot.__version__}.dist-info/entry_points.txt").decode()
    assert packed == program | {f"bot/_factory/{name}" for name in content}
    assert "dunnock = bot.cli:main" in commands


def test_python_and_type_checker_agree_on_the_oldest_python() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    oldest = project["project"]["requires-python"].removeprefix(">=")
    assert project["tool"]["mypy"]["python_version"] == oldest
    assert project["tool"]["ruff"]["target-version"] == "py" + oldest.replace(".", "")
    assert f"needs Python {oldest} or newer" in (ROOT / "deploy/setup.sh").read_text()


@pytest.mark.postgres
def test_the_postgresql_of_the_tests_answers(postgres_url: str) -> None:
    engine = sa.create_engine(postgres_url)
    with engine.connect() as connection:
        assert connection.scalar(sa.text("select version()")).startswith("PostgreSQL ")
    engine.dispose()


def test_each_engine_gives_every_test_an_empty_database_of_its_own(database_url: str) -> None:
    engine = sa.create_engine(database_url)
    assert sa.inspect(engine).get_table_names() == []
    with engine.begin() as connection:
        connection.execute(sa.text("create table left_over (id integer)"))
    assert sa.inspect(engine).get_table_names() == ["left_over"]
    engine.dispose()


# 192.0.2.0/24 is reserved for documentation (RFC 5737, section 3), .invalid for names that never exist
# (RFC 2606, section 2).
def test_a_test_cannot_connect_to_another_machine() -> None:
    with socket.socket() as outgoing:
        with pytest.raises(OutsideCall, match=r"192\.0\.2\.1"):
            outgoing.connect(("192.0.2.1", 80))
        with pytest.raises(OutsideCall, match=r"192\.0\.2\.1"):
            outgoing.connect_ex(("192.0.2.1", 80))
    with pytest.raises(OutsideCall, match=r"gateway\.invalid"):
        socket.getaddrinfo("gateway.invalid", 443)


def test_a_test_can_connect_to_its_own_machine() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        socket.create_connection(server.getsockname(), timeout=5).close()


@pytest.mark.browser
def test_the_browser_shows_a_page(browser: Browser) -> None:
    page = browser.new_page()
    page.set_content("<h1>Dunnock</h1>")
    assert page.get_by_role("heading").inner_text() == "Dunnock"
    page.close()

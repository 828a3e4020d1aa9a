"""Finds a Chromium for the browser tests.

In: DUNNOCK_TEST_CHROMIUM, the PATH, Playwright's own store. Out: the path of one that really starts, or None.
As a command (`python -m tests.support.browser [--download]`) it prints the path, or exits with 1.
"""

import os
import shutil
import subprocess
import sys
from pathlib import Path

from playwright.sync_api import sync_playwright

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")

LAUNCH_ARGS = (
    "--no-sandbox",  # its sandbox needs rights that root in a container does not have
    "--disable-gpu",
    # The rest keeps Chromium from calling hosts of its own.
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)

DOWNLOAD_LIMIT_S = 120


def find_chromium() -> str | None:
    """Return the path of the first Chromium here that tells its version; None if there is none."""
    named = [os.environ.get("DUNNOCK_TEST_CHROMIUM"), *map(shutil.which, NAMES)]
    return next((path for path in named if path and _starts(path)), None) or _playwrights_own()


def download_chromium() -> None:
    """Let Playwright fetch its own Chromium; gives up, saying so, after DOWNLOAD_LIMIT_S seconds."""
    command = [sys.executable, "-m", "playwright", "install", "--only-shell", "chromium"]
    try:
        subprocess.run(command, stdout=sys.stderr, timeout=DOWNLOAD_LIMIT_S, check=True)
    except (subprocess.TimeoutExpired, subprocess.CalledProcessError) as error:
        print(f"Playwright could not fetch Chromium: {error}", file=sys.stderr)


def _playwrights_own() -> str | None:
    with sync_playwright() as playwright:
        usual = Path(playwright.chromium.executable_path)
    # The download fetches the smaller headless shell, which lies beside the full browser's place.
    shells = sorted(usual.parents[2].glob("chromium_headless_shell-*/*/*headless*shell"))
    return next((str(path) for path in [usual, *shells] if _starts(str(path))), None)


def _starts(path: str) -> bool:
    try:
        answer = subprocess.run([path, "--version"], capture_output=True, timeout=30, check=False)
    except (OSError, subprocess.TimeoutExpired):
        return False
    return answer.returncode == 0


def main() -> int:
    found = find_chromium()
    if found is None and "--download" in sys.argv[1:]:
        download_chromium()
        found = find_chromium()
    if found:
        print(found)
    return 0 if found else 1


if __name__ == "__main__":
    sys.exit(main())

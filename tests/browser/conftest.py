"""The ward behind a real server on 127.0.0.1, and pages in a real browser that may speak to nothing else."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from threading import Thread
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, BrowserContext, Page
from werkzeug.serving import WSGIRequestHandler, make_server

from tests.support.database import opened, upgraded
from tests.support.ward import PASSWORD, Ward, open_ward

Open = Callable[..., Page]


class _Silent(WSGIRequestHandler):
    def log(self, type: str, message: str, *args: object) -> None:
        """Keep the test's output free of requests."""


@pytest.fixture
def ward(tmp_path: Path) -> Iterator[Ward]:
    with opened(upgraded(f"sqlite:///{tmp_path / 'ward.db'}")) as store:
        yield open_ward(store)


@pytest.fixture
def address(ward: Ward) -> Iterator[str]:
    server = make_server("127.0.0.1", 0, ward.app(), threaded=True, request_handler=_Silent)
    thread = Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    thread.join(timeout=5)
    server.server_close()


@pytest.fixture
def open_page(browser: Browser, address: str) -> Iterator[Open]:
    """Open a page, signed in as somebody. A word in the console or a call to another host fails the test."""
    contexts: list[BrowserContext] = []
    faults: list[str] = []

    def listen(page: Page) -> None:
        page.on(
            "console", lambda said: faults.append(said.text) if said.type in ("error", "warning") else None
        )
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on(
            "request",
            lambda asked: None if urlsplit(asked.url).hostname == "127.0.0.1" else faults.append(asked.url),
        )

    def opened_page(login: str = "", *, width: int = 1280, height: int = 800, **options: object) -> Page:
        context = browser.new_context(
            base_url=address,
            viewport={"width": width, "height": height},
            **options,  # type: ignore[arg-type]
        )
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(10_000)
        listen(page)
        page.goto("/login")
        if login:
            page.fill("#login", login)
            page.fill("#password", PASSWORD)
            page.click("main button")
            page.wait_for_url("**/inbox")
        return page

    yield opened_page
    for context in contexts:
        context.close()
    assert faults == []

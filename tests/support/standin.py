"""The stand-in gateway as a process of its own on loopback, and a real server for the hooks it calls."""

from __future__ import annotations

import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import httpx
from werkzeug.serving import make_server

TOKEN = "token-of-the-tests"
SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
LIMIT_S = 15

if TYPE_CHECKING:
    from _typeshed.wsgi import WSGIApplication


@contextmanager
def running_standin(hook: str, *options: str) -> Iterator[str]:
    """Start the stand-in, give its address, end it."""
    command = [sys.executable, "-m", "bot.demo.standin", "--port", "0", "--hook", hook]
    command += ["--token", TOKEN, "--secret", SECRET, "--retries", "0.1,0.1,0.2,0.5,1,1,1", *options]
    root = Path(__file__).parents[2]
    with subprocess.Popen(command, cwd=root, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            address = process.stdout.readline().strip()
            if not address:
                raise RuntimeError("The stand-in did not start; its own words stand above.")
            yield address
        finally:
            process.terminate()


@contextmanager
def serving(app: WSGIApplication) -> Iterator[str]:
    """Serve an application on loopback in threads, give its address, stop it."""
    server = make_server("127.0.0.1", 0, app, threaded=True)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


def set_faults(standin: str, **faults: Any) -> None:
    httpx.post(f"{standin}/faults", json=faults, trust_env=False).raise_for_status()


def asked(standin: str, path: str) -> Any:
    return httpx.get(standin + path, trust_env=False).raise_for_status().json()


def until(holds: Callable[[], Any]) -> Any:
    """Wait until something holds and give what it gave; fail after LIMIT_S seconds."""
    end = time.monotonic() + LIMIT_S
    while not (found := holds()):
        assert time.monotonic() < end, "it did not come about in time"
        time.sleep(0.02)
    return found

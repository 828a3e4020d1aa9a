"""The demo as a newcomer starts it: real processes on free ports of 127.0.0.1, ended by SIGTERM."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

READY_WITHIN_S = 240  # filling the district included, on a busy machine
ENDS_WITHIN_S = 30


def two_free_ports() -> int:
    """Give a port that is free together with the next one. Tests that run side by side look in places of
    their own: a demo takes its ports only after a while."""
    worker = int(os.environ.get("PYTEST_XDIST_WORKER", "gw0").removeprefix("gw"))
    first = 18_000 + 100 * (worker % 20)
    for port in range(first, first + 100, 2):
        with socket.socket() as one, socket.socket() as other:
            try:
                one.bind(("127.0.0.1", port))
                other.bind(("127.0.0.1", port + 1))
            except OSError:
                continue
            return port
    raise AssertionError("no two ports in a row are free")


def start(data: Path, port: int, *more: str) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "bot.demo", "--port", str(port), "--data", str(data), *more]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)


@contextmanager
def running_demo(data: Path) -> Iterator[str]:
    """Start the demo, give its address once it says that it runs, end it as Ctrl-C would."""
    port = two_free_ports()
    demo = start(data, port)
    watch = threading.Timer(READY_WITHIN_S, demo.kill)
    watch.start()
    said = ""
    try:
        assert demo.stdout is not None
        for line in demo.stdout:
            said += line
            if "Stop it with Ctrl-C" in line:
                break
        else:
            raise AssertionError(f"the demo did not start: {said}")
        watch.cancel()
        yield f"http://127.0.0.1:{port}"
    finally:
        watch.cancel()
        demo.send_signal(signal.SIGTERM)
        demo.communicate(timeout=ENDS_WITHIN_S)

"""A gateway that takes every text after a while, a process of its own: prints its port, and ends when
standard input closes.

POST /messages  ->  200 {"id"}, after DELAY_S
GET /counts     ->  200 {"posts", "ids"} since it was last asked
"""

from __future__ import annotations

import asyncio
import json
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager

from tests.bench.place import Place, pinned

DELAY_S = 0.05


class _Taken:
    def __init__(self) -> None:
        self.posts = 0
        self.ids: set[str] = set()


class _Connection(asyncio.Protocol):
    """One request at a time, as the clients send them."""

    def __init__(self, taken: _Taken) -> None:
        self._taken = taken
        self._buffer = b""
        self._transport: asyncio.Transport | None = None

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        assert isinstance(transport, asyncio.Transport)
        self._transport = transport

    def data_received(self, data: bytes) -> None:
        self._buffer += data
        head, end, body = self._buffer.partition(b"\r\n\r\n")
        if not end or len(body) < _length(head):
            return
        self._buffer = b""
        if head.startswith(b"GET"):
            self._answer({"posts": self._taken.posts, "ids": len(self._taken.ids)})
            self._taken.posts, self._taken.ids = 0, set()
            return
        name = json.loads(body)["id"]
        self._taken.posts += 1
        self._taken.ids.add(name)
        asyncio.get_running_loop().call_later(DELAY_S, self._answer, {"id": f"stub-{name}"})

    def _answer(self, body: object) -> None:
        text = json.dumps(body).encode()
        head = f"HTTP/1.1 200 OK\r\nContent-Type: application/json\r\nContent-Length: {len(text)}\r\n\r\n"
        if self._transport is not None and not self._transport.is_closing():
            self._transport.write(head.encode() + text)


def _length(head: bytes) -> int:
    for line in head.lower().split(b"\r\n"):
        if line.startswith(b"content-length:"):
            return int(line[15:])
    return 0


@contextmanager
def running_stub(place: Place) -> Iterator[int]:
    """Start the stub; give its port."""
    with pinned(place.cores.others):
        stub = subprocess.Popen(
            [sys.executable, "-m", "tests.bench.stub"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
    with stub:  # leaving closes its standard input, on which it ends
        assert stub.stdout is not None
        yield int(stub.stdout.readline())


def counts(port: int) -> tuple[int, int]:
    """Give how many posts came since last asked, and how many different ids they had."""
    with urllib.request.urlopen(f"http://127.0.0.1:{port}/counts", timeout=10) as answer:
        found = json.load(answer)
    return found["posts"], found["ids"]


async def _serve() -> None:
    taken, loop = _Taken(), asyncio.get_running_loop()
    server = await loop.create_server(lambda: _Connection(taken), "127.0.0.1", 0, backlog=256)
    print(server.sockets[0].getsockname()[1], flush=True)
    async with server:
        await loop.run_in_executor(None, sys.stdin.read)


if __name__ == "__main__":
    asyncio.run(_serve())

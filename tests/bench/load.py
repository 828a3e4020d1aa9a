"""A load generator, a process of its own: `Load` comes in as JSON on standard input, `Answered` goes out.

Keep-alive connections written by hand, each with one request under way; this machine only, bounded in number
and time. Requests are built and signed beforehand, so that little but the sockets is at work meanwhile.
"""

from __future__ import annotations

import json
import selectors
import socket
import subprocess
import sys
from collections import Counter
from dataclasses import asdict, dataclass
from time import perf_counter, process_time

from bot.clock import machine_now
from bot.gateway.signing import key_of, sign
from tests.bench.place import pinned

MOST_REQUESTS = 50_000
LIMIT_S = 60
_NUMBERS = 800  # phones that write


@dataclass(frozen=True, slots=True)
class Load:
    """`ids` is how many different replies there are: as many as `requests`, or fewer that come again."""

    port: int
    path: str
    secret: str
    prefix: str
    requests: int
    ids: int
    connections: int
    cores: list[int]


@dataclass(frozen=True, slots=True)
class Answered:
    """Answers by status, how long all took in seconds, the latencies in milliseconds, and the share of the
    time in which this process itself was at work: near 1 it may be what limits the rate."""

    statuses: dict[str, int]
    seconds: float
    p50_ms: float
    p99_ms: float
    busy: float

    @property
    def rate(self) -> float:
        return sum(self.statuses.values()) / self.seconds


def put_load(load: Load) -> Answered:
    """Run one load in a process of its own."""
    command = [sys.executable, "-m", "tests.bench.load"]
    done = subprocess.run(
        command,
        input=json.dumps(asdict(load)),
        capture_output=True,
        text=True,
        timeout=2 * LIMIT_S,
        check=False,
    )
    if done.returncode != 0:
        raise RuntimeError(f"the load failed: {done.stderr[-2000:]}")
    return Answered(**json.loads(done.stdout))


def requests_of(load: Load) -> list[bytes]:
    """Build and sign every request."""
    key, at = key_of(load.secret), machine_now()
    made = []
    for n in range(load.requests):
        name = f"{load.prefix}-{n % load.ids}"
        body = json.dumps(
            {
                "id": name,
                "from": f"+447700900{n % _NUMBERS:03}",
                "to": "+447700900900",
                "text": f"She fed {n % 13} times, 5 wet",
                "received_at": at.isoformat(),
            }
        ).encode()
        head = (
            f"POST {load.path} HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\n"
            f"Content-Length: {len(body)}\r\n"
            f"webhook-id: {name}\r\nwebhook-timestamp: {int(at.timestamp())}\r\n"
            f"webhook-signature: {sign(key, name, at, body)}\r\n\r\n"
        )
        made.append(head.encode() + body)
    return made


def run(load: Load) -> Answered:
    """Send everything, each connection its next request as soon as the last was answered."""
    if load.requests > MOST_REQUESTS:
        raise ValueError(f"at most {MOST_REQUESTS} requests")
    waiting = iter(requests_of(load))
    statuses: Counter[str] = Counter()
    latencies: list[float] = []
    with selectors.DefaultSelector() as selector:
        begun, busy = perf_counter(), process_time()
        for _ in range(load.connections):
            request = next(waiting, None)
            if request is None:
                break
            connection = socket.create_connection(("127.0.0.1", load.port), timeout=LIMIT_S)
            connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            selector.register(connection, selectors.EVENT_READ, [perf_counter()])
            connection.sendall(request)
        while selector.get_map():
            if perf_counter() - begun > LIMIT_S:
                raise TimeoutError(f"{len(latencies)} of {load.requests} answered in {LIMIT_S} s")
            for ready, _ in selector.select(1):
                answered, sent = ready.fileobj, ready.data
                assert isinstance(answered, socket.socket)
                statuses[_status(answered.recv(65536))] += 1
                now = perf_counter()
                latencies.append(now - sent[0])
                request = next(waiting, None)
                if request is None:
                    selector.unregister(answered)
                    answered.close()
                else:
                    sent[0] = now
                    answered.sendall(request)
        seconds, busy = perf_counter() - begun, process_time() - busy
    latencies.sort()
    p50, p99 = (1000 * latencies[int(len(latencies) * share)] for share in (0.5, 0.99))
    return Answered(dict(statuses), seconds, p50, p99, busy / seconds)


def _status(answer: bytes) -> str:
    """The status of an answer, which must be whole and without a body."""
    head, end, body = answer.partition(b"\r\n\r\n")
    if not end or body:
        raise ValueError(f"not one whole answer without a body: {answer[:200]!r}")
    return head[9:12].decode()


if __name__ == "__main__":
    given = Load(**json.loads(sys.stdin.read()))
    with pinned(frozenset(given.cores)):
        print(json.dumps(asdict(run(given))))

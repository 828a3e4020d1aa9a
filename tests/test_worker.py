"""The worker drains each pass, survives its failures and stops when told."""

from __future__ import annotations

import os
import signal
import threading
from collections import deque

from bot.worker import Worker

LIMIT_S = 10


def test_a_pass_is_repeated_until_it_finds_nothing_and_begun_again_later():
    found = deque([500, 500, 3, 0, 7, 0])
    emptied = threading.Event()

    def work() -> int:
        if found:
            return found.popleft()
        emptied.set()
        return 0

    worker = Worker({"send": work}, every=0.01)
    worker.start()
    assert emptied.wait(LIMIT_S)
    worker.stop()


def test_a_pass_that_fails_is_tried_again_and_does_not_stop_the_others():
    failed, others = threading.Semaphore(0), threading.Semaphore(0)

    def fails() -> int:
        failed.release()
        raise RuntimeError("the database is away")

    def works() -> int:
        others.release()
        return 0

    worker = Worker({"fails": fails, "works": works}, every=0.01)
    worker.start()
    assert all(failed.acquire(timeout=LIMIT_S) for _ in range(2))
    assert all(others.acquire(timeout=LIMIT_S) for _ in range(10))
    worker.stop()


def test_a_pass_never_runs_twice_at_once():
    running = threading.Lock()
    doubled = threading.Event()
    passes = threading.Semaphore(0)

    def work() -> int:
        if not running.acquire(blocking=False):
            doubled.set()
            return 0
        threading.Event().wait(0.03)
        running.release()
        passes.release()
        return 0

    worker = Worker({"slow": work}, every=0.005)
    worker.start()
    assert all(passes.acquire(timeout=LIMIT_S) for _ in range(5))
    worker.stop()
    assert not doubled.is_set()


def test_a_signal_to_end_lets_the_batch_finish():
    begun, finished = threading.Event(), threading.Event()

    def work() -> int:
        begun.set()
        threading.Event().wait(0.2)
        finished.set()
        return 1  # there is more to do, but not now

    kept = {number: signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGINT)}
    killer = threading.Thread(target=end_this_process_after, args=(begun,))
    killer.start()
    try:
        Worker({"work": work}, every=0.01).run()
    finally:
        for number, handler in kept.items():
            signal.signal(number, handler)
    killer.join()
    assert finished.is_set()


def end_this_process_after(event: threading.Event) -> None:
    if event.wait(LIMIT_S):
        os.kill(os.getpid(), signal.SIGTERM)

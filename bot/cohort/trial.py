"""A small run of two schedules in the background: what stands and a draft come in, both outcomes are kept.

`begin` starts a process of its own (`python -m bot.cohort.trial FILE`), so that pages stay quick. What it
finds stands in this user's folder under a hash of what was asked: the same question is not lived twice. One
trial runs at a time.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from hashlib import sha256
from pathlib import Path
from threading import Thread
from typing import Any, Literal

from bot import __version__
from bot.clock import machine_now
from bot.cohort.outcome import Outcome, outcome
from bot.cohort.programme import shipped, world_of
from bot.cohort.run import run
from bot.content.factory import rules_of
from bot.content.lexicon_cache import folder_of_user
from bot.content.schedule import schedule_from
from bot.core.errors import DunnockError

MOTHERS, DAYS, SEED = 200, 42, 1
_LONGEST = 600  # seconds; a trial that has not ended by then is given up
_MOST_KEPT = 20

State = Literal["none", "running", "another", "done", "failed"]
Request = Mapping[
    str, Any
]  # standing and drafted: bodies of schedules; rules: of an edition; unsigned: codes


@dataclass(frozen=True, slots=True)
class Trial:
    """`outcomes` are there when it is done; `another`: one with another draft runs just now."""

    state: State
    outcomes: tuple[Outcome, ...] = ()


def trial_of(request: Request) -> Trial:
    """How far the trial of this request is."""
    folder = folder_of_user()
    if folder is None:
        return Trial("none")
    result = _result(folder, request)
    with suppress(OSError, ValueError, KeyError):
        found = json.loads(result.read_text("utf-8"))
        return Trial("done", (found["now"], found["changed"])) if "now" in found else Trial("failed")
    running = [path for path in folder.glob("trial-*.running") if _is_fresh(path)]
    if running:
        return Trial("running" if result.with_suffix(".running") in running else "another")
    return Trial("none")


def begin(request: Request) -> Trial:
    """Start the trial unless it is done or one runs; gives how far it is."""
    found, folder = trial_of(request), folder_of_user()
    if found.state not in ("none", "failed") or folder is None:
        return found
    result = _result(folder, request)
    running = result.with_suffix(".running")
    result.unlink(missing_ok=True)
    running.unlink(missing_ok=True)  # of one that was given up
    try:
        running.touch(mode=0o600, exist_ok=False)
    except FileExistsError:
        return Trial("running")  # somebody else began it just now
    process = subprocess.Popen(
        [sys.executable, "-m", "bot.cohort.trial", str(result)],
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        cwd=Path(__file__).parents[2],
    )
    Thread(target=process.communicate, args=(_bytes(request),), daemon=True).start()  # and no process is left
    return Trial("running")


def live_both(request: Request) -> dict[str, Outcome]:
    """Let the same mothers live by both schedules."""
    found, mothers = {}, request["mothers"]
    for name, body in (("now", request["standing"]), ("changed", request["drafted"])):
        content = replace(
            shipped(),
            schedule=schedule_from(body),
            rules=rules_of(request["rules"]),
            unsigned=frozenset(request["unsigned"]),
        )
        world = world_of(content, days=request["days"], seed=SEED)
        found[name] = outcome(world, run(world, mothers), mothers, world.assumed.staff.counsellors)
    return found


def main(result: Path) -> None:
    """Live what is asked on standard input; keep what was found, or that it failed."""
    if hasattr(os, "nice"):
        os.nice(10)
    try:
        _keep(result, live_both(json.load(sys.stdin)))
    except DunnockError as error:
        _keep(result, {"error": str(error)})
    finally:
        result.with_suffix(".running").unlink(missing_ok=True)
        kept = sorted(result.parent.glob("trial-*.json"), key=lambda path: path.stat().st_mtime, reverse=True)
        for path in kept[_MOST_KEPT:]:
            path.unlink(missing_ok=True)


def _keep(result: Path, found: Mapping[str, object]) -> None:
    """Written aside and renamed: a page sees a whole result or none."""
    handle, aside = tempfile.mkstemp(dir=result.parent, prefix="trial-", suffix=".new")
    with os.fdopen(handle, "w", encoding="utf-8") as file:
        json.dump(found, file)
    Path(aside).replace(result)


def _is_fresh(running: Path) -> bool:
    with suppress(OSError):
        return machine_now().timestamp() - running.stat().st_mtime < _LONGEST
    return False


def _result(folder: Path, request: Request) -> Path:
    asked = sha256(f"{__version__} {SEED} ".encode() + _bytes(request))
    return folder / f"trial-{asked.hexdigest()[:40]}.json"


def _bytes(request: Request) -> bytes:
    return json.dumps({"mothers": MOTHERS, "days": DAYS, **request}, sort_keys=True).encode()


if __name__ == "__main__":
    main(Path(sys.argv[1]))

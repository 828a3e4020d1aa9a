"""python -m tests.bench: every figure of the program's speed, each beside its baseline in the same run.

--only NAME   one benchmark (may be repeated): reader, loop, enrol, webhook, send, due, cohort
--quick       fewer rounds and smaller tables: a look, not a result
--write       put the table into README.md between its marks
--json FILE   keep the figures
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import sqlite3
import sys
from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import asdict
from pathlib import Path
from time import perf_counter

from tests.bench import cohort, due, enrolling, loop, reader, sending, webhook
from tests.bench.measure import Results
from tests.bench.place import Place
from tests.bench.table import between_marks, markdown

BENCHMARKS: Mapping[str, Callable[[Place], Results]] = {
    "reader": reader.bench,
    "loop": loop.bench,
    "webhook": webhook.bench,
    "send": sending.bench,
    "enrol": enrolling.bench,
    "due": due.bench,
    "cohort": cohort.bench,
}
README = Path(__file__).parents[2] / "README.md"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run what was asked for; print the table. Exits 1 when the README has no place for it."""
    args = _parser().parse_args(arguments)
    found: dict[str, Results] = {}
    for name in args.only or BENCHMARKS:
        begun = perf_counter()
        with ExitStack() as stack:
            found[name] = BENCHMARKS[name](Place(stack, quick=args.quick))
        print(f"{name}: {perf_counter() - begun:.0f} s", file=sys.stderr, flush=True)
    table = markdown(found.values(), machine=machine(), quick=args.quick)
    print(table)
    if args.json:
        args.json.write_text(
            json.dumps({name: asdict(each) for name, each in found.items()}, indent=1), "utf-8"
        )
    if args.write:
        return _write(table)
    return 0


def machine() -> str:
    """Say what this machine is, as far as the figures depend on it."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    return (
        f"{cores} cores, {platform.system()} {platform.machine()}, Python {platform.python_version()}, "
        f"SQLite {sqlite3.sqlite_version}; load {os.getloadavg()[0]:.1f} when asked"
    )


def _write(table: str) -> int:
    text = README.read_text("utf-8") if README.exists() else ""
    changed = between_marks(text, table)
    if changed is None:
        print(f"{README.name} has no marks for the table; nothing was written.", file=sys.stderr)
        return 1
    README.write_text(changed, "utf-8")
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description="How fast the program is.")
    parser.add_argument(
        "--only", action="append", choices=list(BENCHMARKS), help="one benchmark; may be repeated"
    )
    parser.add_argument("--quick", action="store_true", help="fewer rounds and smaller tables")
    parser.add_argument("--write", action="store_true", help="put the table into README.md")
    parser.add_argument("--json", type=Path, metavar="FILE", help="keep the figures")
    return parser


if __name__ == "__main__":
    sys.exit(main())

"""JSON lines in and out: one object a line, each with its `id`; a bad line is told and passed over."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Mapping
from typing import Any, TextIO

from bot.core.errors import DunnockError, Invalid, Problem

Answer = Callable[[Mapping[str, Any]], Mapping[str, Any]]


def run(
    answer: Answer, *, allowed: frozenset[str], required: frozenset[str], source: TextIO | None = None
) -> None:
    """Answer each line of `source` (standard input) with one line, keeping `id`. Exits 1 after a bad line."""
    failed = False
    for line in source or sys.stdin:
        if not line.strip():
            continue
        result, bad = _one(line, answer, allowed, required)
        failed |= bad
        sys.stdout.write(json.dumps(result, ensure_ascii=False) + "\n")
        sys.stdout.flush()
    if failed:
        sys.exit(1)


def _one(
    line: str, answer: Answer, allowed: frozenset[str], required: frozenset[str]
) -> tuple[Mapping[str, Any], bool]:
    request: Any = None
    try:
        request = json.loads(line)
        check_keys(request, allowed, required)
        return {"id": request.get("id")} | dict(answer(request)), False
    except json.JSONDecodeError as error:
        return {"id": None, "error": f"This line is not JSON: {error}"}, True
    except DunnockError as error:
        name = request.get("id") if isinstance(request, dict) else None
        return {"id": name, "error": "; ".join(str(error).splitlines())}, True


def check_keys(request: Any, allowed: frozenset[str], required: frozenset[str]) -> None:
    """Refuse what is not an object, unknown keys and missing ones, all at once. Raises Invalid."""
    if not isinstance(request, dict):
        raise Invalid([Problem("", "A line must be one JSON object.")])
    problems = [
        Problem(key, f"unknown key; allowed are {', '.join(sorted(allowed | {'id'}))}")
        for key in sorted(set(request) - allowed - {"id"})
    ]
    problems += [Problem(key, "is missing") for key in sorted(required - set(request))]
    if problems:
        raise Invalid(problems)

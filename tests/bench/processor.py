"""How much of the processor some processes have used, read from Linux's /proc; nothing elsewhere."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

_PROC = Path("/proc")
_DATABASE = "postgres"


@dataclass(frozen=True, slots=True)
class _Process:
    name: str
    parent: int
    ticks: int  # with those of children that have ended


def used_by(server: int, *, database: bool) -> float | None:
    """Give the seconds that the process `server` and its children have used so far, and with `database` those
    of the PostgreSQL that runs under this very process. None where they can't be known."""
    found = _processes()
    if server not in found:
        return None
    counted = [
        process
        for pid, process in found.items()
        if _descends(found, pid, server)
        or (database and process.name == _DATABASE and _descends(found, pid, os.getpid()))
    ]
    return sum(process.ticks for process in counted) / os.sysconf("SC_CLK_TCK")


def _processes() -> dict[int, _Process]:
    found = {}
    for folder in _PROC.glob("[0-9]*"):
        try:
            text = (folder / "stat").read_text("utf-8", "replace")
        except OSError:
            continue  # it has ended meanwhile
        name, _, rest = text.partition("(")[2].rpartition(")")  # a name may hold anything
        fields = rest.split()
        found[int(folder.name)] = _Process(name, int(fields[1]), sum(map(int, fields[11:15])))
    return found


def _descends(found: dict[int, _Process], pid: int, ancestor: int) -> bool:
    while pid in found:
        if pid == ancestor:
            return True
        pid = found[pid].parent
    return False

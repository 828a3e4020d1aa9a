"""The phones behind the stand-in: texts to and from each number, kept in an SQLite file or in memory."""

from __future__ import annotations

import sqlite3
import threading
from dataclasses import dataclass
from datetime import datetime
from uuid import uuid4

_TABLES = """
CREATE TABLE IF NOT EXISTS text (id TEXT PRIMARY KEY, ref TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS line (
    n INTEGER PRIMARY KEY, number TEXT NOT NULL, hers INTEGER NOT NULL, id TEXT NOT NULL, text TEXT NOT NULL,
    at TEXT NOT NULL);
CREATE INDEX IF NOT EXISTS line_number ON line (number, n);
"""


@dataclass(frozen=True, slots=True)
class Line:
    """One text on a phone; `hers` if she wrote it. A text that came twice stands twice, with the same id."""

    id: str
    hers: bool
    text: str
    at: str  # ISO 8601


@dataclass(frozen=True, slots=True)
class Arrival:
    """A text, its phone, and how many times it came or, of hers, was written."""

    number: str
    id: str
    hers: bool
    at: str  # ISO 8601, of the last time
    times: int


class Phones:
    """Safe in many threads."""

    def __init__(self, file: str = ":memory:") -> None:
        self._lock = threading.Lock()
        self._db = sqlite3.connect(file, check_same_thread=False, isolation_level=None)
        self._db.executescript(_TABLES)

    def receive(self, text_id: str, number: str, text: str, at: datetime) -> str:
        """Put a text from the programme on a phone; give the name by which reports call it, the same for the
        same id."""
        with self._lock:
            self._db.execute(
                "INSERT OR IGNORE INTO text VALUES (?, ?)", (text_id, f"standin-{uuid4().hex[:12]}")
            )
            self._add(number, False, text_id, text, at)
            (ref,) = self._db.execute("SELECT ref FROM text WHERE id = ?", (text_id,)).fetchone()
        return str(ref)

    def write(self, number: str, text: str, at: datetime) -> str:
        """Put a text that she wrote on her phone; give its id."""
        reply_id = f"reply-{uuid4().hex[:12]}"
        with self._lock:
            self._add(number, True, reply_id, text, at)
        return reply_id

    def lines(self, number: str) -> list[Line]:
        """Give all texts of a phone, oldest first."""
        with self._lock:
            rows = self._db.execute(
                "SELECT id, hers, text, at FROM line WHERE number = ? ORDER BY n", (number,)
            )
            return [Line(row_id, bool(hers), text, at) for row_id, hers, text, at in rows]

    def numbers(self) -> list[str]:
        """Give the numbers that have texts, the one with the newest text first."""
        with self._lock:
            rows = self._db.execute("SELECT number FROM line GROUP BY number ORDER BY max(n) DESC")
            return [number for (number,) in rows]

    def latest(self, most: int) -> list[Arrival]:
        """Give the texts that passed last, of all phones, newest first."""
        with self._lock:
            rows = self._db.execute(
                "SELECT number, id, hers, max(at), count(*) FROM line GROUP BY id, number, hers "
                "ORDER BY max(n) DESC LIMIT ?",
                (most,),
            )
            return [Arrival(number, row, bool(hers), at, times) for number, row, hers, at, times in rows]

    def counts(self) -> dict[str, int]:
        """Give how many texts came, how often they came in all, and how many she wrote."""
        with self._lock:
            (texts,) = self._db.execute("SELECT count(*) FROM text").fetchone()
            (came, hers) = self._db.execute(
                "SELECT coalesce(sum(NOT hers), 0), coalesce(sum(hers), 0) FROM line"
            ).fetchone()
        return {"texts": texts, "came": came, "replies": hers}

    def close(self) -> None:
        with self._lock:
            self._db.close()

    def _add(self, number: str, hers: bool, text_id: str, text: str, at: datetime) -> None:
        self._db.execute(
            "INSERT INTO line (number, hers, id, text, at) VALUES (?, ?, ?, ?, ?)",
            (number, hers, text_id, text, at.isoformat(timespec="milliseconds")),
        )

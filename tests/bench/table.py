"""The figures as a Markdown table, and its place in a file."""

from __future__ import annotations

from collections.abc import Iterable

from tests.bench.measure import POSTGRES, SQLITE, Results

BEGIN, END = "<!-- bench: begin -->", "<!-- bench: end -->"
_HEAD = ("| What | SQLite | PostgreSQL | Goal |", "| --- | --- | --- | --- |")


def markdown(found: Iterable[Results], *, machine: str, quick: bool) -> str:
    """Give the table with what must be known to read it."""
    results = list(found)
    looked = " A quick look, not a result." if quick else ""
    lines = [f"Measured on {machine}; median (smallest to largest) of the rounds.{looked}", "", *_HEAD]
    for result in results:
        for line in result.lines:
            lines.append(f"| {line.what} | {line.cell(SQLITE)} | {line.cell(POSTGRES)} | {line.verdict} |")
    notes = [f"- {note}" for result in results for note in result.notes]
    return "\n".join([*lines, *(["", *notes] if notes else [])])


def between_marks(text: str, table: str) -> str | None:
    """Put `table` between the marks in `text`; None where the marks are missing or in the wrong order."""
    before, begin, rest = text.partition(BEGIN)
    _, end, after = rest.partition(END)
    if not (begin and end):
        return None
    return f"{before}{BEGIN}\n{table}\n{END}{after}"

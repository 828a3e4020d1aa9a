"""Mothers are enrolled from a CSV file, one row a baby: each external id is stored or refused whole, every
bad row is named with its line and the reason, and the same file may come again.

UTF-8 with or without a byte-order mark; cells are parted by commas or semicolons, as the header shows.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from bot.core.enrolment.fields import Fault, clean
from bot.core.enrolment.flat import Group, Row, grouped, read_header
from bot.core.errors import Invalid, Problem
from bot.core.follow import Content
from bot.steps.enrolment import Door, Enrolment, enrol_many
from bot.store.engine import Store
from bot.store.sites import all_sites

BATCH = 500  # mothers stored in one transaction


@dataclass(slots=True)
class Report:
    """How a file went. Numbers are of mothers, `lines` are plain words for each that needs a look."""

    rows: int = 0
    stored: int = 0
    already: int = 0
    refused: int = 0
    lines: list[str] = field(default_factory=list)

    @property
    def summary(self) -> str:
        return (
            f"{self.rows} rows read. Mothers: {self.stored} enrolled now, {self.already} enrolled before, "
            f"{self.refused} refused."
        )


def enrol_csv(
    store: Store,
    content: Content,
    path: Path,
    *,
    languages: tuple[str, ...],
    demo: bool,
    now: Callable[[], datetime],
    progress: Callable[[Report], None] = lambda report: None,
) -> Report:
    """Enrol everybody in the file at `path`, at any site. `progress` is called after each batch.

    Raises Invalid, with nothing stored, when the file as a whole can't be read or its header is wrong.
    """
    rows, report = read_rows(path), Report()
    report.rows = len(rows)
    groups = grouped(rows)
    with store.read() as conn:
        sites = [site.id for site in all_sites(conn)]
    door = Door("csv", sites, languages, demo)
    for start in range(0, len(groups), BATCH):
        batch = groups[start : start + BATCH]
        whole = [group for group in batch if not group.faults]
        done = iter(enrol_many(store, content, door, [group.raw for group in whole], now()))
        for group in batch:
            _tell(report, group, None if group.faults else next(done))
        progress(report)
    return report


def read_rows(path: Path) -> list[Row]:
    """Read the whole file. Raises Invalid naming every fault of its form."""
    text = _decoded(path)
    first = text.split("\n", 1)[0]
    delimiter = ";" if first.count(";") > first.count(",") else ","
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    header = next(_records(reader, path), None)
    if header is None:
        raise Invalid([Problem(path.name, "is empty; its first line must name the columns")])
    columns, problems = read_header(header[1])
    if problems:
        raise Invalid(problems)
    return [_row(line, columns, cells) for line, cells in _records(reader, path)]


def _row(line: int, columns: Sequence[str], cells: Sequence[str]) -> Row:
    fault = ""
    if len(cells) != len(columns):
        fault = f"has {len(cells)} cells, but the header has {len(columns)}; a mark is missing or too much"
    trimmed = zip(columns, map(clean, cells), strict=False)
    return Row(line, {column: cell for column, cell in trimmed if cell}, fault)


def _decoded(path: Path) -> str:
    try:
        body = path.read_bytes()
    except OSError as error:
        raise Invalid([Problem(str(path), f"can't be read: {error.strerror}")]) from error
    try:
        return body.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = body.count(b"\n", 0, error.start) + 1
        words = f"line {line} is not UTF-8; save the file as 'CSV UTF-8' and try again"
        raise Invalid([Problem(path.name, words)]) from error


def _records(reader: Iterator[list[str]], path: Path) -> Iterator[tuple[int, list[str]]]:
    """Give each record that holds anything, with the line it begins on."""
    line = 1 + reader.line_num  # type: ignore[attr-defined]
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                yield line, cells
            line = 1 + reader.line_num  # type: ignore[attr-defined]
    except csv.Error as error:
        raise Invalid(
            [Problem(f"{path.name}, line {line}", f"can't be read from here on: {error}")]
        ) from error


def _tell(report: Report, group: Group, done: Enrolment | None) -> None:
    """Count a mother, and say what a person must know of her."""
    faults = group.faults if done is None else done.faults
    if done is None or done.pair is None:
        report.refused += 1
        report.lines += [_words(group, fault) for fault in faults]
    elif done.already:
        report.already += 1
        if done.differs:
            columns = ", ".join(dict.fromkeys(group.place_of(name)[1] for name in done.differs))
            where = f"line {group.rows[0].line} ({group.external_id})"
            report.lines.append(f"{where}: enrolled before and left as it is; the file differs in {columns}")
    else:
        report.stored += 1


def _words(group: Group, fault: Fault) -> str:
    line, column = group.place_of(fault.field)
    name = f" ({group.external_id})" if group.external_id else ""
    where = f", {column}" if column else ""
    accept = f" (to accept it, write {column} into the column confirmed)" if fault.confirm else ""
    return f"line {line}{name}{where}: {fault.message}{accept}"

"""A file of mothers is enrolled: whole external ids, every bad row named, safe to repeat."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

import pytest

from bot.core.errors import Invalid
from bot.core.follow import Content
from bot.steps.enrolment_file import Report, enrol_csv
from bot.store.engine import Store
from bot.store.sites import add_site
from tests.core.test_enrolment_flat import WHOLE
from tests.steps.test_enrolment import enrolments
from tests.support.discharges import NOW
from tests.support.pairs import a_site


@pytest.fixture
def ward(store: Store) -> Store:
    with store.write() as conn:
        add_site(conn, a_site(region="GB"))
    return store


def rows(n: int, **cells: str) -> list[dict[str, str]]:
    return [
        WHOLE | {"external_id": f"W-{i}", "mother_phone": f"07700 900{i:03}"} | cells for i in range(1, n + 1)
    ]


def a_file(path: Path, lines: list[dict[str, str]], *, delimiter: str = ",", encoding: str = "utf-8") -> Path:
    columns = list(dict.fromkeys(name for line in lines for name in line))
    text = io.StringIO()
    writer = csv.DictWriter(text, columns, delimiter=delimiter)
    writer.writeheader()
    writer.writerows(lines)
    path.write_bytes(text.getvalue().encode(encoding))
    return path


def run(store: Store, content: Content, path: Path, **given: Any) -> Report:
    return enrol_csv(store, content, path, languages=("en", "ar"), demo=True, now=lambda: NOW, **given)


@pytest.mark.parametrize("delimiter", [",", ";"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig"])
def test_a_file_is_enrolled_in_each_usual_form(ward, content, tmp_path, delimiter, encoding):
    lines = rows(2, mother_name="أمينة", lives_at="Hill Road; third house, left")
    report = run(ward, content, a_file(tmp_path / "m.csv", lines, delimiter=delimiter, encoding=encoding))
    assert (report.rows, report.stored, report.refused, report.lines) == (2, 2, 0, [])
    assert enrolments(ward) == 2


def test_the_same_file_again_changes_nothing(ward, content, tmp_path):
    path = a_file(tmp_path / "m.csv", rows(3))
    run(ward, content, path)
    again = run(ward, content, path)
    assert (again.stored, again.already, again.refused, again.lines) == (0, 3, 0, [])
    changed = rows(3)
    changed[1]["baby_birth_weight_g"] = "3100"
    report = run(ward, content, a_file(tmp_path / "m.csv", changed))
    assert report.lines == [
        "line 3 (W-2): enrolled before and left as it is; the file differs in baby_birth_weight_g"
    ]
    assert enrolments(ward) == 3


def test_every_bad_row_is_named_and_the_good_ones_are_stored(ward, content, tmp_path):
    lines = rows(4)
    lines[1]["baby_birth_weight_g"] = "90"
    lines[1]["mother_language"] = "xx"
    lines[2]["baby_birth_weight_g"] = "1200"
    report = run(ward, content, a_file(tmp_path / "m.csv", lines))
    assert (report.stored, report.refused) == (2, 2)
    assert report.lines == [
        "line 3 (W-2), mother_language: must be one of: en, ar",
        "line 3 (W-2), baby_birth_weight_g: must lie between 400 and 7000 g",
        "line 4 (W-3), baby_birth_weight_g: is under 1500 g; check and confirm it "
        "(to accept it, write baby_birth_weight_g into the column confirmed)",
    ]


def test_twins_are_refused_whole_when_one_row_is_bad(ward, content, tmp_path):
    lines = [*rows(2), WHOLE | {"external_id": "W-1", "mother_phone": "", "baby_born_at": "tomorrow"}]
    report = run(ward, content, a_file(tmp_path / "m.csv", lines))
    assert (report.stored, report.refused) == (1, 1)
    assert report.lines[0].startswith("line 4 (W-1), baby_born_at:")
    assert enrolments(ward) == 1


def test_a_row_with_a_cell_too_many_is_refused_with_its_line(ward, content, tmp_path):
    path = a_file(tmp_path / "m.csv", rows(2))
    body = path.read_text("utf-8").splitlines()
    body[1] += ",more"
    path.write_text("\n\n".join(body), "utf-8")  # empty lines between are no rows
    report = run(ward, content, path)
    assert (report.rows, report.stored, report.refused) == (2, 1, 1)
    assert report.lines == [
        "line 3 (W-1): has 11 cells, but the header has 10; a mark is missing or too much"
    ]


def test_more_than_one_batch_is_stored_and_progress_is_told(ward, content, tmp_path, monkeypatch):
    monkeypatch.setattr("bot.steps.enrolment_file.BATCH", 4)
    told = []
    path = a_file(tmp_path / "m.csv", rows(10))
    report = run(ward, content, path, progress=lambda so_far: told.append(so_far.stored))
    assert told == [4, 8, 10]
    assert report.summary == "10 rows read. Mothers: 10 enrolled now, 0 enrolled before, 0 refused."


@pytest.mark.parametrize(
    ("body", "said"),
    [
        (b"", "is empty"),
        (b"external_id,colour\n", "colour: no enrolment has this column"),
        (b"external_id\nW-\xff\n", "line 2 is not UTF-8"),
        (
            b'external_id,site,mother_name,mother_language,baby_born_at,discharged_at,consent\n"W-1,x\n',
            "can't be read",
        ),
    ],
)
def test_a_file_that_can_not_be_read_stores_nothing_and_says_why(ward, content, tmp_path, body, said):
    path = tmp_path / "m.csv"
    path.write_bytes(body)
    with pytest.raises(Invalid, match=said):
        run(ward, content, path)
    assert enrolments(ward) == 0


def test_a_file_that_is_not_there_is_named(ward, content, tmp_path):
    with pytest.raises(Invalid, match=r"missing\.csv"):
        run(ward, content, tmp_path / "missing.csv")

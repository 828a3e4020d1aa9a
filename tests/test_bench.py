"""The benchmarks run and say what they found; how fast anything was is not tested."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

from tests.bench.measure import Cell, Goal, Line, Results, Spread
from tests.bench.table import BEGIN, END, between_marks, markdown

ROOT = Path(__file__).parents[1]


def test_one_command_runs_a_benchmark_and_keeps_its_figures(tmp_path):
    kept = tmp_path / "figures.json"
    command = [sys.executable, "-m", "tests.bench", "--quick", "--only", "reader", "--json", str(kept)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    assert "| What | SQLite | PostgreSQL | Goal |" in done.stdout
    lines = json.loads(kept.read_text("utf-8"))["reader"]["lines"]
    assert all(line["cells"][""]["spread"]["median"] > 0 for line in lines)


def test_a_goal_is_held_against_the_median_of_each_engine():
    cells = {"sqlite": Cell(Spread(0.2, 0.4, 0.9)), "postgresql": Cell(Spread(0.2, 0.3, 0.9))}
    assert Line("x", cells, Goal(0.35)).verdict == "at least 0.35: missed on postgresql"
    assert Line("x", cells, Goal(0.5)).verdict == "at least 0.5: missed"
    assert Line("x", cells, Goal(0.4, at_most=True)).verdict == "at most 0.4: met"
    assert Line("x", cells).verdict == "-"


def test_the_table_stands_between_its_marks_and_nothing_else_changes():
    table = markdown(
        [Results([Line("x", {"sqlite": Cell(Spread(1, 2, 3))})])], machine="a machine", quick=False
    )
    text = between_marks(f"before\n{BEGIN}\nold\n{END}\nafter", table)
    assert text == f"before\n{BEGIN}\n{table}\n{END}\nafter"
    assert between_marks("no marks", table) is None
    assert "| x | 2.00 (1.00 to 3.00) | - | - |" in table

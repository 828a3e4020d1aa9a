"""The hazard log is whole, and every test that it names is there."""

from __future__ import annotations

import ast
from collections.abc import Mapping
from pathlib import Path

import pytest

from bot.content.hazards import Hazard, load_hazards
from bot.content.source import content_root
from bot.core.errors import Invalid

ROOT = Path(__file__).parents[2]


def gone(hazards: Mapping[str, Hazard], root: Path) -> list[str]:
    """The named tests that no file holds."""
    return [test for hazard in hazards.values() for test in hazard.tests if not is_there(test, root)]


def is_there(test: str, root: Path) -> bool:
    path, _, name = test.partition("::")
    if not (root / path).is_file():
        return False
    body = ast.parse((root / path).read_text("utf-8")).body
    return any(isinstance(node, ast.FunctionDef) and node.name == name for node in body)


def test_every_test_that_the_log_names_is_there():
    assert gone(load_hazards(content_root()), ROOT) == []


def test_a_test_that_is_gone_is_named(tmp_path: Path):
    (tmp_path / "tests").mkdir()
    (tmp_path / "tests" / "test_one.py").write_text("def test_here():\n    assert True\n")
    log = {
        "x": Hazard(
            hazard="h", cause="c", control="c", left="",
            tests=[f"tests/test_{n}" for n in ("one.py::test_here", "one.py::test_gone", "two.py::test_x")],
        )
    }  # fmt: skip
    assert gone(log, tmp_path) == ["tests/test_one.py::test_gone", "tests/test_two.py::test_x"]


def test_every_fault_of_the_log_is_named_at_once(tmp_path: Path):
    (tmp_path / "messages").mkdir()
    (tmp_path / "messages" / "hazards.toml").write_text(
        '[one]\nhazard = "h"\ncause = "c"\ncontrol = "c"\ntests = ["test_x"]\nleft = ""\n'
        '[two]\nhazard = "h"\n'
    )
    with pytest.raises(Invalid) as refused:
        load_hazards(tmp_path)
    named = [problem.field for problem in refused.value.problems]
    assert named == [
        "hazards.toml [one] tests",
        *(f"hazards.toml [two] {key}" for key in ("cause", "control", "tests", "left")),
    ]

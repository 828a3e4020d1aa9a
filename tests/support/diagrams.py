"""The state diagrams of the contributor guide, drawn from the tables of allowed moves.

`python -m tests.support.diagrams` writes them into DEVELOPERS.md, between the two marks.
"""

from __future__ import annotations

import re
from pathlib import Path

from bot.core.states import MOVES, State

GUIDE = Path(__file__).resolve().parents[2] / "DEVELOPERS.md"
BEGIN, END = "<!-- states: begin -->", "<!-- states: end -->"
_WORDS = re.compile(r"(?<!^)(?=[A-Z])")


def diagrams() -> str:
    """Every machine: what each state means, and a diagram in Mermaid's state notation."""
    return "\n\n".join(_machine(states) for states in MOVES)


def _machine(states: type[State]) -> str:
    name = _WORDS.sub(" ", states.__name__.removesuffix("State")).lower()
    meanings = [f"- `{state.value}`: {state.sentence}" for state in states]
    moves = [f"    {before.value} --> {after.value}" for before in states for after in _after(before)]
    return "\n".join([f"#### {name}", "", *meanings, "", "```mermaid", "stateDiagram-v2", *moves, "```"])


def _after(state: State) -> list[State]:
    return [after for after in type(state) if after in MOVES[type(state)][state]]


def with_diagrams(guide: str) -> str:
    """The guide with the diagrams as they are by now."""
    before, _, rest = guide.partition(BEGIN)
    _, _, after = rest.partition(END)
    return f"{before}{BEGIN}\n\n{diagrams()}\n\n{END}{after}"


if __name__ == "__main__":
    GUIDE.write_text(with_diagrams(GUIDE.read_text("utf-8")), "utf-8")

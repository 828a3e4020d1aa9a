"""How well the reader reads the corpus: `python -m tests.corpus.report [LANGUAGE ...] [--failures|--write]`.

Prints, for each language and part, the confusion table of intents and the figures with their 95% bounds
(Wilson). --failures lists what fails in the parts for tuning; part b, kept for measuring, is never listed
one by one. --write puts the figures of half b of every language into README.md.
"""

import json
import math
import sys
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from bot.content.lexicon import load_lexicons
from bot.core.reader import Lexicon, read
from bot.core.reader.report import to_json

HERE = Path(__file__).parent
MESSAGES = HERE.parents[1] / "messages"
JUDGED = ("intent", "answers", "danger_signs", "needs_person")
REACHING = ("bereaved", "wrong_number", "call_me")


@dataclass(slots=True)
class Figures:
    """Counts of one half: by name, hits and trials."""

    hits: Counter[str] = field(default_factory=Counter)
    trials: Counter[str] = field(default_factory=Counter)
    confusion: Counter[tuple[str, str]] = field(default_factory=Counter)

    def count(self, name: str, hit: bool) -> None:
        self.trials[name] += 1
        self.hits[name] += hit

    def share(self, name: str) -> float:
        """Share of hits; 1.0 where there was nothing to hit."""
        return self.hits[name] / self.trials[name] if self.trials[name] else 1.0


def wilson(hits: int, trials: int, z: float = 1.96) -> tuple[float, float]:
    """95% bounds of a share (Wilson 1927, score interval)."""
    if not trials:
        return 0.0, 1.0
    p, n = hits / trials, trials
    middle = (p + z * z / (2 * n)) / (1 + z * z / n)
    half = z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n)) / (1 + z * z / n)
    return max(0.0, middle - half), min(1.0, middle + half)


def lines(name: str) -> Iterator[dict[str, Any]]:
    """The replies of one file, such as 'en_a'."""
    with (HERE / f"{name}.jsonl").open(encoding="utf-8") as file:
        yield from (json.loads(line) for line in file if line.strip())


def reading_of(line: dict[str, Any], lexicons: dict[str, Lexicon]) -> dict[str, Any]:
    """What the reader makes of one line."""
    asking = line["asking"]
    asked = [asking] if isinstance(asking, str) else list(asking)
    asked = [a for a in asked if a != "none"]
    return to_json(read(line["text"], asked, line.get("age_days"), lexicons[line["language"]]))


def allowed(line: dict[str, Any]) -> list[dict[str, Any]]:
    """The readings that count as right."""
    return line.get("expect_any") or [line["expect"]]


def is_right(got: dict[str, Any], expected: Iterable[dict[str, Any]]) -> bool:
    return any(all(got[key] == e[key] for key in JUDGED) for e in expected)


def measure(name: str, lexicons: dict[str, Lexicon]) -> Figures:
    """All figures of one file."""
    figures = Figures()
    for line in lines(name):
        _count(figures, reading_of(line, lexicons), allowed(line))
    return figures


def _count(figures: Figures, got: dict[str, Any], expected: list[dict[str, Any]]) -> None:
    figures.confusion[expected[0]["intent"], got["intent"]] += 1
    figures.count("wholly right", is_right(got, expected))
    if any(_numbers(e) for e in expected):
        figures.count("numbers exact", any(_numbers(got) == _numbers(e) for e in expected))
    differs = bool(got["answers"]) and all(got["answers"] != e["answers"] for e in expected)
    figures.count("not silently wrong", not (differs and not got["needs_person"]))
    if all(e["danger_signs"] for e in expected):
        figures.count("danger reaches a person", got["needs_person"])
        figures.count(
            "danger named", any(set(got["danger_signs"]) >= set(e["danger_signs"]) for e in expected)
        )
    permitted = {s for e in expected for s in e["danger_signs"]}
    for sign in got["danger_signs"]:
        figures.count("named danger is there", sign in permitted)
    intents = {e["intent"] for e in expected}
    if intents == {"opt_out"}:
        figures.count("opt-out heard", got["intent"] == "opt_out")
    if got["intent"] == "opt_out":
        figures.count("opt-out is one", "opt_out" in intents)
    if all(e["needs_person"] for e in expected) and intents <= {*REACHING}:
        figures.count("calls, deaths, wrong numbers reach a person", got["needs_person"])
    if not any(e["needs_person"] for e in expected):
        figures.count("ordinary reply left alone", not got["needs_person"])


def _numbers(reading: dict[str, Any]) -> dict[str, Any]:
    return {q: a for q, a in reading["answers"].items() if isinstance(a, dict)}


def _print(name: str, figures: Figures) -> None:
    print(f"\n{name}: {figures.trials['wholly right']} replies")
    for figure, trials in figures.trials.items():
        low, high = wilson(figures.hits[figure], trials)
        share = figures.share(figure)
        print(f"  {figure:<45} {figures.hits[figure]:>4}/{trials:<4} {share:7.1%}  ({low:.1%} to {high:.1%})")
    intents = sorted({i for pair in figures.confusion for i in pair})
    print("  expected (first allowed) down, read across")
    print("  " + " " * 13 + " ".join(f"{i[:9]:>9}" for i in intents))
    for expected in intents:
        row = " ".join(f"{figures.confusion[expected, got] or '.':>9}" for got in intents)
        print(f"  {expected:<13}{row}")


def _print_failures(name: str, lexicons: dict[str, Lexicon]) -> None:
    for line in lines(name):
        got = reading_of(line, lexicons)
        if not is_right(got, allowed(line)):
            short = {k: got[k] for k in (*JUDGED, "reasons", "notes")}
            print(f"{line['id']} {line['asking']} {line['text']!r}\n   got      {short}")
            for e in allowed(line)[:2]:
                print(f"   expected {e}")


COLUMNS = {
    "numbers exact": "numbers exact",
    "silently wrong": "not silently wrong",
    "danger reaches a person": "danger reaches a person",
    "danger named": "danger named",
    "named danger is there": "named danger is there",
    "ordinary left alone": "ordinary reply left alone",
    "opt-out heard": "opt-out heard",
}
BEGIN, END = "<!-- reader: begin -->", "<!-- reader: end -->"


def table(lexicons: dict[str, Lexicon]) -> str:
    """The figures of half b, one row a language, with their 95% bounds."""
    rows = [f"| half *b* | replies | {' | '.join(COLUMNS)} |", "| --- " * (len(COLUMNS) + 2) + "|"]
    for code in sorted(lexicons, key=lambda code: (code != "en", code)):
        if not (HERE / f"{code}_b.jsonl").exists():
            continue
        figures = measure(f"{code}_b", lexicons)
        cells = [_cell(figures, name, wrong=shown == "silently wrong") for shown, name in COLUMNS.items()]
        rows.append(f"| {code} | {figures.trials['wholly right']} | {' | '.join(cells)} |")
    return "\n".join(rows)


def _cell(figures: Figures, name: str, *, wrong: bool) -> str:
    hits, trials = figures.hits[name], figures.trials[name]
    hits = trials - hits if wrong else hits
    low, high = wilson(hits, trials)
    return f"{100 * hits / trials:.1f} ({100 * low:.1f} to {100 * high:.1f})" if trials else "-"


def write(lexicons: dict[str, Lexicon]) -> None:
    """Put the table into README.md, in place of the one before."""
    readme = HERE.parents[1] / "README.md"
    text = readme.read_text("utf-8")
    before, _, rest = text.partition(BEGIN)
    _, _, after = rest.partition(END)
    readme.write_text(f"{before}{BEGIN}\n{table(lexicons)}\n{END}{after}", "utf-8")


def main(arguments: list[str]) -> None:
    """Print the report; see the module's docstring."""
    lexicons = dict(load_lexicons(MESSAGES))
    if "--write" in arguments:
        write(lexicons)
        return
    chosen = [a for a in arguments if not a.startswith("-")] or sorted(
        code for code in lexicons if (HERE / f"{code}_b.jsonl").exists()
    )
    for name in (path.stem for language in chosen for path in sorted(HERE.glob(f"{language}_?.jsonl"))):
        _print(name, measure(name, lexicons))
        if "--failures" in arguments and not name.endswith("_b"):
            _print_failures(name, lexicons)


if __name__ == "__main__":
    main(sys.argv[1:])

"""python -m tests.support.cohort_words: writes bot/cohort/replies.toml, what invented mothers write.

From the corpus of replies: at most a few texts for each thing that is said, taken in the order of the corpus
whether the reader understands them or not. Numbers that no reply there gives in words are written in figures.
"""

from __future__ import annotations

import json
import tomllib
from collections import defaultdict
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
TARGET = ROOT / "bot" / "cohort" / "replies.toml"
MOST = 8
COUNTS = ("feeds", "wet_nappies", "dirty_nappies")
HEAD = """\
# What invented mothers write, by language. Made by `python -m tests.support.cohort_words` from the corpus of
# replies, a few texts for each thing said, whether the reader understands them or not. All of it is invented.
#
# feeds, wet_nappies, dirty_nappies   by count: in words; figures are always written too
# yes, no    to a question that wants one of them, by question
# sign       by danger sign
# vague      no number where one was asked        chat   says or asks something else
"""

Words = dict[str, dict[str, list[str]]]


def main() -> None:
    """Write the file anew."""
    rows = [json.loads(line) for path in _corpus() for line in path.read_text("utf-8").splitlines()]
    rows = [row for row in rows if "expect" in row]
    found: dict[str, Words] = {}
    for row in rows:
        words = found.setdefault(row["language"], defaultdict(lambda: defaultdict(list)))
        _sort_in(words, row, row["expect"])
    for language, words in found.items():
        plain = tomllib.loads((ROOT / f"messages/lexicons/{language}.toml").read_text("utf-8"))["answers"]
        for question in ("worry", "other_food"):
            words["yes"].setdefault(question, ["1", plain["yes"][0]])
            words["no"].setdefault(question, ["0", plain["no"][0]])
    TARGET.write_text(HEAD + "".join(_table(code, found[code]) for code in sorted(found)), "utf-8")


def _corpus() -> list[Path]:
    return sorted((ROOT / "tests" / "corpus").glob("*_[ab].jsonl"))


def _sort_in(words: Words, row: dict[str, Any], expect: dict[str, Any]) -> None:
    text, asking, signs = row["text"], row["asking"], expect["danger_signs"]
    answer = expect["answers"].get(asking) if isinstance(asking, str) else None
    if len(signs) == 1 and (not expect["answers"] or answer is True):
        _add(words, "sign", signs[0], text)
    elif signs or expect["intent"] in ("bereaved", "opt_in"):
        return
    elif expect["intent"] in ("opt_out", "wrong_number", "thanks", "call_me"):
        _add(words, "says", expect["intent"], text)
    elif isinstance(answer, bool) and not expect["needs_person"]:
        _add(words, "yes" if answer else "no", asking, text)
    elif isinstance(answer, dict) and asking in COUNTS and answer["low"] == answer["high"]:
        if not text.strip().isdigit() and not expect["needs_person"]:
            _add(words, asking, f"{answer['low']:g}", text)
    elif asking in COUNTS and expect["intent"] == "unclear":
        _add(words, "says", "vague", text)
    elif asking == "none" and expect["intent"] == "unclear":
        _add(words, "says", "chat", text)


def _add(words: Words, group: str, key: str, text: str) -> None:
    if len(words[group][key]) < MOST and len(text) <= 160 and text not in words[group][key]:
        words[group][key].append(text)


def _table(language: str, words: Words) -> str:
    lines = []
    for group in (*COUNTS, "yes", "no", "sign", "says"):
        lines.append(f"\n[{language}.{group}]")
        lines += [
            f"{json.dumps(key)} = {json.dumps(texts, ensure_ascii=False)}"
            for key, texts in sorted(words.get(group, {}).items(), key=lambda item: (len(item[0]), item[0]))
        ]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    main()

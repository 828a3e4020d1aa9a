"""Words that a lead approved in one installation, beside those of the language files.

In go phrases, each with what it means; out comes a language file's content with them added, compiled like the
file itself, or a piece of TOML for the file. What a word can mean, and where it then stands, is MEANINGS.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from typing import Any

SIGN, NUMBER = "sign.", "number."
Raw = Mapping[str, Any]

# What a word can mean besides a danger sign or a number -> section and list of a language file.
MEANINGS: Mapping[str, tuple[str, str]] = {
    "illness": ("local", "illness"),
    "remedy": ("local", "remedy"),
    "opt_out": ("intents", "opt_out"),
    "opt_in": ("intents", "opt_in"),
    "call_me": ("intents", "call_me"),
    "wrong_number": ("intents", "wrong_number"),
    "bereaved": ("intents", "bereaved"),
    "yes": ("answers", "yes"),
    "no": ("answers", "no"),
    "none": ("answers", "none"),
    "not_yet": ("answers", "not_yet"),
    "dont_know": ("answers", "dont_know"),
    "feeds": ("nouns", "feeds"),
    "wet_nappies": ("nouns", "wet_nappies"),
    "dirty_nappies": ("nouns", "dirty_nappies"),
    "thanks": ("thanks", "thanks"),
    "ordinary": ("ordinary", "words"),
}


@dataclass(frozen=True, slots=True)
class LocalWord:
    """A phrase in the notation of a language file, and what it means: a key of MEANINGS, `sign.` with the id
    of a danger sign, or `number.` with a whole number."""

    phrase: str
    means: str


Local = Mapping[str, Sequence[LocalWord]]  # by language


def with_words(file: Raw, words: Iterable[LocalWord], subjects: Mapping[str, str], english: Raw) -> Raw:
    """Give the content of a language file with words added.

    subjects  danger sign -> baby or mother, as in signs.toml
    english   the content of the English file: whether a sign lasts, where this language has no words for it
    """
    added = deepcopy(dict(file))
    for word in words:
        _add(added, word, subjects, english)
    return added


def toml_of(language: str, words: Iterable[LocalWord], subjects: Mapping[str, str], english: Raw) -> str:
    """Give words as TOML. Lists are to be joined with those of the same name; signs stand as they are."""
    found = with_words({"sign": []}, words, subjects, english)
    lines = [
        f"# Approved in this installation, for messages/lexicons/{language}.toml: add these to the lists of",
        "# the same name there; the [[sign]] entries can stand at its end as they are.",
    ]
    for section, fields in found.items():
        if section == "sign":
            continue
        if section == "numbers":
            lines += ["", "[numbers.words]", *_rows(fields["words"])]
        else:
            lines += ["", f"[{section}]", *_rows(fields)]
    for sign in found["sign"]:
        (subject, id) = next(iter(sign["about"].items()))
        rows = {name: value for name, value in sign.items() if name != "about"}
        lines += ["", "[[sign]]", f'about = {{ {subject} = "{id}" }}', *_rows(rows)]
    return "\n".join(lines) + "\n"


def _add(file: dict[str, Any], word: LocalWord, subjects: Mapping[str, str], english: Raw) -> None:
    if word.means.startswith(SIGN):
        _add_sign(file, word.phrase, word.means.removeprefix(SIGN), subjects, english)
        return
    if word.means.startswith(NUMBER):
        numbers = file.setdefault("numbers", {}).setdefault("words", {})
        numbers.setdefault(word.means.removeprefix(NUMBER), []).append(word.phrase)
        return
    section, name = MEANINGS[word.means]
    file.setdefault(section, {}).setdefault(name, []).append(word.phrase)


def _add_sign(
    file: dict[str, Any], phrase: str, sign: str, subjects: Mapping[str, str], english: Raw
) -> None:
    """A danger of its own, so that the phrase means this sign and nothing else. Whether it counts when it is
    over, and whomever the words name, is as where the sign has words already."""
    name = f"local {sign}"
    signs = file.setdefault("sign", [])
    known = next((each for each in signs if each["name"] == name), None)
    if known is None:
        alike = [each for each in (*signs, *english.get("sign", ())) if sign in each["about"].values()]
        flags = {flag: True for flag in ("lasting", "whoever") if any(each.get(flag) for each in alike)}
        known = {"name": name, "about": {subjects.get(sign, "baby"): sign}, "say": [], **flags}
        signs.append(known)
    known["say"].append(phrase)


def _rows(fields: Mapping[str, Any]) -> Iterator[str]:
    for name, value in fields.items():
        yield f"{name} = {_toml(value)}"


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        escaped = value.replace("\\", "\\\\").replace('"', '\\"')
        return f'"{escaped}"'
    return "[" + ", ".join(_toml(each) for each in value) + "]"

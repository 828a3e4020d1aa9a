"""A Reading as plain JSON and back: what `dunnock read` prints and what is stored."""

from collections.abc import Mapping
from typing import Any

from bot.core.reader.types import Amount, Intent, Match, Reading, Reason


def to_json(reading: Reading) -> dict[str, Any]:
    """A reading as JSON: answers are {"low", "high"} (integers when whole, null when open) or true/false."""
    return {
        "intent": reading.intent.value,
        "answers": {question: _answer(a) for question, a in sorted(reading.answers.items())},
        "danger_signs": list(reading.danger_signs),
        "needs_person": reading.needs_person,
        "reasons": [r.value for r in reading.reasons],
        "notes": list(reading.notes),
        "matches": [{"start": m.start, "end": m.end, "what": m.what} for m in reading.matches],
    }


def from_json(data: Mapping[str, Any]) -> Reading:
    """The reading that `to_json` wrote. Raises KeyError or ValueError on anything else."""
    return Reading(
        intent=Intent(data["intent"]),
        answers={question: _read_answer(a) for question, a in data["answers"].items()},
        danger_signs=tuple(data["danger_signs"]),
        needs_person=data["needs_person"],
        reasons=tuple(Reason(r) for r in data["reasons"]),
        notes=tuple(data["notes"]),
        matches=tuple(Match(m["start"], m["end"], m["what"]) for m in data["matches"]),
    )


def _answer(answer: Amount | bool) -> bool | dict[str, float | int | None]:
    if isinstance(answer, bool):
        return answer
    return {"low": _whole(answer.low), "high": _whole(answer.high)}


def _whole(value: float | None) -> float | int | None:
    return int(value) if value is not None and value == int(value) else value


def _read_answer(answer: bool | Mapping[str, float | None]) -> Amount | bool:
    if isinstance(answer, bool):
        return answer
    low, high = answer["low"], answer["high"]
    return Amount(None if low is None else float(low), None if high is None else float(high))

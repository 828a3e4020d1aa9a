"""What the program understood of a reply, in the language of the person who looks: a stored reading comes in;
one line that says it, and which of her words were understood as what, go out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from bot.core.reader import Intent
from bot.web.labels import answer_label, intent_words, is_labelled, reason_words, value_words
from bot.web.words import _, lazy

SAYS = {
    "not_feeding": lazy("says the baby can't, won't or has stopped feeding"),
    "convulsions": lazy("says the baby had a fit"),
    "fast_breathing": lazy("says the baby breathes fast or with difficulty"),
    "chest_indrawing": lazy("says the baby's chest pulls in, or it grunts or is blue"),
    "baby_hot": lazy("says the baby is hot"),
    "baby_cold": lazy("says the baby is cold"),
    "lethargic": lazy("says the baby is hard to wake, floppy or hardly moves"),
    "jaundice": lazy("says the baby is yellow"),
    "cord_infected": lazy("says the cord is red, smells or has pus"),
    "vomiting_all": lazy("says the baby vomits everything, or green"),
    "blood_in_stool": lazy("says there is blood in the baby's stool"),
    "no_urine": lazy("says the baby passes no urine"),
    "heavy_bleeding": lazy("says she bleeds heavily"),
    "mother_fits": lazy("says the mother had a fit"),
    "severe_headache": lazy("says she has a bad headache or her sight is disturbed"),
    "mother_fever": lazy("says she is hot"),
    "belly_pain": lazy("says she has strong belly pain"),
    "mother_breathing": lazy("says she is short of breath, has chest pain or fainted"),
    "breast_infection": lazy("says her breast is red, hot or very painful"),
    "leg_pain": lazy("says one leg is painful, red or swollen"),
    "self_harm": lazy("says she has thoughts of harm"),
    "foul_discharge": lazy("says her bleeding smells bad"),
}
_DENIED, _PERHAPS, _WORRY = "not:", "maybe:", "concern"


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of her words; `what` says what it was understood as, '' for the rest."""

    text: str
    what: str = ""


def understood(result: Mapping[str, Any], intent: str) -> str:
    """Say a reading in one line: 'Feeds: 6; says the baby is hot'."""
    said = [f"{answer_label(key)}: {_value(key, value)}" for key, value in sorted(result["answers"].items())]
    said += [_(SAYS[sign]) if sign in SAYS else answer_label(sign) for sign in result["danger_signs"]]
    return "; ".join(said) or intent_words(intent)


def for_a_person(result: Mapping[str, Any]) -> str:
    """Say why a person must see it; empty where none must."""
    return "; ".join(reason_words(reason) for reason in result["reasons"])


def pieces(text: str, matches: list[Mapping[str, Any]]) -> tuple[Piece, ...]:
    """Cut her words where the reader matched something. Matches that overlap an earlier one are left out."""
    found: list[Piece] = []
    at = 0
    # Of two that begin and end together, the one that says more.
    order = sorted(matches, key=lambda each: (each["start"], -each["end"], each["what"] == _WORRY))
    for match in order:
        start, end = int(match["start"]), int(match["end"])
        if start < at or end > len(text):
            continue
        if start > at:
            found.append(Piece(text[at:start]))
        found.append(Piece(text[start:end], _what(str(match["what"]))))
        at = end
    if at < len(text):
        found.append(Piece(text[at:]))
    return tuple(found)


def _what(match: str) -> str:
    for mark, words in ((_DENIED, _("says it is not so: %(what)s")), (_PERHAPS, _("perhaps: %(what)s"))):
        if match.startswith(mark):
            return words % {"what": _what(match.removeprefix(mark))}
    if is_labelled(match):
        return answer_label(match)
    return intent_words(match) if match in set(Intent) else _("a word of worry")


def _value(key: str, value: object) -> str:
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    assert isinstance(value, dict)
    return value_words(key, value["low"], value["high"])

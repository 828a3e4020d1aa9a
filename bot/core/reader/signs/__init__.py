"""Danger signs in a reply: which, whose, and whether they are stated as present.

A danger counts as present unless the same sentence plainly says otherwise. What is denied ('no fever') is
no sign; what is only asked about, past, over, or about somebody else is left to a person. In doubt it is
present.
"""

from collections.abc import Mapping, Sequence

from bot.core.reader.lexicon import Lexicon
from bot.core.reader.numbers import Quantity
from bot.core.reader.phrases import Found
from bot.core.reader.scan import Scan
from bot.core.reader.signs.danger import DENIED, PRESENT, UNSURE, Danger, Dangers
from bot.core.reader.signs.denial import is_tag
from bot.core.reader.signs.named import harmless_in, is_reading, phrases_of, temperatures
from bot.core.reader.signs.state import state_of
from bot.core.reader.signs.subject import people_in, subject_of

__all__ = ["DENIED", "PRESENT", "UNSURE", "Danger", "Dangers", "dangers", "harmless_in", "is_tag"]

_PLACES = (
    "breast_infection",
    "leg_pain",
    "wound",
    "cord",
)  # dangers of one part of the body, which may be hot
_READINGS = {"hot_reading": "fever", "cold_reading": "cold"}  # what a thermometer says, in words


def dangers(
    scan: Scan,
    amounts: Sequence[Quantity],
    open_about: str | None,
    asked_of: frozenset[str],
    lexicon: Lexicon,
) -> Dangers:
    """All dangers named.

    open_about  whom the open question is about ('baby', 'mother', or None)
    asked_of    ids of the open questions
    """
    result = Dangers()
    closed = {f"sign.{n}" for n, only in lexicon.only_after.items() if asked_of.isdisjoint(only)}
    phrases = phrases_of(scan, closed) + temperatures(scan, amounts)
    for f in phrases:
        name = f.label.partition(".")[2]
        if name == "fever" and _of_the_place(scan, f, result.found):
            continue
        about = lexicon.about.get(_READINGS.get(name, name), {})
        subject, named = subject_of(scan, f, about)
        if subject and subject not in about and (named == "loosely" or name in lexicon.whoever):
            subject = None  # 'she has a headache' is the mother, 'I see yellow skin' the baby
        whose = subject or (open_about if open_about in about else None) or _default(about)
        state = state_of(scan, f, phrases, result, name in lexicon.lasting)
        unsaid = named == "no" and not asked_of.isdisjoint(lexicon.unsure_after.get(name, ()))
        if named == "other" or not about.get(whose) or unsaid:
            state = UNSURE if state == PRESENT else state
        if name in _READINGS:
            if not is_reading(f, amounts, whose):
                continue
            state = UNSURE if state == DENIED else state  # 'no temperature 39.2': the figure stands there
        result.found.append(Danger(name, about.get(whose, ""), state, f.start, f.end, whose, named != "no"))
    return result


def _default(about: Mapping[str, str]) -> str:
    return "baby" if "baby" in about else "mother"


def _of_the_place(scan: Scan, f: Found, before: Sequence[Danger]) -> bool:
    """'My breast is red, hot and hard': one word for heat tells of the part of the body just named."""
    begin, _ = scan.sentence(f.start)
    places = [d for d in before if d.name in _PLACES and d.state == PRESENT and begin <= d.start <= f.start]
    if any(f.start < d.end for d in places):
        return True
    alone = scan.from_(f.start, "list.hot") == f.end
    return alone and bool(places) and not people_in(scan, places[-1].end, f.start)

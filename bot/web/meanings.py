"""What a proposed word can mean, as staff choose it and as it is shown: `means` of a local word and words."""

from __future__ import annotations

from collections.abc import Sequence

from bot.content.local_words import MEANINGS, NUMBER, SIGN
from bot.web.labels import answer_label, signs
from bot.web.words import _, lazy

NUMBER_WORD = "number"  # chosen in the form; the number itself stands in a field of its own
_WORDS = {
    "illness": lazy("A local name of an illness: a person reads"),
    "remedy": lazy("A local remedy, food or drink given at home"),
    "opt_out": lazy("She wants no more texts"),
    "opt_in": lazy("She wants texts again"),
    "call_me": lazy("She wants to talk to somebody"),
    "wrong_number": lazy("This is the wrong number"),
    "bereaved": lazy("Somebody died"),
    "yes": lazy("Yes"),
    "no": lazy("No"),
    "none": lazy("None, not once"),
    "not_yet": lazy("Not yet"),
    "dont_know": lazy("She does not know"),
    "feeds": lazy("A word for feeds"),
    "wet_nappies": lazy("A word for wet nappies, or times wet"),
    "dirty_nappies": lazy("A word for dirty nappies, or stool"),
    "thanks": lazy("Thanks"),
    "ordinary": lazy("An ordinary word that says nothing"),
}
assert _WORDS.keys() == MEANINGS.keys()

Group = tuple[str, list[tuple[str, str]]]


def groups() -> Sequence[Group]:
    """Give all that can be chosen, in groups with a heading."""
    return (
        (_("A danger sign of the baby"), [(SIGN + id, words) for id, words in signs("baby")]),
        (_("A danger sign of the mother"), [(SIGN + id, words) for id, words in signs("mother")]),
        (
            _("Something else"),
            [(NUMBER_WORD, _("A number")), *((id, _(words)) for id, words in _WORDS.items())],
        ),
    )


def meaning_words(means: str) -> str:
    """Say what a word means: 'Hot, fever', 'A number: 7'."""
    if means.startswith(SIGN):
        return answer_label(means.removeprefix(SIGN))
    if means.startswith(NUMBER):
        return _("A number: %(n)s", n=means.removeprefix(NUMBER))
    return _(_WORDS[means]) if means in _WORDS else means


def chosen(means: str, number: str) -> str:
    """Give `means` from what a form sent; the rest of the program finds its faults."""
    return f"{NUMBER}{number.strip()}" if means == NUMBER_WORD else means


def as_chosen(means: str) -> tuple[str, str]:
    """Give what a form shows as chosen, and its number, from `means`."""
    return (NUMBER_WORD, means.removeprefix(NUMBER)) if means.startswith(NUMBER) else (means, "")

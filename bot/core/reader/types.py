"""What a reading is: the words every later step uses for what a reply said."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum


class Intent(StrEnum):
    """What the reply wants, in order of precedence: the first that fits wins."""

    BEREAVED = "bereaved"  # the baby, or the mother, has died
    WRONG_NUMBER = "wrong_number"  # the phone does not belong to this mother
    OPT_OUT = "opt_out"  # no more messages
    CALL_ME = "call_me"  # wants to speak to somebody, or names a danger and answers nothing
    OPT_IN = "opt_in"  # messages again, please
    ANSWER = "answer"  # answers a question
    THANKS = "thanks"  # courtesy, nothing else
    UNCLEAR = "unclear"  # none of these


class Reason(StrEnum):
    """Why a person must see the reply. Those in RETRIABLE may be settled by a simpler question first."""

    DANGER_SIGN = "danger_sign"  # a danger sign was named
    DANGER_UNSURE = (
        "danger_unsure"  # words of danger: asked about, past, about others, half understood, or yes to it
    )
    CALL_ME = "call_me"  # she asks for a person
    WRONG_NUMBER = "wrong_number"  # says that the number is wrong
    BEREAVED = "bereaved"  # says that the baby or the mother died
    OPT_OUT_UNSURE = "opt_out_unsure"  # may want to leave, or may say that the baby stopped feeding
    UNCLEAR = "unclear"  # nothing in it was understood
    NO_VALUE = "no_value"  # a yes, a thumb or a word where a number was asked
    VAGUE = "vague"  # an amount without a number: many, as usual
    DONT_KNOW = "dont_know"  # says that she does not know
    IMPOSSIBLE = "impossible"  # a number that cannot be: 80 feeds
    SEVERAL_READINGS = "several_readings"  # the words allow two amounts
    UNSURE_WORD = "unsure_word"  # a number was guessed from a misspelt or misheard word
    OTHER_DAY = "other_day"  # wants another day for the review
    OTHER_CONTENT = "other_content"  # says or asks something beyond the answer
    FEVER_NO_SUBJECT = "fever_no_subject"  # a fever, but whose?


RETRIABLE: frozenset[Reason] = frozenset(
    {
        Reason.UNCLEAR,
        Reason.NO_VALUE,
        Reason.VAGUE,
        Reason.DONT_KNOW,
        Reason.IMPOSSIBLE,
        Reason.SEVERAL_READINGS,
        Reason.UNSURE_WORD,
    }
)


@dataclass(frozen=True, slots=True)
class Amount:
    """A count or a place on a scale: equal ends when exact, high None in '8+', low None in 'less than 6'."""

    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Match:
    """Which piece of the original text was understood as what: text[start:end] says `what`."""

    start: int
    end: int
    what: str


@dataclass(frozen=True, slots=True)
class Reading:
    """What one reply says.

    answers       by question id: an Amount, or True/False for a yes-no question
    danger_signs  sorted ids of messages/signs.toml, stated as present
    needs_person  a counsellor must see the text; then `reasons` says why, else it is empty
    notes         how an answer was said (approx, interval, sum, corrected, window, not_yet, half, spelling),
                  that it begins by taking something back (amends), that a phone number is in it
                  (phone_number): no person needed for these alone
    matches       the words that led here, for the counsellor to see
    """

    intent: Intent
    answers: Mapping[str, Amount | bool]
    danger_signs: tuple[str, ...]
    needs_person: bool
    reasons: tuple[Reason, ...]
    notes: tuple[str, ...]
    matches: tuple[Match, ...]

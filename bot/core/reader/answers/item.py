"""What the parts of answering hand to each other: the pieces of a reply, and the answers so far."""

from dataclasses import dataclass, field

from bot.core.reader.numbers import Quantity
from bot.core.reader.types import Amount, Match, Reason

WORDED = ("yes", "no", "none", "not_yet", "vague", "dont_know")
NAPPIES = ("wet_nappies", "dirty_nappies")
WHOLE_DAYS = {"before", "today"}  # not parts of the day asked about


@dataclass(slots=True)
class Item:
    """A piece of a reply that can answer: an amount, a noun (a question's or 'nappies'), a yes, a no ..."""

    kind: str
    start: int
    end: int
    quantity: Quantity | None = None
    question: str = ""


@dataclass(slots=True)
class Answered:
    """Answers found so far, how they were said, what is doubtful in them, and the words they rest on."""

    answers: dict[str, Amount | bool] = field(default_factory=dict)
    notes: set[str] = field(default_factory=set)
    reasons: set[Reason] = field(default_factory=set)
    matches: list[Match] = field(default_factory=list)

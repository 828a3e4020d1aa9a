"""A danger as it was named."""

from dataclasses import dataclass, field

PRESENT, DENIED, UNSURE = "present", "denied", "unsure"


@dataclass(slots=True)
class Danger:
    """One danger named at tokens start..end-1; `sign` is empty when nobody it can belong to was meant."""

    name: str
    sign: str
    state: str
    start: int
    end: int
    subject: str
    named: bool  # the subject stands in the words


@dataclass(slots=True)
class Dangers:
    """All dangers of a reply, and the words used up in denying them."""

    found: list[Danger] = field(default_factory=list)
    denials: set[int] = field(default_factory=set)

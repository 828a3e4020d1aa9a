"""The one family of errors; each says what is wrong and what to do, in plain words.

DunnockError              anything a person can mend; its text is shown as it stands
├── Invalid               input refused, with all its faults at once
├── NotAllowed            the signed-in person may not do this
├── NotFound              no such thing, or not one this person may see
└── Conflict              somebody else was first, or the state does not allow it
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


class DunnockError(Exception):
    """Something a person can mend. The message says what to do."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault of an input: `field` names where (dotted path or nothing), `message` says what to do."""

    field: str
    message: str

    def __str__(self) -> str:
        return f"{self.field}: {self.message}" if self.field else self.message


class Invalid(DunnockError):
    """The input was refused; `problems` names every fault."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


class NotAllowed(DunnockError):
    """The signed-in person's role or sites do not allow this."""


class NotFound(DunnockError):
    """There is no such thing, or it is not one this person may see."""


class Conflict(DunnockError):
    """Somebody else was first, or the state does not allow it any more."""

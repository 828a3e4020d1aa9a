"""The troubles of the network that a newcomer can ask for, each in words and as faults of the stand-in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from bot.core.states import MessageState
from bot.demo.district import lazy


@dataclass(frozen=True, slots=True)
class Trouble:
    """A button: `words` on it, `hint` what then happens, `faults` what the stand-in is told. One with
    `of_number` needs a phone."""

    code: str
    words: str
    hint: str
    faults: Mapping[str, object] = field(default_factory=dict)
    of_number: bool = False

    def upon(self, standing: Mapping[str, Any], number: str) -> dict[str, Any]:
        """Give the faults with this one added to those that stand."""
        added = dict(self.faults)
        if self.of_number and number:
            added["refuse"] = sorted({*standing["refuse"], number})
        return dict(standing) | added


TROUBLES = (
    Trouble(
        "fail",
        lazy("Fail the next 3 texts"),
        lazy("The gateway answers 'not now'. The program waits a little and posts the same text again."),
        {"fail_times": 3, "fail_status": 503},
    ),
    Trouble(
        "cut",
        lazy("Cut the line after the next text"),
        lazy(
            "The text is taken but no answer comes. It is posted again under the same id and may come twice."
        ),
        {"reset_times": 1},
    ),
    Trouble(
        "delay",
        lazy("Answer 4 seconds late"),
        lazy("Every post takes so long. Texts that say 'go now' have a way of their own."),
        {"delay_ms": 4000},
    ),
    Trouble(
        "double",
        lazy("Bring everything twice"),
        lazy("Each reply and each report comes two times. It is stored once."),
        {"double": True},
    ),
    Trouble(
        "reorder",
        lazy("Bring reports in the wrong order"),
        lazy("'Delivered' comes before 'accepted'. A state never goes back."),
        {"reorder": True},
    ),
    Trouble(
        "silent",
        lazy("Never report"),
        lazy("Nobody hears whether a text arrived. Silence is not taken for the mother's."),
        {"reports": False},
    ),
    Trouble(
        "phones-off",
        lazy("Report every text as undelivered"),
        lazy("As if every phone were off. An unread question is not an unanswered one."),
        {"undelivered": True},
    ),
    Trouble(
        "refuse",
        lazy("Refuse this number"),
        lazy("The network says there is no such number: she is followed by call from then on."),
        of_number=True,
    ),
)

_WORDS = {
    "fail_times": lazy("The next %(value)s texts will fail."),
    "reset_times": lazy("The line will be cut after the next %(value)s texts."),
    "hang_times": lazy("The next %(value)s texts will get no answer for a long time."),
    "delay_ms": lazy("Every answer takes %(value)s milliseconds."),
    "double": lazy("Everything comes twice."),
    "reorder": lazy("Reports come in the wrong order."),
    "early": lazy("Reports come before the answer."),
    "undelivered": lazy("Every text is reported as undelivered."),
    "refuse": lazy("Refused: %(value)s."),
    "opted_out": lazy("Wants no texts: %(value)s."),
}

# Where the program's texts stand, in words.
STATES: Mapping[MessageState, str] = {
    MessageState.queued: lazy("waiting"),
    MessageState.sending: lazy("being sent"),
    MessageState.accepted: lazy("taken by the gateway"),
    MessageState.delivered: lazy("delivered"),
    MessageState.undelivered: lazy("not delivered"),
    MessageState.unknown: lazy("never reported"),
    MessageState.failed: lazy("refused by the gateway"),
    MessageState.expired: lazy("too late to send"),
    MessageState.cancelled: lazy("withdrawn"),
}


def standing(faults: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Say what goes wrong at present: words to translate, and what is put in."""
    found = [
        (words, ", ".join(value) if isinstance(value, list) else str(value))
        for name, words in _WORDS.items()
        if (value := faults.get(name))
    ]
    return found if faults.get("reports", True) else [*found, (lazy("Nothing is reported."), "")]

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
    of_number: str = ""  # the list of numbers that the chosen one is added to

    def upon(self, standing: Mapping[str, Any], number: str) -> dict[str, Any]:
        """Give the faults with this one added to those that stand."""
        added = dict(self.faults)
        if self.of_number and number:
            added[self.of_number] = sorted({*standing[self.of_number], number})
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
        of_number="refuse",
    ),
    Trouble(
        "opted-out",
        lazy("Let the network say that she wants no texts"),
        lazy("Some networks keep such a list. It counts as her own wish: people call her."),
        of_number="opted_out",
    ),
    Trouble(
        "rate",
        lazy("Ask for a slower pace"),
        lazy(
            "Two texts are answered with 429 and 'in 20 seconds'. The program waits as long as it is asked."
        ),
        {"fail_times": 2, "fail_status": 429, "retry_after": 20},
    ),
    Trouble(
        "hang",
        lazy("Hang on the next text"),
        lazy("It is taken but answered too late: nobody knows, so it goes again with the same id."),
        {"hang_times": 1, "hang_seconds": 12},
    ),
    Trouble(
        "early",
        lazy("Report before the answer"),
        lazy("The report of a text comes before its post was answered. It is kept until they fit."),
        {"early": True},
    ),
    Trouble(
        "down",
        lazy("Take the gateway down"),
        lazy("It answers 503 to everything. The second gateway carries the texts until it is back."),
        {"down": True},
    ),
    Trouble(
        "deny",
        lazy("Change the password at the gateway"),
        lazy("It denies the program. That is no matter of waiting: the inbox says so, the second one helps."),
        {"deny": True},
    ),
)


@dataclass(frozen=True, slots=True)
class Visitor:
    """Something that comes in besides a plain reply: `words` on its button, `hint` what then happens. One
    with `of_number` comes from a phone of the demo."""

    code: str
    words: str
    hint: str
    of_number: bool = True


VISITORS = (
    Visitor(
        "ring",
        lazy("She rings and hangs up"),
        lazy("A missed call costs nothing and means 'please call me'. An item opens for today."),
    ),
    Visitor(
        "parts",
        lazy("A long reply in two parts, the second first"),
        lazy("They are read as one text, as soon as both are there."),
    ),
    Visitor(
        "unknown",
        lazy("A danger from a number nobody knows"),
        lazy("It is heard: an item opens without a name, and somebody calls."),
        of_number=False,
    ),
    Visitor(
        "advert",
        lazy("An advert from a shop's name"),
        lazy("A name can't be a mother. It is kept and opens nothing."),
        of_number=False,
    ),
)
LONG_REPLY = "Since this morning my baby is very hot and does not wake up for feeding. What shall I do?"
UNKNOWN_NUMBER, UNKNOWN_SAYS = "+447700900999", "The baby of my sister has fits"
SHOP, SHOP_SAYS = "PHARMACY", "Fever? Hot baby? Everything 20% off today!"

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
    "deny": lazy("It denies the program's password."),
    "down": lazy("It is down."),
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

"""The names of what a report counts. Keys of `bot.core.reports` in, words out."""

from __future__ import annotations

from bot.core.reports import URGENCIES, Part
from bot.core.states import Urgency
from bot.web.formats import urgency_word
from bot.web.words import _, lazy

PARTS = {
    Part.enrolment: lazy("Enrolled"),
    Part.check_ins: lazy("Check-ins"),
    Part.texts: lazy("Texts"),
    Part.in_time: lazy("Spoken to in time"),
    Part.reviews: lazy("Reviews"),
    Part.endings: lazy("Endings"),
}
NAMES = {
    "enrolled": lazy("enrolled"),
    "by_text": lazy("to be followed by text"),
    "verified": lazy("answered the practice text, or staff confirmed"),
    "asked": lazy("check-ins that have ended"),
    "answered": lazy("answered in full"),
    "partly": lazy("answered in part"),
    "silent": lazy("not answered"),
    "texts": lazy("texts sent"),
    "delivered": lazy("reported delivered"),
    "undelivered": lazy("not delivered"),
    "no_report": lazy("no report yet"),
    "in_time": lazy("spoken to in time"),
    "late": lazy("spoken to late"),
    "closed_unspoken": lazy("closed without a call"),
    "all": lazy("raised"),
    "pending": lazy("not due yet"),
    "overdue": lazy("overdue, still waiting"),
    "reviews": lazy("reviews booked for these days"),
    "attended": lazy("came"),
    "missed": lazy("did not come"),
    "still_expected": lazy("still to come"),
    "stopped": lazy("texts stopped, of pairs that were texted"),
    "closed": lazy("follow-up closed"),
}
# Bars: heading, pieces with how each is drawn, and the whole. Good news is ink, the lack of it is empty.
BARS = (
    (
        lazy("Check-ins that have ended"),
        (("answered", "ink"), ("partly", "lines"), ("silent", "empty")),
        "asked",
    ),
    (
        lazy("Escalations whose time has come"),
        (("in_time", "ink"), ("late", "lines"), ("closed_unspoken", "dots"), ("overdue", "empty")),
        "due",
    ),
    (
        lazy("Reviews"),
        (("attended", "ink"), ("still_expected", "dots"), ("missed", "empty")),
        "reviews",
    ),
    (
        lazy("Texts sent"),
        (("delivered", "ink"), ("no_report", "dots"), ("undelivered", "empty")),
        "texts",
    ),
)


def name(key: str) -> str:
    """Name a count; one of an urgency says which."""
    for urgency in URGENCIES:
        if key.startswith(f"{urgency}_"):
            rest = key.removeprefix(f"{urgency}_")
            return f"{urgency_word(Urgency[urgency])}: {_(NAMES[rest])}"
    return _(NAMES[key])

"""The fixed words of the record: what opens an entry, who says so, the alarms of a deaf service."""

from __future__ import annotations

from bot.core.follow.events import ADVERSE
from bot.store.deaf import Alarm
from bot.store.views_record import SOURCES
from bot.web.words import _, lazy

ADVERSE_WORDS = {
    "admitted": lazy("Admitted"),
    "baby_died": lazy("The baby died"),
    "mother_died": lazy("The mother died"),
    "died": lazy("A death, not yet said whose"),
}
assert ADVERSE_WORDS.keys() == ADVERSE.keys()
SOURCE_WORDS = {
    "mother": lazy("The mother"),
    "family": lazy("The family"),
    "place": lazy("The place that treated them"),
    "register": lazy("A register or discharge letter"),
    "visit": lazy("Seen at a visit"),
}
assert SOURCE_WORDS.keys() == SOURCES.keys()
_DEAF = {
    "unread": lazy("%(n)s replies have not been read for %(span)s. Read them in the gateway, and call."),
    "worker": lazy("Nothing has been sent, read or raised for %(span)s: the worker does not run."),
    "no_replies": lazy("Not one reply has come for %(span)s, though %(n)s questions went out."),
    "no_reports": lazy("The gateway %(name)s takes texts but has not reported for %(span)s."),
    "loop_failed": lazy("A test text through %(name)s did not come back, for %(span)s now."),
}
_TELL = lazy("Tell whoever runs the service; until then, call those you worry about.")


def alarm_words(alarm: Alarm, span: str) -> str:
    """Say what the service can't hear; `span` is for how long."""
    return _(_DEAF[alarm.what]) % {"n": alarm.n, "name": alarm.name, "span": span} + " " + _(_TELL)

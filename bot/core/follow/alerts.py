"""Whom to wake about an item of the inbox, and when: plain values in, `Alert`s out.

The first on the site's list at once, the next when nobody has heeded it, managers last; all of them together
where a danger goes on unanswered. Every step is made at
once, to be sent later; who heeds it withdraws the rest. So a worker that stops in between loses no step.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from uuid import UUID

from bot.core.cover import next_cover, woken_in_order
from bot.core.follow.events import Alert
from bot.core.pair import Escalation, OnCall, Pair
from bot.core.pair_facts import age_days

# How long the first one has before the next is woken, and how long an alert is worth sending. Common
# practice, no source; a district sets who is on the list.
STEP = timedelta(minutes=5)
LASTS = timedelta(hours=2)
_NO_NUMBER = "?"  # never empty: a text that lacks a value can't be sent, and nobody would be woken

# One after the other, for what is new; what goes on being unanswered wakes the whole list at once.
STEPWISE = frozenset({"go_now", "lapsed", "stranger", "no_cover"})

TEXT_OF: Mapping[str, str] = {
    "go_now": "alert-go-now",
    "lapsed": "alert-go-now",
    "not_reached": "alert-not-reached",
    "no_answer": "alert-no-answer",
    "cannot": "alert-cannot",
    "not_arrived": "alert-not-arrived",
    "no_cover": "alert-today",
    "stranger": "alert-stranger",
}


def ladder(pair: Pair, item: Escalation, reason: str, now: datetime) -> list[Alert]:
    """Every step of waking somebody about a pair's item. Out of hours something for today wakes the first
    only, once before the next cover: nobody is woken for each reply of one night."""
    on_call, when = woken_in_order(pair.site), now
    if reason == "no_cover":
        on_call, when = on_call[:1], next_cover(pair.site, now) or pair.local(now).replace(hour=0, minute=0)
    return steps(on_call, item.id, reason, _values(pair, now), now, when)


def steps(
    on_call: Sequence[OnCall],
    item: UUID,
    reason: str,
    values: Mapping[str, str],
    now: datetime,
    when: datetime | None = None,
) -> list[Alert]:
    """One step for each of `on_call`. `when` names the occasion: twice the same wakes nobody twice."""
    apart = STEP if reason in STEPWISE else timedelta()
    named = f"alert:{item}:{reason}:{(when or now).astimezone(UTC):%Y-%m-%dT%H:%M:%S}"
    return [
        Alert(
            once_key=f"{named}:{step}",
            escalation=item,
            step=step,
            to=to,
            reason=reason,
            text_key=TEXT_OF[reason],
            values=values,
            send_after=now + step * apart,
            expires_at=now + step * apart + LASTS,
        )
        for step, to in enumerate(on_call)
    ]


def _values(pair: Pair, now: datetime) -> dict[str, str]:
    """What a duty phone must know to call her: no name, nothing of what she said."""
    return {
        "site": pair.site.name,
        "phone": pair.mother.phone or pair.extra.get("second_contact_phone") or _NO_NUMBER,
        "age": str(age_days(pair, pair.youngest, now)),
        "enrolment": str(pair.id),
    }

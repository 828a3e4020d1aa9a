"""The tally of a run comes in; what a manager asks of it goes out, as plain values for JSON and the page."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from bot.cohort.queue import URGENCIES, Waits, Work
from bot.cohort.shifts import Shifts
from bot.cohort.tally import Tally
from bot.cohort.world import World
from bot.core.states import Urgency

Outcome = dict[str, Any]
WITHIN_HOURS = (6, 12, 24, 48, 72)  # so soon a true trouble was heard of
KINDS = ("trouble", "danger")
ALL_HOURS = range(24)


def outcome(world: World, tally: Tally, mothers: int, counsellors: int) -> Outcome:
    """Everything that the run of so many mothers shows, with so many counsellors in every shift."""
    staff = world.assumed.staff
    means = {urgency: staff.minutes.of(urgency.name) for urgency in URGENCIES}
    work, every = (Work(tally.calls(woken=woken), means, world.seed) for woken in (False, True))
    waits = work.waits(world.shifts, counsellors)
    for urgency in URGENCIES:
        waits.minutes[urgency].update(tally.under("woken", urgency.name))
    team = _Team(counsellors, world)
    schedule = world.content.schedule
    return {
        "run": {
            "mothers": mothers,
            "days": world.days,
            "seed": world.seed,
            "counsellors": counsellors,
            "schedule": schedule.name,
            "edition": schedule.edition,
            "rules": len(world.content.rules.rules),
        },
        "texts": _texts(world, tally, mothers),
        "inbox": _inbox(tally, mothers),
        "waiting": {u.name: _waiting(waits, u, world.content.due[u]) for u in URGENCIES},
        "staff": team.busy(waits) | {"needed": _needed(work, every, world)},
        "true": {kind: _true(tally, kind) for kind in KINDS},
        "false_alarms": _false_alarms(tally, team.days),
        "on_call": {
            "alerts": _named(tally, "alerts"),
            "segments": tally.total("alert segments"),
            "spoke_to": {u.name: sum(tally.under("woken", u.name).values()) for u in URGENCIES},
        },
        "at_the_end": {
            "texting": _named(tally, "texting at the end"),
            "state": _named(tally, "state at the end"),
        },
        "assumed": world.assumed.model_dump(mode="json", by_alias=True),
    }


def _texts(world: World, tally: Tally, mothers: int) -> Outcome:
    price = float(world.assumed.tariff.per_segment)
    languages = sorted(tally.under("mothers"))
    last_day = max((int(day) for day in tally.under("segments on day")), default=0)
    by_day = tally.under("segments on day")
    asked = tally.under("asked on day")
    per_mother = tally.under("mothers with texts")
    segments = tally.total("segments")
    return {
        **_per(tally, mothers, price, lambda name: tally.total(name)),
        "segments": segments,
        "cost": round(segments * price, 2),
        "currency": world.assumed.tariff.currency,
        "most_to_one_mother": max(per_mother, default=0),
        "undelivered": tally.total("undelivered"),
        "read_by_a_person": tally.total("replies for a person"),
        "by_language": {
            language: {"mothers": tally.n["mothers", language]}
            | _per(tally, tally.n["mothers", language], price, lambda name, of=language: tally.n[name, of])
            for language in languages
        },
        "segments_by_day": [by_day.get(day, 0) for day in range(last_day + 1)],
        "questions_by_day": [asked.get(day, 0) for day in range(last_day + 1)],
    }


def _per(tally: Tally, mothers: int, price: float, total: Any) -> Outcome:
    """Texts, segments, cost and replies for each of so many mothers."""
    each = {name: total(name) / mothers if mothers else 0.0 for name in ("texts", "segments", "replies")}
    return {
        "texts_per_mother": round(each["texts"], 2),
        "segments_per_mother": round(each["segments"], 2),
        "cost_per_mother": round(each["segments"] * price, 4),
        "replies_per_mother": round(each["replies"], 2),
    }


def _inbox(tally: Tally, mothers: int) -> Outcome:
    hours = {u: [tally.n["item", u.name, hour] for hour in ALL_HOURS] for u in URGENCIES}
    items = sum(map(sum, hours.values()))
    rules = sorted({key[1] for key in tally.n if key[0] == "rule"})
    return {
        "items": items,
        "items_per_mother": round(items / mothers, 3) if mothers else 0.0,
        "by_urgency": {u.name: sum(hours[u]) for u in URGENCIES},
        "by_hour": {u.name: hours[u] for u in URGENCIES},
        "by_rule": {
            rule: {
                "raised": tally.n["rule", rule, True] + tally.n["rule", rule, False],
                "true": tally.n["rule", rule, True],
            }
            for rule in rules
        },
        "tried_in_the_shadow": _named(tally, "shadow"),
    }


def _waiting(waits: Waits, urgency: Urgency, due: timedelta) -> Outcome:
    minutes = waits.minutes[urgency]
    items, in_time = sum(minutes.values()), waits.in_time(urgency, due)
    return {
        "items": items,
        "due_minutes": int(due / timedelta(minutes=1)),
        "in_time": in_time,
        "in_time_percent": _percent(in_time, items),
        "minutes": {
            "half": quantile(minutes, 0.5),
            "nine_in_ten": quantile(minutes, 0.9),
            "95_percent": quantile(minutes, 0.95),
            "longest": max(minutes, default=None),
        },
        "share_by_minutes": [
            [limit, _percent(sum(n for waited, n in minutes.items() if waited <= limit), items)]
            for limit in STEPS
        ],
    }


STEPS = (0, 5, 15, 30, 60, 120, 240, 480, 960, 1440, 2880, 5760)  # minutes at which waiting is shown


@dataclass(frozen=True)
class _Team:
    counsellors: int
    world: World

    @property
    def _calendar_days(self) -> int:
        """From the first birth to the last mother's last day."""
        return self.world.assumed.births.over_days + self.world.days

    @property
    def days(self) -> float:
        """Counsellor-days: a day of the week counts if a shift begins on it."""
        worked = len({day for shift in self.world.assumed.staff.shifts for day in shift.weekdays})
        return self.counsellors * self._calendar_days * worked / 7

    def busy(self, waits: Waits) -> Outcome:
        hours = self.counsellors * self.world.shifts.hours_a_week * self._calendar_days / 7
        return {
            "counsellors": self.counsellors,
            "hours_a_week_each": self.world.shifts.hours_a_week,
            "days": round(self.days, 1),
            "hours_on_calls": round(waits.busy / 60, 1),
            "busy_percent": _percent(waits.busy / 60, hours),
        }


def _needed(work: Work, every: Work, world: World) -> Outcome:
    """How many counsellors it takes until 95 % of go_now are spoken to in time, None where no number is
    enough: in the shifts beside who is on call, and around the clock with nobody on call."""
    due = world.content.due[Urgency.go_now]
    return {
        "in_these_shifts": work.needed(world.shifts, due),
        "in_these_shifts_for_what_comes_up_in_them": work.needed(world.shifts, due, only_in_shifts=True),
        "around_the_clock": every.needed(Shifts.always(world.tz), due),
    }


def _true(tally: Tally, kind: str) -> Outcome:
    """True troubles: how many were heard of, how soon, and how: raised, on the phone or at a review."""
    true = tally.n["true", kind]
    hours, by = tally.under("heard", kind), tally.under("heard by", kind)
    heard = sum(hours.values())
    return {
        "true": true,
        "heard": heard,
        "heard_percent": _percent(heard, true),
        "within_hours_percent": {
            str(limit): _percent(sum(n for hour, n in hours.items() if hour < limit), true)
            for limit in WITHIN_HOURS
        },
        "half_of_the_heard_within_hours": quantile(hours, 0.5, up=1),
        "heard_by": {how: by.get(how, 0) for how in ("reply", "call", "review")},
    }


def _false_alarms(tally: Tally, counsellor_days: float) -> Outcome:
    """Items that say something of how they are, with no true trouble behind them."""
    false = {u.name: tally.n["alarm", u.name, False] for u in URGENCIES}
    true = {u.name: tally.n["alarm", u.name, True] for u in URGENCIES}
    total = sum(false.values())
    return {
        "items": total,
        "percent_of_alarms": _percent(total, total + sum(true.values())),
        "per_counsellor_day": round(total / counsellor_days, 2) if counsellor_days else None,
        "by_urgency": {name: {"false": false[name], "true": true[name]} for name in false},
    }


def _named(tally: Tally, name: str) -> dict[str, int]:
    return {str(key): count for key, count in sorted(tally.under(name).items(), key=str)}


def _percent(part: float, whole: float) -> float | None:
    return round(100 * part / whole, 1) if whole else None


def quantile(counts: Mapping[int, int], share: float, up: int = 0) -> int | None:
    """The least value that so large a share does not exceed, plus `up`; None of nothing."""
    left = share * sum(counts.values())
    for value in sorted(counts):
        left -= counts[value]
        if left <= 0:
            return value + up
    return None

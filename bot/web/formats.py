"""Times, ages, phone numbers and amounts as people read them. Plain values in, words out."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, Protocol
from zoneinfo import ZoneInfo

import phonenumbers
from babel.dates import format_date, format_time, get_datetime_format
from flask import Flask
from markupsafe import Markup, escape

from bot.core.states import Urgency
from bot.web.words import _, _n, language


class Born(Protocol):
    """Whoever has a day of birth, and perhaps its hour."""

    @property
    def born_on(self) -> date: ...
    @property
    def born_at(self) -> datetime | None: ...


MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)


def add_filters(app: Flask) -> None:
    """Give the templates these words under short names."""
    app.jinja_env.filters.update(
        ltr=ltr, phone=phone, span=span, clock_time=clock_time, day=day, moment=moment, number=number,
        urgency=urgency_word,
    )  # fmt: skip


def urgency_word(urgency: Urgency) -> str:
    """Say an urgency in the words of the inbox."""
    return {
        Urgency.go_now: _("Go now"),
        Urgency.same_day: _("Today"),
        Urgency.routine: _("Soon"),
        Urgency.none: _("Nothing"),
    }[urgency]


def urgency_mark(urgency: Urgency) -> str:
    """Give the class that draws the edge of an item: the graver, the heavier."""
    return urgency.name.replace("_", "-")


def ltr(value: object) -> Markup:
    """Keep figures from left to right inside a line of any direction."""
    return Markup('<bdi dir="ltr">{}</bdi>').format(value)


def phone(e164: str | None) -> Markup:
    """Write a number in the international way, in groups."""
    return ltr(grouped(e164)) if e164 else escape(_("no phone"))


def grouped(e164: str) -> str:
    """Give a number as figures in groups; a short code stays as it is."""
    try:
        number_ = phonenumbers.parse(e164)
    except phonenumbers.NumberParseException:
        return e164
    return phonenumbers.format_number(number_, phonenumbers.PhoneNumberFormat.INTERNATIONAL)


def number(value: float) -> str:
    """Write a count without a needless '.0'."""
    return f"{value:g}"


def span(length: timedelta) -> str:
    """Say how long: '12 min', '1 h 5 min', '3 days'."""
    minutes = int(abs(length) / MINUTE)
    if minutes < 60:
        return _("%(m)s min", m=minutes)
    hours, minutes = divmod(minutes, 60)
    if hours < 24:
        return _("%(h)s h %(m)s min", h=hours, m=minutes) if minutes else _("%(h)s h", h=hours)
    return _n("%(n)s day", "%(n)s days", hours // 24)


def due_words(due_at: datetime, now: datetime) -> str:
    """Say when something is due, or by how much it was missed."""
    left = due_at - now
    if left < timedelta(0):
        return _("missed by %(span)s", span=span(left))
    return _("due in %(span)s", span=span(left)) if left >= MINUTE else _("due now")


def age_words(baby: Born, now: datetime, tz: ZoneInfo) -> str:
    """Say how old a baby is: in hours while they are known and fewer than 48, then in days, then in weeks."""
    hours = None if baby.born_at is None else (now - baby.born_at) / HOUR
    return _old((now.astimezone(tz).date() - baby.born_on).days, hours)


def age_at(facts: Mapping[str, Any]) -> str:
    """Say at which age facts of triage were judged."""
    return _old(int(facts["age_days"]), facts.get("age_hours"))


def _old(days: int, hours: float | None) -> str:
    if hours is not None and hours < 48:
        return _n("%(n)s hour old", "%(n)s hours old", max(0, int(hours)))
    if days < 15:
        return _n("%(n)s day old", "%(n)s days old", max(0, days))
    return _n("%(n)s week old", "%(n)s weeks old", days // 7)


def clock_time(at: datetime | time, zone: ZoneInfo = ZoneInfo("UTC")) -> str:
    """Write a time of day, 24 hours, where it happened."""
    local = at.astimezone(zone) if isinstance(at, datetime) else at
    return format_time(local, "HH:mm", locale=language())


def day(on: date) -> str:
    """Write a day with its weekday: 'Tue 3 Mar'."""
    return format_date(on, "EEE d MMM", locale=language())


def moment(at: datetime, zone: ZoneInfo | None = None) -> str:
    """Write a day and a time where it happened."""
    local = at.astimezone(zone or UTC)
    joined = str(get_datetime_format("medium", locale=language()))  # each script has a comma of its own
    return joined.format(clock_time(local.time()), day(local.date()))

"""A schedule in words: contacts, hours and what differs between two forms of them. Specs in, strings out."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import time, timedelta

from bot.core.plan_changes import ContactChange
from bot.core.schedule import (
    Also,
    Anchor,
    Condition,
    ContactKind,
    ContactSpec,
    ReviewPolicy,
    Schedule,
    Window,
)
from bot.web.formats import HOUR, MINUTE, clock_time, number, span
from bot.web.labels import answer_label
from bot.web.words import _, _n, lazy

KINDS = {
    ContactKind.check_in: lazy("Check-in"),
    ContactKind.advice: lazy("Advice"),
    ContactKind.reminder: lazy("Reminder"),
}
TEXTS = {
    "welcome": lazy("Welcome"),
    "practise-attach": lazy("What to practise"),
    "review-evening": lazy("The review is tomorrow"),
    "review-morning": lazy("The review is today"),
    "visit-reminder-week-1": lazy("Visit in week 1"),
    "visit-reminder-week-6": lazy("Visit in week 6"),
    "advice-week-2": lazy("Advice at two weeks"),
    "finished": lazy("The end of the programme"),
}
EVERYBODY = lazy("every pair")
CONDITIONS = {
    Condition.small_or_twin: lazy("small or early babies, twins"),
    Condition.close_watch: lazy("small or early babies, twins, poorly attached"),
    Condition.poor_attachment: lazy("poorly attached when last seen"),
    Condition.wound: lazy("after a caesarean or a tear"),
    Condition.high_blood_pressure: lazy("after high blood pressure"),
    Condition.heavy_bleeding: lazy("after heavy bleeding at birth"),
}
CLOCKS = {
    "cover": lazy("At her hour, while somebody is there to read the answer"),
    "at": lazy("At a set time of day"),
    "window": lazy("At her hour, between two times"),
    "after": lazy("So many hours after"),
}
# What `bot.content.schedule` refuses with; named here so that the catalogs of the screens hold it.
REFUSED = (
    lazy("Give one of at, window and cover, not several."),
    lazy("Give hours or a time of day, not both."),
    lazy("The window ends before it starts."),
    lazy("Only a contact anchored to the review can come before its anchor."),
    lazy("Repeat at least a day apart, and until a day after the first."),
    lazy("A check-in needs questions."),
    lazy("A question stands twice."),
    lazy("Write a number of hours above 0, such as 6."),
    lazy("This time is in the quiet hours."),
    lazy("latest_hours can't come before target_hours."),
    lazy("later_hours can't come before target_hours."),
    lazy("Write a time of day, such as 08:30:00."),
)
# What the days of a contact are counted from, as its form asks for them.
DAYS_FROM = {
    Anchor.birth: lazy("Day of life (0 is the day of birth)"),
    Anchor.discharge: lazy("Days after discharge"),
    Anchor.review: lazy("Days before or after the review (before: -1)"),
    Anchor.home: lazy("Days after coming home again"),
}
NAMES = {
    "valid_for": lazy("may begin for"),
    "open_for": lazy("waits for answers"),
    "quiet_from": lazy("quiet hours from"),
    "quiet_until": lazy("quiet hours until"),
    "max_questions_first_week": lazy("questions a contact in the first week"),
    "max_asking_a_day": lazy("questions a day"),
    "cover_after_opening": lazy("check-ins begin after opening"),
    "cover_before_closing": lazy("check-ins end before closing"),
    "target_hours": lazy("review, hours after discharge"),
    "latest_hours": lazy("review, at the latest"),
    "later_hours": lazy("review of pairs that feed well"),
    "follow_up_days": lazy("next review after a feeding problem"),
    "low_weight_days": lazy("next review after low weight for age"),
    "feeds_at_least": lazy("feeds in 24 hours, at least"),
}


def title(spec: ContactSpec) -> str:
    """Name a contact: what it is and when."""
    if spec.kind is ContactKind.check_in:
        return _("Check-in, %(when)s", when=day_words(spec))
    return _(TEXTS.get(spec.text, spec.text))


def day_words(spec: ContactSpec) -> str:
    """Say on which day a contact comes, from its anchor."""
    if spec.anchor is Anchor.review:
        if spec.days == 0:
            return _("day of the review")
        return _n("%(n)s day before the review", "%(n)s days before the review", -spec.days)
    if spec.anchor is Anchor.discharge:
        if not spec.days:
            return _("day of discharge")
        return _n("%(n)s day after discharge", "%(n)s days after discharge", spec.days)
    if spec.anchor is Anchor.home:
        return _n("%(n)s day after coming home again", "%(n)s days after coming home again", spec.days)
    first = _("day %(n)s", n=spec.days)
    if spec.repeat is None:
        return first
    days = {"first": first, "every": spec.repeat.every_days, "until": spec.repeat.until_days}
    return _("%(first)s, then every %(every)s days to day %(until)s", **days)


def hour_words(spec: ContactSpec) -> str:
    """Say at which hour a contact comes."""
    if spec.at is not None:
        return clock_time(spec.at)
    if spec.cover:
        return _("her hour, while somebody reads")
    if spec.window is not None:
        return _("her hour, %(start)s to %(end)s", **_window(spec.window))
    if spec.hours:
        return _("%(span)s after", span=span(timedelta(hours=spec.hours)))
    return _("at once")


def content_words(spec: ContactSpec) -> str:
    """Say what a contact asks or says."""
    if spec.kind is ContactKind.check_in:
        asked = [answer_label(question) for question in spec.questions]
        return _(", ").join([*asked, *(_also(each) for each in spec.also)])
    return _(TEXTS.get(spec.text, spec.text))


def _also(also: Also) -> str:
    return _("%(question)s (%(whom)s)", question=answer_label(also.ask), whom=_(CONDITIONS[also.condition]))


def for_whom(spec: ContactSpec) -> str:
    return _(CONDITIONS[spec.condition]) if spec.condition else _(EVERYBODY)


def change_words(change: ContactChange) -> Iterator[str]:
    """Say what differs: 'time of day: 10:00 instead of 08:30'."""
    before, after = change.before, change.after
    if before is None or after is None:
        yield _("new") if before is None else _("taken out")
        return
    if before.on != after.on:
        yield _("switched on") if after.on else _("switched off: not sent any more")
        if not after.on:
            return
    if (before.days, before.repeat, before.anchor) != (after.days, after.repeat, after.anchor):
        yield _instead(_("day"), day_words(after), day_words(before))
    if hour_words(before) != hour_words(after):
        yield _instead(_("hour"), hour_words(after), hour_words(before))
    if content_words(before) != content_words(after):
        label = _("questions") if after.kind is ContactKind.check_in else _("text")
        yield _instead(label, content_words(after), content_words(before))
    if before.condition != after.condition:
        yield _instead(_("for whom"), for_whom(after), for_whom(before))
    for name in ("valid_for", "open_for"):
        was, will = getattr(before, name), getattr(after, name)
        if was != will:
            yield _instead(_(NAMES[name]), hours(will), hours(was))


def settings_words(before: Schedule, after: Schedule) -> Iterator[str]:
    """Say which settings of the whole schedule differ."""
    old, new = _settings(before), _settings(after)
    for name in new:
        if old[name] != new[name]:
            yield _instead(_(NAMES[name]), new[name], old[name])


def hours(length: timedelta) -> str:
    """Write a length in hours, as the forms take it: '6 h', '0.5 h'."""
    return _("%(h)s h", h=number(length / HOUR))


def _settings(schedule: Schedule) -> dict[str, str]:
    policy = schedule.review
    return {
        "quiet_from": clock_time(schedule.quiet_from),
        "quiet_until": clock_time(schedule.quiet_until),
        "max_questions_first_week": str(schedule.max_questions_first_week),
        "max_asking_a_day": str(schedule.max_asking_a_day),
        "cover_after_opening": _("%(m)s min", m=schedule.cover_after_opening // MINUTE),
        "cover_before_closing": _("%(m)s min", m=schedule.cover_before_closing // MINUTE),
        "target_hours": _("%(h)s h", h=policy.target_hours),
        "latest_hours": _("%(h)s h", h=policy.latest_hours),
        "later_hours": _later(policy),
        "follow_up_days": _n("%(n)s day", "%(n)s days", policy.follow_up_days),
        "low_weight_days": _n("%(n)s day", "%(n)s days", policy.low_weight_days),
        "feeds_at_least": str(policy.feeds_at_least),
    }


def _later(policy: ReviewPolicy) -> str:
    return _("%(h)s h", h=policy.later_hours) if policy.later_hours else _("as all others")


def _instead(label: str, new: str, old: str) -> str:
    return _("%(label)s: %(new)s instead of %(old)s", label=label, new=new, old=old)


def _window(window: Window) -> dict[str, str]:
    return {"start": clock_time(window.start), "end": clock_time(window.end)}


def typed_time(value: time | None) -> str:
    """Write a time as the field of a form holds it."""
    return value.strftime("%H:%M") if value else ""

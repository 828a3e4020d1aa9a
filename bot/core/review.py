"""When mother and baby are seen again: a pair and a schedule come in, the day to book goes out.

Two days after discharge for every pair, and two days after a review that found a feeding problem: when WHO
IMCI follows up a feeding problem (chart booklet 2014, sick young infant, from memory; a national training
manual says the same). How a closed day moves a review is common practice, no source. Days are local dates.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from bot.core.pair import Answer, Assessment, Pair, Review, Site
from bot.core.plan import DAY, at_local, small_or_twin
from bot.core.schedule import ReviewPolicy, Schedule

FIRST, FEEDING_PROBLEM = "first", "feeding_problem"
POSITION = ("position_neck", "position_turned", "position_close", "position_supported")
ATTACHMENT = ("attachment_chin", "attachment_mouth", "attachment_lower_lip", "attachment_areola")
SUCKLING = "suckling"
RECENT = 2 * DAY  # answers given this long before a review still tell how the baby feeds


@dataclass(frozen=True, slots=True)
class Booking:
    """The review to book. `on_day` is None when the site is open on none of the days that would do: a person
    phones instead. `kind` is that of `Review`; `why` is a sentence for staff."""

    on_day: date | None
    at: time | None
    kind: str
    why: str


def first_review(pair: Pair, schedule: Schedule) -> Booking:
    """Give the first review after discharge.

    It is the first open day from target to latest, else the last open day before them at least a day after
    discharge. For a pair enrolled late these days begin on the day after its enrolment.
    """
    policy = schedule.review
    later = policy.later_hours if seen_to_feed_well(pair) else None
    hours = later or policy.target_hours
    home = pair.local(pair.discharged_at).replace(tzinfo=None)
    known = max(home.date(), pair.local(pair.enrolled_at).date())
    target = max((home + timedelta(hours=hours)).date(), known + DAY)
    why = f"{hours} hours after discharge" + (", no feeding problem seen." if later else ".")
    return _booking(_open_day(pair.site, known, target, policy), target, home.time(), pair.site, FIRST, why)


def next_review(
    pair: Pair, assessments: Iterable[Assessment], schedule: Schedule, now: datetime
) -> Booking | None:
    """Give the review that follows the one attended at `now`, or None when no feeding problem was found.

    assessments  what was seen at that review, one for each baby that came
    """
    policy = schedule.review
    seen = {assessment.baby: assessment for assessment in assessments}
    problems: list[str] = []
    for baby in pair.living:
        answers = (answer for answer in pair.answers if now.astimezone(UTC) - answer.at < RECENT)
        found = feeding_problems(
            seen.get(baby.ordinal), (a for a in answers if a.baby in (None, baby.ordinal)), policy
        )
        problems += [problem for problem in found if problem not in problems]
    if not problems:
        return None
    today = pair.local(now)
    target = today.date() + policy.follow_up_days * DAY
    on_day = _open_day(pair.site, today.date(), target, policy)
    why = f"Feeding problem at the review: {', '.join(problems)}."
    return _booking(on_day, target, today.time(), pair.site, FEEDING_PROBLEM, why)


def feeding_problems(
    assessment: Assessment | None, answers: Iterable[Answer], policy: ReviewPolicy
) -> tuple[str, ...]:
    """Name each feeding problem of one baby, empty when there is none. A sign not seen is no problem.

    answers  those about this baby, in any order; of each question the newest one that still stands is judged,
             a range by its lower end
    Source: WHO IMCI "feeding problem or low weight" (no exception for the first day), with position as in the
    Ethiopian edition. Low weight and thrush are not judged here.
    """
    signs = assessment.signs if assessment else {}
    said = {
        answer.key: answer
        for answer in sorted(answers, key=lambda each: each.at)
        if answer.superseded_by is None
    }
    feeds, other = said.get("feeds"), said.get("other_food")
    fewest = None if feeds is None else feeds.high if feeds.low is None else feeds.low
    found = {
        "not well positioned": any(signs.get(sign) == "no" for sign in POSITION),
        "not well attached": any(signs.get(sign) == "no" for sign in ATTACHMENT),
        "not suckling effectively": signs.get(SUCKLING) in ("not_effective", "not_at_all"),
        f"fewer than {policy.feeds_at_least} feeds in 24 hours": (
            fewest is not None and fewest < policy.feeds_at_least
        ),
        "other food or drink": other is not None and other.high == 1,
    }
    return tuple(name for name, holds in found.items() if holds)


def seen_to_feed_well(pair: Pair) -> bool:
    """Tell whether every baby was seen to feed well in all signs at its latest assessment, and none is small,
    preterm or one of several. A sign not seen is not seen well."""
    latest = {seen.baby: seen for seen in sorted(pair.assessments, key=lambda each: each.at)}
    return not small_or_twin(pair) and all(
        baby.ordinal in latest and _all_good(latest[baby.ordinal]) for baby in pair.living or pair.babies
    )


def late_after(review: Review, site: Site) -> datetime:
    """Give the instant (UTC) after which an expected review is missed: when the site closes that day."""
    return at_local(review.on_day, max(site.closes, review.at or site.closes), site.tz)


def _all_good(assessment: Assessment) -> bool:
    signs = assessment.signs
    return signs.get(SUCKLING) == "effective" and all(
        signs.get(sign) == "yes" for sign in POSITION + ATTACHMENT
    )


def _open_day(site: Site, known: date, target: date, policy: ReviewPolicy) -> date | None:
    """Give the first open day from target to latest, else the last one between `known` and target."""
    slack = (policy.latest_hours - policy.target_hours) // 24
    onward = [target + days * DAY for days in range(slack + 1)]
    before = [target - days * DAY for days in range(1, (target - known).days)]
    return next((day for day in onward + before if site.is_open(day)), None)


def _booking(on_day: date | None, target: date, clock: time, site: Site, kind: str, why: str) -> Booking:
    if on_day is None:
        return Booking(None, None, kind, f"{why} {site.name} is closed on every day that would do.")
    if on_day != target:
        why = f"{why} Moved from {target:%A} {target.isoformat()} to an open day."
    return Booking(on_day, _hour(clock, site), kind, why)


def _hour(clock: time, site: Site) -> time:
    """The same time of day as today, at a full hour, at least an hour before closing."""
    first, last = site.opens, time(max(site.closes.hour - 1, 0), site.closes.minute)
    full = time(min(clock.hour + (clock.minute > 0), 23))
    return max(first, min(full, last))

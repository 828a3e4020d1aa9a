"""When mother and baby are seen again: a pair and a schedule come in, the day to book goes out.

Two days after discharge for every pair. After a review: two days for a feeding problem or thrush, fourteen
for low weight for age, when WHO IMCI follows them up (chart booklet 2014, sick young infant, from memory;
Open University HEAT IMNCI Session 10 Table 10.2 says the same); two days at most where a weight loss is to be
weighed again (Toronto Public Health, seen in part: 24 to 48 hours). How a closed day moves a review is common
practice, no source. Days are local dates.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from bot.core.facts import Vocabulary
from bot.core.pair import Assessment, Pair, Review, Site
from bot.core.plan import DAY, at_local, small_or_twin
from bot.core.schedule import ReviewPolicy, Schedule
from bot.core.young_infant import ATTACHMENT, POSITION, SUCKLING, Sign, classify

FIRST, FEEDING_PROBLEM, WEIGHT_LOSS, LOW_WEIGHT = "first", "feeding_problem", "weight_loss", "low_weight"
FOLLOW_UP = "follow_up"
PROBLEMS = {
    Sign.position: "not well positioned",
    Sign.attachment: "not well attached",
    Sign.suckling: "not suckling effectively",
    Sign.feeds: "few feeds",
    Sign.other_food: "other food or drink",
    Sign.thrush: "thrush",
}


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


def home_review(pair: Pair, schedule: Schedule, now: datetime) -> Booking:
    """Give the review after coming home at `now` from where they were away: as after a discharge, for all."""
    policy, home = schedule.review, pair.local(now).replace(tzinfo=None)
    target = (home + timedelta(hours=policy.target_hours)).date()
    why = f"{policy.target_hours} hours after coming home again."
    on_day = _open_day(pair.site, home.date(), target, policy)
    return _booking(on_day, target, home.time(), pair.site, FOLLOW_UP, why)


def next_review(
    pair: Pair,
    assessments: Iterable[Assessment],
    schedule: Schedule,
    vocabulary: Vocabulary,
    now: datetime,
    losing: Collection[int] = (),
) -> Booking | None:
    """Give the review that follows the one attended at `now`, or None when nothing calls for one.

    assessments  what was seen at that review, one for each baby that came
    losing       the babies of which a rule says that they have lost too much: weighed again soon
    The nearest day wins, and `why` names all that was found.
    """
    policy = schedule.review
    seen = {assessment.baby: assessment for assessment in assessments}
    found = {
        baby.ordinal: classify(pair, baby, seen.get(baby.ordinal), now, policy, vocabulary)
        for baby in pair.living
    }
    problems = list(dict.fromkeys(PROBLEMS[sign] for each in found.values() for sign in each.feeding))
    reasons = []
    if problems:
        reasons.append((policy.follow_up_days, FEEDING_PROBLEM, f"feeding problem ({', '.join(problems)})"))
    if not found.keys().isdisjoint(losing):
        reasons.append((policy.follow_up_days, WEIGHT_LOSS, "weight lost, to weigh again"))
    if any(Sign.weight in each.signs for each in found.values()):
        reasons.append((policy.low_weight_days, LOW_WEIGHT, "low weight for age"))
    if not reasons:
        return None
    days, kind, _ = min(reasons, key=lambda reason: reason[0])
    today = pair.local(now)
    target = today.date() + days * DAY
    # A baby that loses weight is weighed within those days, so on an open day before rather than after.
    early = any(kind == WEIGHT_LOSS for _, kind, _ in reasons)
    on_day = _open_day(pair.site, today.date(), target, policy, early=early)
    why = f"Found at the review: {'; '.join(words for _, _, words in reasons)}."
    return _booking(on_day, target, today.time(), pair.site, kind, why)


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


def _open_day(
    site: Site, known: date, target: date, policy: ReviewPolicy, *, early: bool = False
) -> date | None:
    """Give the first open day from target to latest, else the last one between `known` and target; where it
    had better be `early` the other way round."""
    slack = (policy.latest_hours - policy.target_hours) // 24
    onward = [target + days * DAY for days in range(slack + 1)]
    before = [target - days * DAY for days in range(1, (target - known).days)]
    days = onward[:1] + before + onward[1:] if early else onward + before
    return next((day for day in days if site.is_open(day)), None)


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

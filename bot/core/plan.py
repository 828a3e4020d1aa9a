"""When each contact of a pair is due: a pair and a schedule come in, the contacts with their instants go out.

The plan is wall-clock time at the site. "+2 days at 08:30" is 08:30 two local dates later, however long the
days between were. A local time that a clock change leaves out is read with the offset before the change (so
it moves forward), one that comes twice is its first coming: RFC 5545, section 3.3.5. Ages are elapsed time.

What moves, what is cut:
- Quiet hours: a contact inside them moves to their end, if it is still valid then; else it is not planned.
- Before she was home and enrolled: a check-in or reminder is not planned; advice still valid is due at once.
- Counts of the last 24 hours are not asked of a baby that may be younger than that; a check-in left without
  questions is not planned. The contact keeps its time: the open question about dangers must not wait.
- While mother or baby is away: reminders and advice are not planned, and a check-in asks after her alone.
- On a day with a check-in after coming home again the others of that day are not planned.
- Questions over a limit (a contact in the first week, a local day) are left out, later ones first. What is
  asked also, of those at a risk, comes besides the limit of a contact, and never over that of the day.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from bot.core.pair import Baby, Pair, Site
from bot.core.risks import HEAVY_BLEEDING, HIGH_BLOOD_PRESSURE, POOR, WOUND, known_risks
from bot.core.schedule import Anchor, Condition, ContactKind, ContactSpec, Schedule, Window
from bot.core.states import EnrolmentState

DAY = timedelta(days=1)
FIRST_WEEK = 7  # the last age_days that counts as the first week
LOW_BIRTH_WEIGHT_G = 2500  # below it: WHO definition of low birth weight
TERM_WEEKS = 37  # below it: WHO definition of preterm
# What is asked while the baby is not with her: her own danger signs, what was to be asked of her own body,
# and how often she expresses milk. Common practice, no source.
AWAY_FIRST, AWAY_LAST = "mother_danger", "expressing"
HER_OWN = frozenset({"wound", "headache_or_sight"})


@dataclass(frozen=True, slots=True)
class Planned:
    """One contact of one pair. `due_at` and `valid_until` are UTC, `due_local` is `due_at` at the site;
    `questions` are those left after the cuts, in order."""

    key: str
    occurrence: int
    kind: ContactKind
    due_at: datetime
    due_local: datetime
    valid_until: datetime
    questions: tuple[str, ...]
    spec: ContactSpec


def plan_stamp(schedule: Schedule, site: Site) -> str:
    """Name what a stored plan was made from: it is old when this differs."""
    return f"{schedule.stamp}/{site.code}:{site.revision}"


def planned(pair: Pair, schedule: Schedule) -> list[Planned]:
    """Give every contact the pair gets, done or not, in order of `due_at`."""
    return list(_planned(_PlanOf(pair, schedule)))


@dataclass(frozen=True, slots=True, eq=False)
class _PlanOf:
    """All that a plan is made of. A pair is looked at often before that changes: plans are kept."""

    pair: Pair
    schedule: Schedule

    def __hash__(self) -> int:
        return hash(self.pair.id)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, _PlanOf) or self.schedule is not other.schedule:
            return False
        one, two = self.pair, other.pair
        same = one.babies is two.babies and one.reviews is two.reviews and one.site is two.site
        same = same and one.assessments is two.assessments and one.mother.risks is two.mother.risks
        same = same and one.mother.birth_mode == two.mother.birth_mode
        same = same and one.discharged_at is two.discharged_at and one.enrolled_at is two.enrolled_at
        same = same and one.preferred_hour == two.preferred_hour and one.id == two.id
        same = same and one.state is two.state and one.home_at is two.home_at
        return same or _made_of(one) == _made_of(two)


def _made_of(pair: Pair) -> tuple[object, ...]:
    """Folds stand apart: Python takes the two comings of one wall-clock time for equal."""
    times = pair.discharged_at, pair.enrolled_at, pair.home_at, *[baby.born_at for baby in pair.babies]
    return (
        *times,
        *[moment.fold for moment in times if moment is not None],
        pair.id,
        pair.babies,
        pair.reviews,
        pair.preferred_hour,
        pair.site,
        pair.assessments,
        pair.mother.risks,
        pair.mother.birth_mode,
        pair.state is EnrolmentState.away,
    )


@lru_cache(maxsize=1024)
def _planned(of: _PlanOf) -> tuple[Planned, ...]:
    pair, schedule = of.pair, of.schedule
    starts = {anchor: _start(anchor, pair) for anchor in Anchor}
    contacts = [
        contact
        for spec in schedule.contacts
        if spec.on and applies(spec.condition, pair)
        for contact in _occurrences(spec, starts[spec.anchor], pair, schedule)
    ]
    contacts.sort(
        key=lambda contact: contact.due_at
    )  # stable: the schedule's order where two are due at once
    if pair.state is EnrolmentState.away:
        return tuple(_while_away(contacts, pair, schedule))
    return tuple(_within_limits(_one_a_day_at_home(contacts, pair), pair, schedule))


def _while_away(contacts: list[Planned], pair: Pair, schedule: Schedule) -> Iterator[Planned]:
    """Leave the check-ins, and of them what is asked of a mother without her baby."""
    for contact in contacts:
        if contact.kind is ContactKind.check_in:
            asked = [*contact.questions, *_also(contact.spec, pair)]
            own = dict.fromkeys(each for each in asked if each in HER_OWN)
            questions = (AWAY_FIRST, *own, AWAY_LAST)
            yield replace(contact, questions=questions[: schedule.max_asking_a_day])


def _one_a_day_at_home(contacts: list[Planned], pair: Pair) -> list[Planned]:
    """Leave out other check-ins of a day that has one after coming home."""
    if pair.home_at is None:
        return contacts
    home = {each.due_local.date() for each in contacts if _asks_at_home(each)}
    return [
        each
        for each in contacts
        if each.kind is not ContactKind.check_in or _asks_at_home(each) or each.due_local.date() not in home
    ]


def _asks_at_home(contact: Planned) -> bool:
    return contact.kind is ContactKind.check_in and contact.spec.anchor is Anchor.home


def next_contact(pair: Pair, schedule: Schedule, now: datetime) -> Planned | None:
    """Give the earliest contact not dealt with that may still begin; it may be due already."""
    return next_of(left(planned(pair, schedule), pair), now)


def passed(pair: Pair, schedule: Schedule, now: datetime) -> list[Planned]:
    """Give the contacts not dealt with whose time is over: recorded as skipped, never sent late."""
    return [each for each in left(planned(pair, schedule), pair) if each.valid_until <= now]


def left(plan: Iterable[Planned], pair: Pair) -> list[Planned]:
    """Give what of a plan the pair has not been through."""
    done = {(contact.key, contact.occurrence) for contact in pair.contacts}
    return [each for each in plan if (each.key, each.occurrence) not in done]


def next_of(contacts: Iterable[Planned], now: datetime) -> Planned | None:
    """Give the first of contacts in order that may still begin at `now`."""
    return next((each for each in contacts if each.valid_until > now), None)


def send_at(contact: Planned, schedule: Schedule, now: datetime) -> datetime | None:
    """Tell when a contact taken up at `now` may go out (UTC), or None when that would be too late."""
    zone = contact.due_local.tzinfo
    assert isinstance(zone, ZoneInfo)
    instant = out_of_quiet(max(now, contact.due_at), schedule, zone)
    return instant if instant < contact.valid_until else None


def out_of_quiet(instant: datetime, schedule: Schedule, tz: ZoneInfo) -> datetime:
    """Give the instant itself, or the end of the quiet hours it falls into; UTC."""
    local, until = instant.astimezone(tz), schedule.quiet_until
    if not is_quiet(local.time(), schedule):
        return instant.astimezone(UTC)
    end = at_local(local.date() if local.time() < until else local.date() + DAY, until, tz)
    if end <= instant:  # in an hour that comes twice, for the second time
        end = datetime.combine(local.date(), until.replace(fold=1), tz).astimezone(UTC)
    return out_of_quiet(end, schedule, tz)  # a clock change may have carried the end into quiet hours again


def is_quiet(clock: time, schedule: Schedule) -> bool:
    """Tell whether a local time lies in the quiet hours; their end does not."""
    start, end = schedule.quiet_from, schedule.quiet_until
    return start <= clock < end if start <= end else clock >= start or clock < end


@lru_cache(maxsize=4096)
def at_local(day: date, clock: time, tz: ZoneInfo) -> datetime:
    """Give the instant (UTC) of a local date and time; the module's head says how clock changes are read.

    Kept, for all pairs of a zone are planned on the same few dates and hours.
    """
    return datetime.combine(day, clock.replace(fold=0), tz).astimezone(UTC)


def latest_birth(pair: Pair) -> datetime:
    """Give the latest instant (UTC) at which the youngest baby can have been born: its least age.

    An unknown hour is the end of that day, or the discharge if that came first.
    """
    return max(_latest_birth(baby, pair) for baby in pair.living or pair.babies)


def small_or_twin(pair: Pair) -> bool:
    """Tell whether a baby is of low birth weight, preterm or one of several. Unknown facts tell nothing."""
    return len(pair.babies) > 1 or any(
        (baby.birth_weight_g is not None and baby.birth_weight_g < LOW_BIRTH_WEIGHT_G)
        or (baby.gestation_weeks is not None and baby.gestation_weeks < TERM_WEEKS)
        for baby in pair.babies
    )


def poorly_attached(pair: Pair) -> bool:
    """Tell whether a baby was poorly attached or not suckling well when it was last looked at."""
    return any(not POOR.isdisjoint(signs.items()) for signs in _last_seen(pair))


def _last_seen(pair: Pair) -> Iterator[Mapping[str, str]]:
    for baby in pair.living or pair.babies:
        seen = [each for each in pair.assessments if each.baby == baby.ordinal and each.signs]
        if seen:
            yield max(seen, key=lambda each: each.at).signs


_HOLDS: Mapping[Condition, Callable[[Pair], bool]] = {
    Condition.small_or_twin: small_or_twin,
    Condition.close_watch: lambda pair: small_or_twin(pair) or poorly_attached(pair),
    Condition.poor_attachment: poorly_attached,
    Condition.wound: lambda pair: not WOUND.isdisjoint(_risks(pair)),
    Condition.high_blood_pressure: lambda pair: HIGH_BLOOD_PRESSURE in _risks(pair),
    Condition.heavy_bleeding: lambda pair: HEAVY_BLEEDING in _risks(pair),
}


def _risks(pair: Pair) -> frozenset[str]:
    return known_risks(pair.mother.risks, pair.mother.birth_mode)


def applies(condition: Condition | None, pair: Pair) -> bool:
    """Tell whether what a schedule holds under a condition is for this pair."""
    return condition is None or _HOLDS[condition](pair)


def _latest_birth(baby: Baby, pair: Pair) -> datetime:
    if baby.born_at is not None:
        return baby.born_at.astimezone(UTC)
    return min(at_local(baby.born_on + DAY, time(0), pair.tz), pair.discharged_at.astimezone(UTC))


@dataclass(frozen=True, slots=True)
class _Start:
    """Where an anchor stands for one pair: local date, instant, first occurrence, since when it is known."""

    day: date
    instant: datetime
    occurrence: int
    known_at: datetime
    over_at: datetime | None = None


def _start(anchor: Anchor, pair: Pair) -> _Start | None:
    # In UTC first: Python compares two times of one zone by the wall clock, which a long night turns round.
    home = max(pair.discharged_at.astimezone(UTC), pair.enrolled_at.astimezone(UTC))
    if anchor is Anchor.birth:
        return _Start(pair.youngest.born_on, latest_birth(pair), 1, home)
    if anchor is Anchor.discharge:
        return _Start(pair.local(pair.discharged_at).date(), pair.discharged_at.astimezone(UTC), 1, home)
    if anchor is Anchor.home:
        return None if pair.home_at is None else _home(pair.home_at, pair)
    review = pair.expected_review
    if review is None:
        return None
    # A review that was moved, or the next one, has reminders of its own: they count with the reviews.
    booked = sorted(pair.reviews, key=lambda each: (each.booked_at, each.id))
    return _Start(
        day=review.on_day,
        instant=at_local(review.on_day, review.at or pair.site.opens, pair.tz),
        occurrence=booked.index(review) + 1,
        known_at=max(home, review.booked_at.astimezone(UTC)),
        over_at=at_local(review.on_day, review.at or pair.site.closes, pair.tz),
    )


def _home(at: datetime, pair: Pair) -> _Start:
    """They may come home more than once: each coming has contacts of its own, counted by the day of life."""
    day = pair.local(at).date()
    return _Start(day, at.astimezone(UTC), (day - pair.youngest.born_on).days, at.astimezone(UTC))


def _occurrences(
    spec: ContactSpec, start: _Start | None, pair: Pair, schedule: Schedule
) -> Iterator[Planned]:
    if start is None:
        return
    again = spec.repeat
    all_days = range(spec.days, again.until_days + 1, again.every_days) if again else (spec.days,)
    for occurrence, days in enumerate(all_days, start.occurrence):
        times = _times(spec, _due(spec, start, days, pair, schedule), start, schedule, pair.tz)
        if times is not None:
            due_at, valid_until = times
            due_local = due_at.astimezone(pair.tz)
            yield Planned(
                spec.key, occurrence, spec.kind, due_at, due_local, valid_until, spec.questions, spec
            )


def _due(spec: ContactSpec, start: _Start, days: int, pair: Pair, schedule: Schedule) -> datetime:
    clock = _clock(spec, pair, schedule)
    if clock is not None:
        return at_local(start.day + days * DAY, clock, pair.tz)
    later = start.instant
    if days:
        wall = pair.local(later)
        later = at_local(wall.date() + days * DAY, wall.time(), pair.tz)
    return later + timedelta(hours=spec.hours)


def _clock(spec: ContactSpec, pair: Pair, schedule: Schedule) -> time | None:
    window = spec.window
    if spec.cover:
        site, after, before = pair.site, schedule.cover_after_opening, schedule.cover_before_closing
        window = _cover(site.opens, site.closes, after, before)
    if window is None:
        return spec.at
    if pair.preferred_hour is None:
        return window.start
    return min(max(time(pair.preferred_hour), window.start), max(window.start, window.end))


@lru_cache(maxsize=256)
def _cover(opens: time, closes: time, after: timedelta, before: timedelta) -> Window:
    """The times at which an asking leaves hours enough to read and act on the answer before closing."""
    first = datetime.combine(date.min, opens) + after
    last = datetime.combine(date.min + DAY, closes) - before
    return Window(first.time(), last.time() if last.date() > date.min else time(0))


def _times(
    spec: ContactSpec, due: datetime, start: _Start, schedule: Schedule, tz: ZoneInfo
) -> tuple[datetime, datetime] | None:
    """Give when the contact goes out and until when it may, or None when no such time is left."""
    keeps = spec.kind is ContactKind.advice
    if due < start.known_at and not keeps:
        return None
    until = due + spec.valid_for
    begins = out_of_quiet(max(due, start.known_at), schedule, tz)
    if not keeps:  # a question or reminder belongs to its own day
        until = min(until, quiet_after(begins, schedule, tz))
    if start.over_at is not None:
        until = min(until, start.over_at)
    return (begins, until) if begins < until else None


def quiet_after(instant: datetime, schedule: Schedule, tz: ZoneInfo) -> datetime:
    """Give when quiet hours next begin, or the end of time when there are none."""
    if schedule.quiet_from == schedule.quiet_until:
        return datetime.max.replace(tzinfo=UTC)
    day = instant.astimezone(tz).date()
    evening = at_local(day, schedule.quiet_from, tz)
    return evening if evening > instant else at_local(day + DAY, schedule.quiet_from, tz)


def _within_limits(contacts: list[Planned], pair: Pair, schedule: Schedule) -> Iterator[Planned]:
    asked: Counter[date] = Counter()
    born_at, born_on = latest_birth(pair), pair.youngest.born_on
    for contact in contacts:
        if contact.kind is not ContactKind.check_in:
            yield contact
            continue
        day = contact.due_local.date()
        room = schedule.max_asking_a_day - asked[day]
        questions = _questions(contact, born_at, born_on, schedule)[:room]
        if questions:
            also = [each for each in _also(contact.spec, pair) if each not in questions]
            questions = (questions[0], *also[: room - len(questions)], *questions[1:])
        asked[day] += len(questions)
        if questions:
            yield contact if questions == contact.questions else replace(contact, questions=questions)


def _also(spec: ContactSpec, pair: Pair) -> list[str]:
    return [each.ask for each in spec.also if applies(each.condition, pair)]


def _questions(contact: Planned, born_at: datetime, born_on: date, schedule: Schedule) -> tuple[str, ...]:
    questions = contact.questions
    if contact.due_at - born_at < DAY:
        questions = tuple(question for question in questions if question not in schedule.day_counts)
    if (contact.due_local.date() - born_on).days <= FIRST_WEEK:
        questions = questions[: schedule.max_questions_first_week]
    return questions

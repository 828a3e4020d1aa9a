"""Findings become one item of the inbox: its urgency, its due time, what joins it, what closes it.

One open escalation a pair. By program the urgency only rises. The due time is that of the gravest that she
was not spoken to about: it only comes nearer, except that a graver danger joining an item which is overdue
already gets a due time of its own. What is for today and not settled for a day goes up, with one too.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from uuid import UUID

from bot.core.errors import Conflict
from bot.core.ids import derived_id
from bot.core.pair import Escalation, Finding
from bot.core.states import EscalationState, Urgency, move

# On the clock, from the moment it was raised to the moment the mother was spoken to. Common practice, no
# source; a programme sets its own.
DUE: Mapping[Urgency, timedelta] = {
    Urgency.go_now: timedelta(minutes=15),
    Urgency.same_day: timedelta(hours=4),
    Urgency.routine: timedelta(hours=48),
}
# What somebody had to see to within the day and nobody settled in one. Common practice, no source.
RISES_AFTER = timedelta(hours=24)


# Who takes an item and does not speak to her in this time has it no longer: it stands open to all again.
# Common practice, no source.
LAPSES: Mapping[Urgency, timedelta] = {
    Urgency.go_now: timedelta(minutes=15),
    Urgency.same_day: timedelta(hours=2),
    Urgency.routine: timedelta(hours=24),
}


@dataclass(frozen=True, slots=True)
class News:
    """Something found just now, before it joins an escalation."""

    rule: str
    baby: int | None
    urgency: Urgency
    inbound: UUID | None = None
    detail: str = ""
    risen: bool = False  # graver than its rule says, because it comes again a day later


def join(
    standing: Escalation | None,
    news: Sequence[News],
    owner: UUID | str,
    now: datetime,
    due: Mapping[Urgency, timedelta] = DUE,
) -> Escalation:
    """Put `news` (at least one, each above none) into the open escalation, or open one for `owner`: a pair's
    id, or what tells one unknown number from another.

    A new or graver finding on an item whose mother was spoken to already starts its clock again, and so does
    one that is graver than an item which is overdue.
    """
    gravest = max(item.urgency for item in news)
    if standing is None:
        opened = Escalation(
            id=derived_id(now, owner, "escalation"),
            urgency=gravest,
            raised_at=now,
            due_at=now + due[gravest],
            state=EscalationState.waiting,
            findings=(),
        )
        return replace(opened, findings=_merged((), news, now))
    graver = [item for item in news if is_new_or_graver(standing, item)]
    due_at = standing.due_at
    spoken_at = standing.spoken_at
    if graver:
        fresh = now + due[max(item.urgency for item in graver)]
        is_late_and_milder = due_at < now and gravest > standing.urgency
        due_at = fresh if spoken_at or is_late_and_milder else min(due_at, fresh)
        spoken_at = None
    return replace(
        standing,
        urgency=max(standing.urgency, gravest),
        due_at=due_at,
        spoken_at=spoken_at,
        findings=_merged(standing.findings, news, now),
    )


def is_new_or_graver(standing: Escalation | None, item: News) -> bool:
    """Tell whether a person has not been told this yet, or only in a milder form; what she says again after
    somebody lowered it is told again."""
    if standing is None or item.urgency > standing.urgency:
        return True
    known = next((f for f in standing.findings if _same(f, item)), None)
    return known is None or known.withdrawn_by is not None or item.urgency > known.urgency


def risen(standing: Escalation | None, item: News, now: datetime) -> News:
    """Give the news as it counts: what is for today, stands for a day and is found once more goes up."""
    if standing is None or standing.urgency is not Urgency.same_day or item.urgency is not Urgency.same_day:
        return item
    known = next((f for f in standing.findings if _same(f, item)), None)
    if known is None or not _may_rise(known) or now < known.first_at + RISES_AFTER:
        return item
    return replace(item, urgency=Urgency.go_now, risen=True)


def rises_at(item: Escalation | None) -> datetime | None:
    """When something in the item goes up because nobody has spoken to her for a day; None: nothing does.

    What a person lowered, or has spoken to her about, waits for the person.
    """
    if item is None or item.urgency is not Urgency.same_day or item.spoken_at is not None:
        return None
    return min((f.first_at + RISES_AFTER for f in item.findings if _may_rise(f)), default=None)


def with_risen(
    item: Escalation, now: datetime, due: Mapping[Urgency, timedelta] = DUE
) -> tuple[Escalation, tuple[str, ...]]:
    """Let what nobody settled for a day go up; gives the item with its new due time, and the rules."""
    late = {(f.rule, f.baby) for f in item.findings if _may_rise(f) and f.first_at + RISES_AFTER <= now}
    findings = tuple(
        replace(f, urgency=Urgency.go_now, risen_at=now) if (f.rule, f.baby) in late else f
        for f in item.findings
    )
    after = replace(item, urgency=Urgency.go_now, due_at=now + due[Urgency.go_now], findings=findings)
    return after, tuple(sorted(rule for rule, _ in late))


def _may_rise(finding: Finding) -> bool:
    return finding.urgency >= Urgency.same_day and finding.risen_at is None and finding.withdrawn_by is None


def is_danger(item: Escalation | None) -> bool:
    """Tell whether the item is a danger now: go_now, and not only because nobody settled it for a day."""
    if item is None or item.state is EscalationState.closed or item.urgency is not Urgency.go_now:
        return False
    gravest = [f for f in item.findings if f.urgency is Urgency.go_now]
    return not gravest or any(f.risen_at is None for f in gravest)


def _same(finding: Finding, item: News) -> bool:
    return (finding.rule, finding.baby) == (item.rule, item.baby)


def _merged(findings: tuple[Finding, ...], news: Sequence[News], now: datetime) -> tuple[Finding, ...]:
    merged = list(findings)
    for item in news:
        at = next((i for i, finding in enumerate(merged) if _same(finding, item)), None)
        if at is None:
            merged.append(Finding(item.rule, item.baby, item.urgency, now, now, 1, item.inbound, item.detail))
            continue
        known = merged[at]
        merged[at] = replace(
            known,
            urgency=max(known.urgency, item.urgency),
            last_at=now,
            count=known.count + 1,
            inbound=item.inbound or known.inbound,
            detail=item.detail or known.detail,
            withdrawn_by=None,
            risen_at=known.risen_at or (now if item.risen else None),
        )
    return tuple(merged)


def taken(item: Escalation, by: UUID, now: datetime) -> Escalation:
    """Give it to one counsellor. Raises Conflict when another has it."""
    if item.state is EscalationState.taken and item.taken_by != by:
        raise Conflict("Somebody else has taken this. Ask them to hand it over.")
    after = move(item.state, EscalationState.taken)
    return replace(item, state=after, taken_by=by, taken_at=now, offered_to=None)


def released(item: Escalation) -> Escalation:
    after = move(item.state, EscalationState.waiting)
    return replace(item, state=after, taken_by=None, taken_at=None, offered_to=None)


def lapses_at(item: Escalation) -> datetime | None:
    """When a taken item that nobody speaks about stands open to all again; None if it does not."""
    if item.state is not EscalationState.taken or item.taken_at is None or item.spoken_at is not None:
        return None
    return item.taken_at + LAPSES[item.urgency]


def put_off(item: Escalation, until: datetime, now: datetime) -> Escalation:
    """Look at it again later. Raises Conflict for a danger, and for a time that is past."""
    if item.urgency is Urgency.go_now:
        raise Conflict("This says go now: it can't be put off.")
    if until <= now:
        raise Conflict("Choose a time that is still to come.")
    return replace(item, not_before=until)


def closed(item: Escalation, found: str, now: datetime, note: str | None = None) -> Escalation:
    """Close it with what was found. Raises Conflict when nobody spoke to her and nothing says why."""
    if not found.strip():
        raise Conflict("Say what was found before you close this.")
    state = move(item.state, EscalationState.closed)
    return replace(item, state=state, closed_at=now, disposition=found, note=note)


def with_urgency(item: Escalation, urgency: Urgency, due: Mapping[Urgency, timedelta] = DUE) -> Escalation:
    """A person sets the urgency; the due time runs from when it was raised."""
    if urgency is Urgency.none:
        raise Conflict("Close it instead, with what was found.")
    return replace(item, urgency=urgency, due_at=item.raised_at + due[urgency])

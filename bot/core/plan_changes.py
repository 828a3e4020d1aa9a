"""What differs between two schedules, contact by contact, and between the plans that one pair has by each."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields
from datetime import date
from enum import StrEnum

from bot.core.plan import Planned
from bot.core.schedule import Anchor, ContactSpec, Schedule

# Fields of a schedule that are not its contacts and change nothing for a mother by themselves.
_LABELS = frozenset({"name", "edition", "contacts", "sources", "dated"})
# Likewise of a contact.
_WORDS = frozenset({"meaning", "source"})
# How many days after birth an anchor may still lie.
_LATER = {Anchor.birth: 0, Anchor.discharge: 21, Anchor.review: 21, Anchor.home: 42}


@dataclass(frozen=True, slots=True)
class ContactChange:
    """A contact before and after; None where it did not stand. `fields` are those that differ."""

    key: str
    before: ContactSpec | None
    after: ContactSpec | None
    fields: tuple[str, ...]

    @property
    def last_day(self) -> int:
        """The last day after its anchor on which either form comes; -1 where none ever does."""
        return max((_last_day(spec) for spec in (self.before, self.after) if spec is not None), default=-1)

    @property
    def anchor(self) -> Anchor:
        spec = self.after or self.before
        assert spec is not None
        return spec.anchor


class How(StrEnum):
    same = "same"
    added = "added"
    gone = "gone"
    moved = "moved"
    asks_otherwise = "asks_otherwise"


@dataclass(frozen=True, slots=True)
class PlanChange:
    """One contact of one pair by the old plan and by the new one."""

    before: Planned | None
    after: Planned | None

    @property
    def how(self) -> How:
        if self.before is None:
            return How.added
        if self.after is None:
            return How.gone
        if self.before.due_at != self.after.due_at:
            return How.moved
        asked = (self.before.questions, self.before.spec.text)
        return How.same if asked == (self.after.questions, self.after.spec.text) else How.asks_otherwise

    @property
    def shown(self) -> Planned:
        """The contact as it will be, or as it was where it goes."""
        found = self.after or self.before
        assert found is not None
        return found


def changed_contacts(before: Schedule, after: Schedule) -> tuple[ContactChange, ...]:
    """Give the contacts that differ in more than words for staff, in the order of `after`."""
    old = {spec.key: spec for spec in before.contacts}
    new = {spec.key: spec for spec in after.contacts}
    found = (_change(key, old.get(key), new.get(key)) for key in dict.fromkeys([*new, *old]))
    return tuple(change for change in found if set(change.fields) - _WORDS)


def changed_settings(before: Schedule, after: Schedule) -> tuple[str, ...]:
    """Name the settings of the whole schedule that differ: quiet hours, limits, cover, the review."""
    return tuple(
        each.name
        for each in fields(Schedule)
        if each.name not in _LABELS and getattr(before, each.name) != getattr(after, each.name)
    )


def differs_at_all(before: Schedule, after: Schedule) -> bool:
    """Tell whether anything differs, words for staff and sources included."""
    return (before.contacts, before.sources) != (after.contacts, after.sources) or bool(
        changed_settings(before, after)
    )


def compared(before: Iterable[Planned], after: Iterable[Planned]) -> list[PlanChange]:
    """Put two plans of one pair side by side, in the order in which the new one runs."""
    old = {(each.key, each.occurrence): each for each in before}
    new = {(each.key, each.occurrence): each for each in after}
    pairs = [PlanChange(old.get(key), new.get(key)) for key in dict.fromkeys([*old, *new])]
    return sorted(pairs, key=lambda change: change.shown.due_at)


def born_since(changes: Iterable[ContactChange], in_force: date) -> date | None:
    """Give the earliest day of birth for which one of `changes` can still lie ahead, None when there is none.

    Contacts that hang on discharge or review count as if they hung on birth, with three weeks more: the last
    first review a schedule may set. Those that hang on coming home again count with six weeks more.
    """
    days = list(_reach(changes))
    return date.fromordinal(in_force.toordinal() - max(days)) if days else None


def _reach(changes: Iterable[ContactChange]) -> Iterator[int]:
    for change in changes:
        if change.last_day >= 0 or change.anchor is Anchor.review:
            yield change.last_day + _LATER[change.anchor]


def _last_day(spec: ContactSpec) -> int:
    if not spec.on:
        return -1
    return spec.repeat.until_days if spec.repeat else spec.days


def _change(key: str, before: ContactSpec | None, after: ContactSpec | None) -> ContactChange:
    if before is None or after is None:
        return ContactChange(key, before, after, ("key",))
    both_off = not before.on and not after.on
    differs = (
        each.name for each in fields(ContactSpec) if getattr(before, each.name) != getattr(after, each.name)
    )
    return ContactChange(key, before, after, () if both_off else tuple(differs))

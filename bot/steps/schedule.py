"""Changing the schedule: edits gather in a draft, published as a new edition a day ahead, or dropped.

A draft is always a whole, valid schedule: an edit with faults is refused with all of them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection

from bot.content.factory import load_factory
from bot.content.schedule import schedule_from, schedule_to
from bot.core.errors import Conflict, Invalid, NotFound, Problem
from bot.core.plan_changes import differs_at_all
from bot.core.schedule import Schedule
from bot.steps.backtest import changed_rules
from bot.steps.content import SCHEDULE, STANDARD, schedule_of
from bot.store import editions
from bot.store.drafts import Draft, draft_of, drop_draft, keep_draft
from bot.store.editions import Edition
from bot.store.engine import Store
from bot.store.viewer import Role, Viewer

AHEAD = timedelta(hours=24)  # no plan changes under a pair on the day on which it is published
_SETTINGS = ("quiet", "limits", "cover", "review")

Body = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Standing:
    """Where the schedule stands. `newest` may come into force later than `in_force`; `drafted` is the draft,
    or the newest edition where there is none. `behind`: somebody published after the draft was begun."""

    newest: Edition
    published: Schedule
    in_force: Edition
    draft: Draft | None
    drafted: Schedule

    @property
    def behind(self) -> bool:
        return self.draft is not None and self.draft.base != self.newest.number


def standing(store: Store, viewer: Viewer, now: datetime) -> Standing:
    """Give the newest edition, the one in force and the draft."""
    viewer.needs(Role.manager)
    with store.read() as conn:
        newest = _newest(conn)
        in_force = editions.in_force(conn, SCHEDULE, now).get(STANDARD, newest)
        draft = draft_of(conn, viewer, SCHEDULE, STANDARD)
    published = schedule_of(newest)
    return Standing(newest, published, in_force, draft, _checked(draft.body) if draft else published)


def trial_request(store: Store, viewer: Viewer, unsigned: frozenset[str], now: datetime) -> Body | None:
    """What invented mothers live through when the draft is tried, as JSON; None without a draft."""
    stands = standing(store, viewer, now)
    if stands.draft is None:
        return None
    with store.read() as conn:
        rules = changed_rules(conn, "", (), now)
    return {
        "standing": schedule_to(stands.published),
        "drafted": schedule_to(stands.drafted),
        "rules": rules,
        "unsigned": sorted(unsigned),
    }


def change_contact(
    store: Store, viewer: Viewer, key: str, values: Mapping[str, Any], seen: str, now: datetime
) -> None:
    """Put a contact into the draft in a new form. `values` are fields as in a schedule's file; None takes a
    field out. `seen` is the stamp of the form that was changed.

    Invalid   every fault; nothing was changed
    Conflict  somebody else changed this contact meanwhile
    """

    def edit(body: Body) -> None:
        row = next((each for each in body["contacts"] if each["key"] == key), None)
        if row is None:
            raise NotFound("There is no such contact in the schedule.")
        _unchanged(row, seen)
        changed = {name: value for name, value in ({**row, **values}).items() if value is not None}
        body["contacts"] = [changed if each is row else each for each in body["contacts"]]

    _edit(store, viewer, edit, now)


def change_settings(
    store: Store, viewer: Viewer, values: Mapping[str, Mapping[str, Any]], seen: str, now: datetime
) -> None:
    """Put new quiet hours, limits, cover or review policy into the draft; else as `change_contact`."""

    def edit(body: Body) -> None:
        _unchanged(settings_of(body), seen)
        for section, changes in values.items():
            merged = {**body[section], **changes}
            body[section] = {name: value for name, value in merged.items() if value is not None}

    _edit(store, viewer, edit, now)


def take_back(store: Store, viewer: Viewer, number: int, now: datetime) -> None:
    """Make an older edition the draft, to be looked at and published anew."""
    with store.write() as conn:
        older = _numbered(conn, number)
        if draft_of(conn, viewer, SCHEDULE, STANDARD, lock=True) is not None:
            raise Conflict("There is a draft. Publish or drop it first; nothing of it is lost until then.")
        newest = _newest(conn)
        keep_draft(conn, viewer, SCHEDULE, STANDARD, newest.number, dict(older.body), now)


def carry_over(store: Store, viewer: Viewer, now: datetime) -> None:
    """Put the draft's changes onto the edition that was published meanwhile. Where both changed the same
    contact the draft's form stands, and is shown as a change."""
    with store.write() as conn:
        draft = draft_of(conn, viewer, SCHEDULE, STANDARD, lock=True)
        if draft is None:
            return
        newest = _newest(conn)
        base = _numbered(conn, draft.base).body
        body = _merged(dict(base), dict(draft.body), _clean(newest))
        _checked(body)
        keep_draft(conn, viewer, SCHEDULE, STANDARD, newest.number, body, now)


def drop(store: Store, viewer: Viewer) -> None:
    """Forget the draft."""
    with store.write() as conn:
        drop_draft(conn, viewer, SCHEDULE, STANDARD)


def publish(store: Store, viewer: Viewer, why: str, seen: str, now: datetime) -> Edition:
    """Publish the draft; it comes into force a day later. `seen` is the stamp of the draft looked at.

    Invalid   no reason was given
    Conflict  there is no draft, it changed since it was looked at, or somebody published meanwhile
    """
    viewer.needs(Role.manager)
    if not why.strip():
        raise Invalid([Problem("why", "Say in a few words why the schedule changes.")])
    with store.write() as conn:
        draft = draft_of(conn, viewer, SCHEDULE, STANDARD, lock=True)
        if draft is None:
            raise Conflict("There is no draft any more. Somebody published or dropped it.")
        if stamp(draft.body) != seen:
            raise Conflict("The draft changed since you looked at it. Look at what it changes now.")
        schedule = _checked(draft.body)
        body = {**schedule_to(schedule), "edition": draft.base + 1, "dated": now.date().isoformat()}
        starts = _full_minute(now + AHEAD)
        made = editions.publish(
            conn, SCHEDULE, STANDARD, body,
            at=now, effective_from=starts, by=viewer.staff_id, based_on=draft.base, why=why.strip(),
        )  # fmt: skip
        drop_draft(conn, viewer, SCHEDULE, STANDARD)
        return made


def stamp(piece: Mapping[str, Any]) -> str:
    """Name the state of a piece of a schedule, for a form to say what it was made from."""
    return editions.digest(piece)[:16]


def settings_of(body: Mapping[str, Any]) -> Body:
    """Give the settings of a schedule's body, without its contacts and labels."""
    return {section: body[section] for section in _SETTINGS}


def contact_of(body: Mapping[str, Any], key: str) -> Body:
    """Give one contact of a schedule's body; NotFound where there is none."""
    found = next((each for each in body["contacts"] if each["key"] == key), None)
    if found is None:
        raise NotFound("There is no such contact in the schedule.")
    return dict(found)


def _edit(store: Store, viewer: Viewer, edit: Callable[[Body], None], now: datetime) -> None:
    with store.write() as conn:
        draft = draft_of(conn, viewer, SCHEDULE, STANDARD, lock=True)
        newest = _newest(conn)
        body = dict(draft.body) if draft else _clean(newest)
        edit(body)
        after = _checked(body)
        base = draft.base if draft else newest.number
        if base == newest.number and not differs_at_all(schedule_of(newest), after):
            drop_draft(conn, viewer, SCHEDULE, STANDARD)
        else:
            keep_draft(conn, viewer, SCHEDULE, STANDARD, base, schedule_to(after), now)


def _checked(body: Mapping[str, Any]) -> Schedule:
    factory = load_factory()
    return schedule_from(body, set(factory.questions), set(factory.texts.keys))


def _clean(edition: Edition) -> Body:
    """The body in the one form in which drafts are kept, so that stamps can be compared."""
    return schedule_to(schedule_of(edition))


def _merged(base: Body, draft: Body, newest: Body) -> Body:
    old = {each["key"]: each for each in base["contacts"]}
    mine = {each["key"]: each for each in draft["contacts"]}
    contacts = []
    for row in newest["contacts"]:
        changed = mine.get(row["key"])
        contacts.append(changed if changed is not None and changed != old.get(row["key"]) else row)
    sections = {name: draft[name] if draft[name] != base.get(name) else newest[name] for name in _SETTINGS}
    return {**newest, **sections, "contacts": contacts}


def _unchanged(piece: Mapping[str, Any], seen: str) -> None:
    if stamp(piece) != seen:
        raise Conflict("Somebody else changed this meanwhile. Look at it and make your change again.")


def _newest(conn: Connection) -> Edition:
    found = editions.newest(conn, SCHEDULE, STANDARD)
    if found is None:
        raise NotFound("No schedule is published yet. Run `dunnock init`.")
    return found


def _numbered(conn: Connection, number: int) -> Edition:
    found = next((e for e in editions.history(conn, SCHEDULE, STANDARD) if e.number == number), None)
    if found is None:
        raise NotFound("There is no such edition.")
    return found


def _full_minute(at: datetime) -> datetime:
    down = at.replace(second=0, microsecond=0)
    return down if down == at else down + timedelta(minutes=1)

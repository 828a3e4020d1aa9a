"""The list of those whom texts do not reach: how a pair comes onto it, what people try, how it leaves.

It stands beside the inbox: who is on it is looked for by call, second contact and visit. Whoever was spoken
to leaves it; when the next contact is due and can't be a text, they come onto it again.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from bot.core import chase as wanted
from bot.core.errors import Conflict, Invalid, Problem
from bot.core.follow import episodes
from bot.core.follow import events as act
from bot.core.follow.draft import Draft
from bot.core.follow.texting import morning_of, next_morning, stop_texts
from bot.core.ids import derived_id
from bot.core.outbox import Priority
from bot.core.pair import Attempt, Chase
from bot.core.states import ChaseState, EnrolmentState, Texting, move

_DAY = timedelta(days=1)
# Why nobody can be texted at a number in this state.
_GROUND_OF: Mapping[Texting, str] = {
    Texting.none: "no_phone",
    Texting.stopped: "opted_out",
    Texting.unreachable: "undelivered",
}
# Grounds that are over when texts go out again.
_OF_TEXTING = frozenset({"no_phone", "opted_out", "wrong_number", "undelivered"})


# ---------------------------------------------------------------- onto the list and off it


def enter(draft: Draft, ground: str, by: UUID | None = None) -> None:
    """Put them on the list; who stands there keeps the ground of then. What two people have signed as
    unresolved is not begun again until she was heard."""
    if draft.pair.open_chase is not None or _is_signed(draft):
        return
    made = derived_id(draft.now, draft.pair.id, "chase", len(draft.pair.chases))
    draft.put_chase(Chase(made, ChaseState.trying, ground, draft.now, draft.now + wanted.LEFT_ALONE))
    draft.note("chase", after=ChaseState.trying.value, why=ground, by=by)


def _is_signed(draft: Draft) -> bool:
    return _last(draft, ChaseState.unresolved) is not None


def _last(draft: Draft, state: ChaseState) -> Chase | None:
    """The newest stay on the list, if it is in that state."""
    last = draft.pair.chases[-1] if draft.pair.chases else None
    return last if last is not None and last.state is state else None


def settle(draft: Draft, was: Texting | None) -> None:
    """After every event: a number that fell silent for texts puts them on the list, one that texts reach
    again takes them off it, and so does the end of the follow-up. `was` is how texts stood before, None at
    the enrolment."""
    texting = draft.pair.mother.texting
    chase = draft.pair.open_chase
    if draft.pair.state is EnrolmentState.closed:
        if chase is not None:
            _end(draft, chase, ChaseState.dropped)
    elif texting is not was and texting in _GROUND_OF:
        enter(draft, _GROUND_OF[texting])
    elif texting is not was and texting is Texting.on and chase is not None and chase.ground in _OF_TEXTING:
        _end(draft, chase, ChaseState.reached)


def due_by_person(draft: Draft) -> None:
    """A contact is due that can't be a text: they are to be reached again."""
    ground = _GROUND_OF.get(draft.pair.mother.texting)
    if ground is not None:
        enter(draft, ground)


def undelivered(draft: Draft) -> None:
    if draft.pair.undelivered_since is None:
        draft.set(undelivered_since=draft.now)


def arrived(draft: Draft) -> None:
    """A text arrived, or she wrote: her phone is within reach of texts."""
    if draft.pair.undelivered_since is not None:
        draft.set(undelivered_since=None)
    chase = draft.pair.open_chase
    if chase is not None and chase.ground == "undelivered":
        _end(draft, chase, ChaseState.reached)


def heard(draft: Draft) -> None:
    """She wrote, from her own number."""
    arrived(draft)
    chase = draft.pair.open_chase or _last(draft, ChaseState.unresolved)
    if chase is not None and (chase.ground in ("calls_failed", "by_hand") or chase.closed_at is not None):
        _end(draft, chase, ChaseState.reached)


def look(draft: Draft) -> None:
    """On waking: what has not arrived for two days, and who was left alone on the list."""
    since = draft.pair.undelivered_since
    if since is not None and since + wanted.UNDELIVERED_FOR <= draft.now:
        draft.set(undelivered_since=None)
        enter(draft, "undelivered")
    chase = draft.pair.open_chase
    if chase is not None and chase.look_at is not None and chase.look_at <= draft.now:
        draft.put_chase(replace(chase, look_at=next_morning(draft)))
        draft.occasion("not_reached")


def looks_at(draft: Draft) -> list[datetime]:
    """The timers of the list."""
    chase, since = draft.pair.open_chase, draft.pair.undelivered_since
    looks = [chase.look_at if chase else None, since + wanted.UNDELIVERED_FOR if since else None]
    return [at for at in looks if at is not None]


def spoken(draft: Draft, by: UUID) -> None:
    """She was spoken to: the item's clock stops, nobody else need be woken, and nobody looks for her."""
    item = draft.pair.open_escalation
    if item is not None and item.spoken_at is None:
        draft.put_escalation(replace(item, spoken_at=draft.now))
        episodes.spoken(draft, by)
        draft.heeded("spoken")
    chase = draft.pair.open_chase or _last(draft, ChaseState.unresolved)
    if chase is not None:
        _end(draft, chase, ChaseState.reached, by)


def _end(draft: Draft, chase: Chase, state: ChaseState, by: UUID | None = None) -> None:
    """Leave the list. A visit that is still planned is not made."""
    after = move(chase.state, state)
    draft.put_chase(replace(chase, state=after, look_at=None, closed_at=draft.now, closed_by=by))
    visit = wanted.planned_visit(draft.pair)
    if visit is not None:
        draft.put_attempt(replace(visit, result="not_made", done_at=draft.now))
    draft.note("chase", chase.state.value, state.value, by=by)


# ---------------------------------------------------------------- what people do


def _she_rang(draft: Draft, action: act.SheRang, by: UUID) -> None:
    draft.note("rang", after="spoken", by=by)
    spoken(draft, by)


def _checked_who(draft: Draft, action: act.CheckedWho, by: UUID) -> None:
    draft.note("identity", after="checked", by=by)


def _tried(draft: Draft, action: act.Tried, by: UUID) -> None:
    """Note a call. Three in a row that failed put them on the list; a stranger's number is texted no more."""
    _known(action.kind, action.result)
    if action.kind == "call" and draft.pair.mother.phone is None:
        raise Conflict("No number of hers is known. Ask the second contact, or visit.")
    if action.kind == "second_contact" and wanted.second_contact(draft.pair) is None:
        raise Conflict("She agreed to nobody else who may be called.")
    _keep(draft, action.kind, action.result, by)
    if action.result == "reached":
        spoken(draft, by)
        return
    if action.result == "wrong_number":
        enter(draft, "wrong_number", by)
        stop_texts(draft, "wrong number", Texting.none, by)
    elif action.kind == "call" and wanted.failed_calls(draft.pair) >= wanted.FAILED_CALLS:
        enter(draft, "calls_failed", by)
    _tried_today(draft)


def _plan_visit(draft: Draft, action: act.PlanVisit, by: UUID) -> None:
    faults = []
    if action.on_day < draft.pair.local(draft.now).date():
        faults.append(Problem("visit_on", "This day is over. Choose today or later."))
    if not action.who.strip():
        faults.append(Problem("visit_who", "Say who goes."))
    if faults:
        raise Invalid(faults)
    if not wanted.may_visit(draft.pair):
        raise Conflict("She did not agree to a visit at home.")
    enter(draft, "by_hand", by)
    standing = wanted.planned_visit(draft.pair)
    if standing is not None:  # another day, or somebody else goes
        draft.put_attempt(replace(standing, on_day=action.on_day, who=action.who.strip()))
        draft.note("attempt", "visit", action.on_day.isoformat(), "moved", by)
    else:
        _keep(draft, "visit", "", by, on_day=action.on_day, who=action.who.strip())
    _tried_today(draft)


def _visited(draft: Draft, action: act.Visited, by: UUID) -> None:
    visit = wanted.planned_visit(draft.pair)
    if visit is None:
        raise Conflict("No visit is planned any more. Look at the list again.")
    _known("visit", action.result)
    draft.put_attempt(replace(visit, result=action.result, done_at=draft.now))
    draft.note("attempt", "visit", action.result, by=by)
    if action.result == "reached":
        spoken(draft, by)
    else:
        _tried_today(draft)


def _give_up(draft: Draft, action: act.GiveUp, by: UUID) -> None:
    if action.why not in wanted.GIVEN_UP:
        raise Invalid([Problem("why", "Choose why you give up.")])
    if draft.in_danger:
        raise Conflict("A danger is open: nobody gives up on them now.")
    left = wanted.left_to_try(draft.pair)
    if action.why == "all_tried" and (left or wanted.planned_visit(draft.pair) is not None):
        raise Conflict("Not everything was tried yet: see what is left beside their name.")
    chase = _listed(draft)
    changed = replace(chase, given_up_by=by, given_up_at=draft.now, why=action.why)
    draft.put_chase(replace(changed, state=move(chase.state, ChaseState.given_up)))
    draft.note("chase", chase.state.value, ChaseState.given_up.value, action.why, by)


def _sign(draft: Draft, action: act.SignUnresolved, by: UUID) -> None:
    chase = _listed(draft)
    if chase.state is not ChaseState.given_up:
        raise Conflict("Nobody has given up on them. Look at the list again.")
    if chase.given_up_by == by:
        raise Conflict("A second person signs this: somebody else than who gave up.")
    if draft.in_danger:
        raise Conflict("A danger is open: nobody gives up on them now.")
    _end(draft, chase, ChaseState.unresolved, by)


def _try_on(draft: Draft, action: act.TryOn, by: UUID) -> None:
    chase = _listed(draft)
    after = move(chase.state, ChaseState.trying)
    draft.put_chase(replace(chase, state=after, given_up_by=None, given_up_at=None, why=""))
    draft.note("chase", chase.state.value, after.value, by=by)


def _ask_to_call(draft: Draft, action: act.AskToCall, by: UUID) -> None:
    """Once a day; whoever pressed first."""
    _listed(draft)
    if not draft.pair.can_text():
        raise Conflict("No text can go to her now. Call, or visit.")
    today = draft.pair.local(draft.now).date()
    draft.say(f"please-call:{today}", "please-call", Priority.rest)
    draft.note("text", after="please-call", by=by)


def _listed(draft: Draft) -> Chase:
    chase = draft.pair.open_chase
    if chase is None:
        raise Conflict("They are not on the list any more. Look at it again.")
    return chase


def _known(kind: str, result: str) -> None:
    if result not in wanted.RESULTS[kind]:
        raise Invalid([Problem("result", "Choose what came of it.")])


def _keep(draft: Draft, kind: str, result: str, by: UUID, **visit: Any) -> None:
    made = derived_id(draft.now, draft.pair.id, "attempt", len(draft.pair.attempts))
    draft.put_attempt(Attempt(made, kind, result, draft.now, by, **visit))
    draft.note("attempt", kind, result or "planned", by=by)


def _tried_today(draft: Draft) -> None:
    """Something was tried: a person is reminded again after the same time, or the morning after a visit. Who
    had given up has not any more."""
    chase = draft.pair.open_chase
    if chase is None:
        return
    visit = wanted.planned_visit(draft.pair)
    at = draft.now + wanted.LEFT_ALONE
    if visit is not None and visit.on_day is not None:
        at = morning_of(draft, visit.on_day + _DAY)
    if chase.state is ChaseState.given_up:
        chase = replace(chase, state=ChaseState.trying, given_up_by=None, given_up_at=None, why="")
    draft.put_chase(replace(chase, look_at=at))


ACTS: Mapping[type, Callable[[Draft, Any, UUID], None]] = {
    act.SheRang: _she_rang,
    act.CheckedWho: _checked_who,
    act.Tried: _tried,
    act.PlanVisit: _plan_visit,
    act.Visited: _visited,
    act.GiveUp: _give_up,
    act.SignUnresolved: _sign,
    act.TryOn: _try_on,
    act.AskToCall: _ask_to_call,
}

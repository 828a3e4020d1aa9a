"""The counsellors in one mother's life: what comes into the inbox goes out as their calls, in the time
assumed for them. How long she would wait with so many counsellors is reckoned apart, for all mothers
together (`queue`)."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from math import ceil
from typing import TYPE_CHECKING
from uuid import UUID

from bot.cohort.draws import exponential
from bot.core.follow.events import (
    Action,
    Alert,
    Close,
    ConfirmPhone,
    EnterAnswers,
    Going,
    Heeded,
    Raise,
    Resume,
    Spoke,
    StaffActed,
)
from bot.core.states import EnrolmentState, EpisodeState, Texting, Urgency

if TYPE_CHECKING:
    from datetime import datetime

    from bot.cohort.life import Life
    from bot.cohort.people import Ill

COUNSELLOR = UUID(int=2)
SAFE_AFTER = timedelta(hours=24)  # a danger is over so long after somebody heard of it
# Items about the running of the follow-up: they say nothing of how mother and baby are.
BESIDES = frozenset(
    {
        "contact_by_call", "missed_review", "no_open_day", "opted_out", "unreachable", "wrong_number",
        "answer_missing", "warning_not_delivered", "last_check_in_unheard", "decision_awaited",
        "language_unsigned", "opt_out_unsure", "other_day", "new_number", "back_from_away", "not_arrived",
        "outcome_awaited", "language_changed", "not_reached",
    }
)  # fmt: skip
# After these, as after silence, nobody knows how they are: the counsellor asks what a check-in would have.
UNHEARD = frozenset(
    {"contact_by_call", "not_reached", "answer_missing", "last_check_in_unheard", "missed_review"}
)


@dataclass(slots=True, eq=False)
class Call:
    """One piece of work of the counsellors: she is to be spoken to.

    alarm  something said is about how they are; `true`: a true trouble stands behind it
    """

    since: datetime
    urgency: Urgency
    rules: set[str]
    alarm: bool
    true: bool


class Desk:
    def __init__(self, life: Life) -> None:
        self._life, self._n = life, life.tally.n
        self._call: Call | None = None  # nobody has spoken to her yet
        self._alerts: list[Alert] = []  # to be sent later, if nobody heeds the first

    def raised(self, effect: Raise) -> None:
        """The inbox has something new or graver: a counsellor will call."""
        life, known = self._life, self._call
        behind = [ill for ill in life.woman.ills() if ill.is_behind(life.now)]
        about_them = not BESIDES.issuperset(effect.rules)
        for rule in effect.rules:
            self._n["rule", rule, bool(behind)] += 1
        for ill in behind if about_them else ():
            self._heard(ill, "reply")
        if life.pair.open_escalation is None:
            return  # opened and closed in one step: the end of the follow-up
        call = Call(life.now, effect.urgency, set(effect.rules), about_them, bool(behind))
        if known is not None:
            known.rules |= call.rules
            known.alarm, known.true = known.alarm or call.alarm, known.true or call.true
            if effect.urgency <= known.urgency:
                return  # a counsellor is on the way already
            call = Call(life.now, effect.urgency, known.rules, known.alarm, known.true)
        self._call = call
        wait = life.world.assumed.staff.speaks_after.of(effect.urgency.name)
        begins = life.world.shifts.wait(life.now)
        life.at(life.now + timedelta(minutes=begins + max(1.0, wait)), lambda: self._speaks(call))

    def alerted(self, effect: Alert) -> None:
        """Somebody is woken, at once or when nobody has heeded the ones before."""
        if effect.send_after <= self._life.now:
            self._wake(effect)
            return
        self._alerts.append(effect)
        self._life.at(effect.send_after, lambda: self._wake(effect) if effect in self._alerts else None)

    def heeded(self, effect: Heeded) -> None:
        self._alerts = [each for each in self._alerts if each.escalation != effect.escalation]

    def helped(self, how: str) -> None:
        """A person spoke to her or saw her: true troubles are known, and may mend."""
        life, assumed = self._life, self._life.world.assumed.trouble
        for ill in life.woman.ills():
            if not ill.is_true(life.now):
                continue
            self._heard(ill, how)
            if ill.sign:
                ill.over = min(ill.over, life.now + SAFE_AFTER)
            elif life.random.random() < assumed.helped:
                ill.over = min(ill.over, life.now + timedelta(hours=assumed.mends_after_help_hours))

    def end(self) -> None:
        """Her days in the run are over: who still waits for a call is counted like the others."""
        if self._call is not None:
            self._into_the_queue(self._call)

    def _heard(self, ill: Ill, how: str) -> None:
        if ill.heard_at is None:
            ill.heard_at, ill.heard_by = self._life.now, how

    def _wake(self, effect: Alert) -> None:
        life = self._life
        self._n["alerts", effect.reason] += 1
        self._n["alert segments", effect.to.language] += life.world.segments(
            effect.text_key, effect.to.language, effect.values
        )
        self._alerts = [each for each in self._alerts if each is not effect]
        call, staff = self._call, life.world.assumed.staff
        nobody_is_there = life.world.shifts.wait(life.now) > 0
        if call is not None and nobody_is_there and life.random.random() < staff.on_call:
            minutes = 1 + exponential(life.random, staff.on_call_minutes)
            life.at(life.now + timedelta(minutes=minutes), lambda: self._speaks(call, woken=True))

    def _speaks(self, call: Call, woken: bool = False) -> None:
        """A counsellor, or who was woken, calls: what she says is entered, what is true comes out, the item
        is closed."""
        life = self._life
        item = life.pair.open_escalation
        if item is None or call is not self._call:
            return
        self._into_the_queue(call, woken)
        self._call = None
        unheard = call.rules & UNHEARD or any(rule.startswith("silence") for rule in call.rules)
        self._act(EnterAnswers(life.mouth.values(life.now)) if unheard else Spoke())
        if life.pair.mother.texting is Texting.unverified and not life.woman.wrong_number:
            self._act(ConfirmPhone())
        if life.pair.state is EnrolmentState.held:
            self._act(Resume(texting=not life.woman.wrong_number))
        self.helped("call")
        self._call = None  # what she said just now was said to the counsellor
        episode = life.pair.open_episode
        if episode is None or life.woman.danger(life.now) is None:
            self._close("nothing_found")
            return
        if episode.state in (
            EpisodeState.told,
            EpisodeState.delivered,
            EpisodeState.cannot,
            EpisodeState.doubts,
        ):
            self._act(Going(EpisodeState.on_the_way))
        hours = life.world.assumed.dangers.arrives_hours
        life.at(life.now + timedelta(hours=hours), lambda: self._arrives(episode.id))

    def _arrives(self, episode_id: UUID) -> None:
        episode = self._life.pair.open_episode
        if episode is None or episode.id != episode_id:
            return
        if episode.state is not EpisodeState.arrived:
            self._act(Going(EpisodeState.arrived))
        if self._call is not None:  # what came up on the way is known where she arrived
            self._into_the_queue(self._call)
            self._call = None
        self._act(Spoke())
        self._close("treated_home")

    def _close(self, outcome: str) -> None:
        life = self._life
        if life.pair.open_escalation is not None and life.pair.state is not EnrolmentState.held:
            self._act(Close("advised", outcome=outcome if life.pair.open_episode is not None else ""))

    def _act(self, action: Action) -> None:
        self._life.follow(StaffActed(COUNSELLOR, action))

    def _into_the_queue(self, call: Call, woken: bool = False) -> None:
        """For the counsellors, unless who is on call has spoken to her already."""
        world = self._life.world
        local = call.since.astimezone(world.tz)
        self._life.tally.arrivals[world.minute(call.since), int(call.urgency), woken] += 1
        if woken:
            waited = ceil((self._life.now - call.since) / timedelta(minutes=1))
            self._n["woken", call.urgency.name, waited] += 1
        self._n["item", call.urgency.name, local.hour] += 1
        if call.alarm:
            self._n["alarm", call.urgency.name, call.true] += 1

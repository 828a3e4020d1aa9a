"""The fixed words of the list of those to be reached: why, what is tried, what came of it, what is graver."""

from __future__ import annotations

from collections.abc import Iterator

from bot.core.chase import GIVEN_UP, GROUNDS, RESULTS, RISKS
from bot.core.pair import Attempt, Pair
from bot.core.states import ChaseState
from bot.web.formats import day
from bot.web.way import Step
from bot.web.words import _, lazy

GROUND_WORDS = {
    "no_phone": lazy("No number that can be texted"),
    "opted_out": lazy("She wants no texts"),
    "wrong_number": lazy("The number is not hers"),
    "undelivered": lazy("Texts do not reach her phone"),
    "calls_failed": lazy("Three calls without reaching her"),
    "by_hand": lazy("Put on the list by a colleague"),
}
assert GROUND_WORDS.keys() == GROUNDS.keys()
RISK_WORDS = {
    "danger": lazy("a danger is open"),
    "under_7_days": lazy("under 7 days old"),
    "small": lazy("small, early or a twin"),
    "warned": lazy("a warning earlier"),
    "poor_attachment": lazy("poor attachment"),
}
assert tuple(RISK_WORDS) == RISKS
LEFT_WORDS = {
    "call": lazy("call her"),
    "second_contact": lazy("ask the second contact"),
    "visit": lazy("visit"),
}
assert LEFT_WORDS.keys() == RESULTS.keys()
GIVEN_UP_WORDS = {
    "all_tried": lazy("Everything was tried"),
    "no_way": lazy("A visit can't be made: too far, or not safe"),
    "moved": lazy("They moved, and nobody knows where to"),
    "refused": lazy("The family wants no contact"),
}
assert GIVEN_UP_WORDS.keys() == GIVEN_UP.keys()
# What can be noted of each way, as one line each.
DONE_WORDS = {
    ("call", "no_answer"): lazy("Called: no answer"),
    ("call", "other_person"): lazy("Called: somebody else answered"),
    ("call", "reached"): lazy("Called: spoke to her"),
    ("call", "wrong_number"): lazy("Called: the number is not hers"),
    ("second_contact", "passed_on"): lazy("Second contact: asked to tell her that she should call"),
    ("second_contact", "no_answer"): lazy("Second contact: no answer"),
    ("second_contact", "not_in_touch"): lazy("Second contact: not in touch with her"),
    ("second_contact", "reached"): lazy("Second contact: spoke to her there"),
    ("visit", "reached"): lazy("Visit: spoke to her"),
    ("visit", "not_home"): lazy("Visit: nobody at home"),
    ("visit", "moved"): lazy("Visit: moved away"),
    ("visit", "not_made"): lazy("Visit: not made"),
}
assert DONE_WORDS.keys() == {(kind, result) for kind, results in RESULTS.items() for result in results}


def attempt_words(attempt: Attempt) -> str:
    """Say what was tried and what came of it."""
    if not attempt.result and attempt.on_day is not None:
        return _("Visit planned on %(day)s: %(who)s goes", day=day(attempt.on_day), who=attempt.who)
    words = _(DONE_WORDS[attempt.kind, attempt.result])
    return f"{words} ({attempt.who})" if attempt.who else words


def steps(pair: Pair) -> Iterator[Step]:
    """What the story of a pair tells of the list: on it, what was tried, off it."""
    for chase in pair.chases:
        yield Step(
            chase.opened_at, _("On the list to be reached: %(why)s", why=_(GROUND_WORDS[chase.ground]))
        )
        if chase.closed_at is not None and chase.state is ChaseState.unresolved:
            why = _(GIVEN_UP_WORDS[chase.why])
            yield Step(chase.closed_at, _("Not reached, signed by two: %(why)s", why=why), trouble=True)
        elif chase.closed_at is not None:
            yield Step(chase.closed_at, _("Off the list to be reached"))
    for attempt in pair.attempts:
        yield Step(attempt.done_at or attempt.at, attempt_words(attempt))

"""How a pair was judged: judgements and rules come in; which facts met which rule, and which were just
inside the threshold, go out in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from bot.core.errors import Invalid
from bot.core.explain import compared
from bot.core.facts_read import facts_from_json
from bot.core.follow import Content
from bot.core.pair import Finding, Pair
from bot.core.states import Urgency
from bot.store.views_case import Judgement
from bot.web.fact_words import sentences
from bot.web.formats import age_at
from bot.web.reasons import Why, why
from bot.web.story import baby_name
from bot.web.words import _


@dataclass(frozen=True, slots=True)
class Line:
    """A rule with the facts that met it, or that would have, one step worse."""

    why: Why
    urgency: Urgency
    facts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Judged:
    """The newest judgement of one baby; `about` names it where there are several, `age` says how old it
    was."""

    about: str
    at: datetime
    age: str
    edition: int
    overlay: int
    met: tuple[Line, ...]
    near: tuple[Line, ...]


def newest(pair: Pair, judgements: Sequence[Judgement], content: Content) -> list[Judged]:
    """Give the newest judgement of each baby, in their order."""
    last = {run.baby or 1: run for run in judgements}
    return [
        Judged(
            about=baby_name(pair, baby) if len(pair.babies) > 1 else "",
            at=run.at,
            age=age_at(run.facts),
            edition=run.rules_edition,
            overlay=run.overlay,
            met=tuple(_line(run, each, content, is_met=True) for each in run.fired),
            near=tuple(_line(run, each, content, is_met=False) for each in run.just_inside),
        )
        for baby, run in sorted(last.items())
    ]


def facts_behind(finding: Finding, judgements: Sequence[Judgement], content: Content) -> tuple[str, ...]:
    """Give the facts by which a standing finding was last found; none for an occasion: no rule found it."""
    for run in reversed(judgements):
        is_its = finding.baby is None or finding.baby == (run.baby or 1)
        if is_its and any(each["rule"] == finding.rule for each in run.fired):
            return _facts(run, finding.rule, content, is_met=True)
    return ()


def _line(run: Judgement, found: Mapping[str, Any], content: Content, *, is_met: bool) -> Line:
    rule = str(found["rule"])
    return Line(why(content, rule), Urgency[found["urgency"]], _facts(run, rule, content, is_met=is_met))


def _facts(run: Judgement, rule: str, content: Content, *, is_met: bool) -> tuple[str, ...]:
    """The facts in words. Where today's rule would not judge them as was judged then, that is said instead:
    its threshold is not the one that was met."""
    try:
        lines = compared(facts_from_json(run.facts, content.rules.vocabulary), content.rules, rule)
    except Invalid:
        lines = ()
    if not lines or all(line.met for line in lines) is not is_met:
        return (_("The rule has changed since."),)
    return tuple(sentences(lines))

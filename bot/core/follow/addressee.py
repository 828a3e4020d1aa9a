"""Who wrote? One number may belong to several mothers; what is unclear goes to a person, a danger to all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from bot.core.checkin import question_at
from bot.core.follow.events import Effect, Say
from bot.core.pair import Pair, Question
from bot.core.reader import Intent, Reading
from bot.core.states import EnrolmentState


@dataclass(frozen=True, slots=True)
class Addressee:
    """A pair that a reply may be about, and the question that it may answer."""

    pair: Pair
    question: Question | None
    sure: bool
    hers: bool = True


def addressees(pairs: Sequence[Pair], received_at: datetime, sender: str | None) -> list[Addressee]:
    """Give the pair that the writer belongs to, or each of them, unsure, where the number can't tell.

    pairs   those whose mother has this number, closed ones too; or those who are known by it otherwise
    sender  the number, E.164
    """
    if pairs and not any(pair.mother.phone == sender for pair in pairs):
        return [Addressee(pair, None, False, hers=False) for pair in pairs]
    live = [pair for pair in pairs if pair.state is not EnrolmentState.closed]
    if not live:
        # After the end only a danger counts, for the pair that was followed last.
        return [Addressee(pair, None, True) for pair in sorted(pairs, key=lambda p: p.enrolled_at)[-1:]]
    asked = [(pair, question_at(pair, received_at)) for pair in live]
    waiting = [(pair, question) for pair, question in asked if question is not None]
    if len(live) == 1 or len(waiting) == 1:
        pair, question = waiting[0] if waiting else (live[0], None)
        return [Addressee(pair, question, True)]
    return [Addressee(pair, None, False) for pair in live]


def also_concerned(whose: Sequence[Addressee], pairs: Sequence[Pair], reading: Reading) -> list[Addressee]:
    """Give the other pairs on the number where a reply counts for all: danger, no more texts, texts again."""
    if not reading.danger_signs and reading.intent not in (Intent.OPT_OUT, Intent.OPT_IN):
        return []
    known = {each.pair.id for each in whose}
    live = (pair for pair in pairs if pair.state is not EnrolmentState.closed)
    return [Addressee(pair, None, False) for pair in live if pair.id not in known]


def said_once(effects: Sequence[Effect], said: set[str]) -> tuple[Effect, ...]:
    """Leave out the texts in answer to one reply that another pair on the same phone gets already; `said`
    holds their keys and is added to."""
    kept = tuple(e for e in effects if not isinstance(e, Say) or e.once_key not in said)
    said.update(e.once_key for e in kept if isinstance(e, Say))
    return kept

"""Facts worked out from several answers: trends over her earlier ones, and answers that contradict another.

In: `Facts` with their history, and the vocabulary with its limits. Out: one value, or None for not known.
Like is compared with like: the worse end of an answer now with the worse end of the one before.
"""

from __future__ import annotations

from itertools import pairwise

from bot.core.facts import Facts, Span, Value, Vocabulary


def feeds_drop(facts: Facts, vocabulary: Vocabulary) -> float | None:
    """Percent fewer feeds than at the answer before; None when not fewer."""
    return _drop_percent(facts, "feeds", vocabulary.facts["feeds_drop_percent"].limits["days_back"])


def wet_drop(facts: Facts, vocabulary: Vocabulary) -> float | None:
    """Percent fewer wet nappies than at the answer before; None when not fewer."""
    return _drop_percent(facts, "wet_nappies", vocabulary.facts["wet_drop_percent"].limits["days_back"])


def wet_falls(facts: Facts, vocabulary: Vocabulary) -> float | None:
    """How many times in a row the number of wet nappies fell, up to now; None when it did not."""
    days_back = vocabulary.facts["wet_falls"].limits["days_back"]
    ends = _ends(facts, "wet_nappies", -1, days_back)
    falls = 0
    for later, before in pairwise(ends):
        if later >= before:
            break
        falls += 1
    return falls or None


def pain_rise(facts: Facts, vocabulary: Vocabulary) -> float | None:
    """Points of pain more than at the answer before; None when not more."""
    ends = _ends(facts, "pain", 1, vocabulary.facts["pain_rise"].limits["days_back"])
    return ends[0] - ends[1] if len(ends) > 1 and ends[0] > ends[1] else None


def answers_disagree(facts: Facts, vocabulary: Vocabulary) -> bool:
    """Tell whether feeding goes well, she says (enough feeds, or no worry), beside far too few wet nappies.

    Both can't be: so many feeds with milk in them make more urine. She may count otherwise than we ask.
    """
    limits = vocabulary.facts["answers_disagree"].limits
    wet, feeds = (_worse_end(facts.values.get(fact), -1) for fact in ("wet_nappies", "feeds"))
    if wet is None or facts.k < limits["from_day"]:
        return False
    short_by = min(facts.k, limits["wet_due_at_most"]) - wet
    goes_well = facts.values.get("worry") is False or (
        feeds is not None and feeds >= limits["feeds_at_least"]
    )
    return goes_well and short_by >= limits["short_by"]


def _drop_percent(facts: Facts, fact: str, days_back: float) -> float | None:
    ends = _ends(facts, fact, -1, days_back)
    if len(ends) < 2 or ends[0] >= ends[1]:
        return None
    return 100 * (ends[1] - ends[0]) / ends[1]


def _ends(facts: Facts, fact: str, direction: int, days_back: float) -> list[float]:
    """The worse ends of an answer, newest first; none with nothing to compare, cut at the first long gap."""
    now = _worse_end(facts.values.get(fact), direction) if facts.history else None
    if now is None:
        return []
    found, age = [now], facts.age_days
    for earlier in reversed(facts.history):
        end = _worse_end(earlier.answers.get(fact), direction)
        if end is None:
            continue
        if age - earlier.age_days > days_back:
            break
        found.append(end)
        age = earlier.age_days
    return found


def _worse_end(value: Value | None, direction: int) -> float | None:
    """The end of a number that is judged: the worse one, where that is open the known one."""
    if not isinstance(value, Span):
        return None
    worse, known = (value.high, value.low) if direction > 0 else (value.low, value.high)
    return known if worse is None else worse

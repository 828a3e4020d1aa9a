"""One answer made of all that a reply says to one question."""

import math

from bot.core.reader.answers.item import WHOLE_DAYS, WORDED, Answered, Item
from bot.core.reader.lexicon import Question
from bot.core.reader.numbers import Quantity
from bot.core.reader.scan import Scan
from bot.core.reader.types import Amount, Reason

_SIDES = {"left", "right"}
_NEXT = 2  # how far a second guess lies from the first


def settle(scan: Scan, question: Question, found: list[Item], result: Answered) -> None:
    """Make one answer of all items that belong to a question."""
    amounts = [i.quantity for i in found if i.quantity]
    words = [i.kind for i in found if i.kind in WORDED]
    if question.kind in ("count", "scale"):
        amount = _one_amount(amounts, question, result) if amounts else _worded_amount(words, result)
        if amount is not None and _plausible(amount, question, result):
            result.answers[question.id] = amount
    elif question.kind == "yes_no":
        _worded_truth(question, words, bool(amounts), result)
    for item in found:
        result.matches.append(scan.match(item.start, item.end, question.id))


def _one_amount(amounts: list[Quantity], question: Question, result: Answered) -> Amount | None:
    for q in amounts:
        result.notes |= q.notes
    parts = [_single(q, question, result) for q in amounts]
    known = [p for p in parts if p is not None]
    if len(known) < len(parts):
        result.reasons.add(Reason.SEVERAL_READINGS)
        return None
    parts_of_day = {q.daypart for q in amounts if q.daypart} - WHOLE_DAYS
    if len(amounts) > 1 and len(parts_of_day) == len(amounts) and question.kind == "scale":
        return _spread(known, parts_of_day)
    if len(amounts) > 1 and len(parts_of_day) == len(amounts):
        result.notes.add("sum")
        return Amount(_sum(p.low for p in known), _sum(p.high for p in known))
    today = [p for p, q in zip(known, amounts, strict=True) if q.daypart != "before"]
    if today and len(today) < len(known):
        if min(p.low or 0 for p in today) < max(p.low or 0 for p in known):
            result.reasons.add(Reason.SEVERAL_READINGS)  # '10 yesterday, 3 today': her day may not be over
        known, amounts = today, [q for q in amounts if q.daypart != "before"]
    total = _total(known, amounts)
    if total is not None:
        result.notes.add("sum")
        return total
    if all(p == known[0] for p in known) and len({q.spoken for q in amounts}) == len(amounts):
        if amounts[0].daypart == "since":
            result.notes.add("window")
        return known[0]
    lows = [p.low for p in known if p.low is not None]
    highs = [p.high for p in known if p.high is not None]
    if len(known) == 2 and len(lows) == len(highs) == 1 and lows[0] < highs[0]:
        return Amount(lows[0], highs[0])
    if _second_thought(known, amounts):
        return Amount(known[0].low, known[1].high)
    counted = [p for p, q in zip(known, amounts, strict=True) if "interval" not in q.notes]
    every = [p for p, q in zip(known, amounts, strict=True) if "interval" in q.notes]
    if len(counted) == len(every) == 1 and _agree(counted[0], every[0]):
        return counted[0]
    result.reasons.add(Reason.SEVERAL_READINGS)
    return None


def _second_thought(known: list[Amount], amounts: list[Quantity]) -> bool:
    """'8, could be 9': the next number, said with doubt, is the other end of a guess."""
    if len(known) != 2 or any(p.low is None or p.low != p.high for p in known):
        return False
    first, second = (p.low or 0.0 for p in known)
    return 0 < second - first <= _NEXT and "approx" in amounts[1].notes and "approx" not in amounts[0].notes


def _total(known: list[Amount], amounts: list[Quantity]) -> Amount | None:
    """'3, 2 and 4, so 9', '5+4=9', 'nine: 5 day 4 night': the first or the last is the sum of the others."""
    values = [p.low if p.low == p.high else None for p in known]
    if None in values or len(values) < 2:
        return None
    numbers = [v for v in values if v is not None]
    if len(numbers) == 2:
        summed = ["sum" in q.notes for q in amounts]
        return known[0] if numbers[0] == numbers[1] and any(summed) else None
    said = any("sum" in q.notes or q.daypart for q in amounts)
    for place in (-1, 0) if said else ():
        if numbers[place] == sum(numbers) - numbers[place] and numbers[place] > 0:
            return known[place]
    return None


def _spread(known: list[Amount], parts: set[str]) -> Amount:
    """'Pain 3 by day, 5 at night' is 3 to 5, 'left 5, right 2' the worse side: pains do not add up."""
    lows, highs = [p.low for p in known], [p.high for p in known]
    high = None if None in highs else max(v for v in highs if v is not None)
    if parts == _SIDES:
        return Amount(max((v for v in lows if v is not None), default=None), high)
    return Amount(None if None in lows else min(v for v in lows if v is not None), high)


def _agree(counted: Amount, every: Amount) -> bool:
    value = counted.low if counted.low is not None else counted.high
    return value is not None and (every.low or 0) - 1 <= value <= (every.high or 0) + 1


def _sum(values) -> float | None:  # type: ignore[no-untyped-def]
    total = 0.0
    for v in values:
        if v is None:
            return None
        total += v
    return total


def _single(q: Quantity, question: Question, result: Answered) -> Amount | None:
    """One amount as this question takes it; None when it can be read in two ways."""
    if (
        len(q.parts) == 2
        and q.sep == "/"
        and question.kind == "scale"
        and q.parts[1] == question.max_plausible
    ):
        return Amount(q.parts[0], q.parts[0])
    if q.sep in (",", "/") and not (question.kind == "scale" and len(q.parts) == 2 and q.sep == ","):
        return None
    if len(q.parts) > 2 or (q.low is None and q.high is None):
        return None
    if question.kind != "count":
        return None if "sum" in q.notes else Amount(q.low, q.high)  # pains do not add up: '5 then 3'
    if any(v is not None and v != int(v) for v in (q.low, q.high)):
        result.notes.add("half")
        result.reasons.add(Reason.SEVERAL_READINGS)
    low = None if q.low is None else float(math.floor(q.low))
    return Amount(low, None if q.high is None else float(math.ceil(q.high)))


def _worded_amount(words: list[str], result: Answered) -> Amount | None:
    for word in words:
        if word in ("no", "none"):
            return Amount(0.0, 0.0)
        if word == "not_yet":
            result.notes.add("not_yet")
            return Amount(0.0, 0.0)
        result.reasons.add(
            {"vague": Reason.VAGUE, "dont_know": Reason.DONT_KNOW, "yes": Reason.NO_VALUE}[word]
        )
        return None
    return None


def _plausible(amount: Amount, question: Question, result: Answered) -> bool:
    most = max(v for v in (amount.low, amount.high, 0.0) if v is not None)
    if most > question.max_plausible or (amount.high is not None and amount.high < 0):
        result.reasons.add(Reason.IMPOSSIBLE)
        return False
    return True


def _worded_truth(question: Question, words: list[str], numbers: bool, result: Answered) -> None:
    for word in words:
        if word in ("yes", "no", "none", "not_yet"):
            result.answers[question.id] = word == "yes"
            if word == "not_yet":
                result.notes.add("not_yet")
            return
        result.reasons.add(Reason.DONT_KNOW if word == "dont_know" else Reason.VAGUE)
        return
    if numbers:  # 'formula twice a day'
        result.answers[question.id] = True

"""Answers without a noun: by the order asked, and only when their number matches."""

import math
from collections.abc import Sequence

from bot.core.reader.answers.item import Answered, Item
from bot.core.reader.answers.settling import settle
from bot.core.reader.lexicon import Question
from bot.core.reader.numbers import Quantity
from bot.core.reader.scan import Scan
from bot.core.reader.types import Amount, Reason

_COURTESY = ("thanks.courtesy", "thanks.thanks")


def without_minutes(bare: list[Item], amounts: Sequence[Quantity], result: Answered) -> list[Item]:
    """'left 10 min, right 15': a bare figure after minutes may be minutes too, '10 hours 8 times' may leave
    hours out: both are asked about. '15 minutes, 8 times' is plain."""
    hours = min((q.start for q in amounts if q.kind == "duration"), default=math.inf)
    minutes = min((q.start for q in amounts if q.kind == "minutes"), default=math.inf)
    kept = [
        i
        for i in bare
        if not i.quantity or i.start < min(hours, minutes) or (i.quantity.counted and i.start < hours)
    ]
    if len(kept) < len(bare):
        result.reasons.add(Reason.SEVERAL_READINGS)
    return kept


def settle_bare(scan: Scan, bare: list[Item], left: list[Question], counted: bool, result: Answered) -> None:
    """Answers without a noun: to the one question left, or in the order asked when there are as many."""
    if counted and not left and any(i.quantity for i in bare) and not _repeats(bare, result):
        result.reasons.add(Reason.SEVERAL_READINGS)  # a number too many
    if not bare or not left:
        return
    if len(left) == 1:
        kinds = ("count", "scale", "any")
        number = left[0].kind in kinds and any(i.quantity for i in bare)
        chosen = [i for i in bare if bool(i.quantity) == number]
        if (
            chosen
            and left[0].kind == "count"
            and chosen[0].kind == "no"
            and not _stands_alone(scan, chosen[0])
        ):
            result.reasons.add(Reason.NO_VALUE)  # 'no, all is well' counts nothing
        elif chosen:
            settle(scan, left[0], chosen, result)
        elif left[0].kind == "yes_no" and len(bare) == 1:
            _figure_for_truth(scan, left[0], bare[0], result)
        return
    if all(q.kind in ("count", "scale") for q in left) and sum(bool(i.quantity) for i in bare) == len(left):
        bare = [i for i in bare if i.quantity]
    split = _split_parts(bare, len(left))
    if len(split) == len(left):
        for question, item in zip(left, split, strict=True):
            settle(scan, question, [item], result)
    elif any(i.quantity for i in split):
        result.reasons.add(Reason.SEVERAL_READINGS)
    else:
        _one_word_for_all(scan, split, left, result)


def _stands_alone(scan: Scan, item: Item) -> bool:
    """Tell whether a reply says nothing else, but for courtesy."""
    covered = {i for f in scan.found if f.label in _COURTESY for i in range(f.start, f.end)}
    covered.update(range(item.start, item.end))
    return all(token.kind != "word" or i in covered for i, token in enumerate(scan.tokens))


def _figure_for_truth(scan: Scan, question: Question, item: Item, result: Answered) -> None:
    """The questions say so: 'reply 0 for no, 1 for yes'. Any other figure answers nothing here."""
    amount = item.quantity
    if amount and amount.kind == "count" and amount.low == amount.high and amount.low in (0, 1):
        result.answers[question.id] = amount.low == 1
        result.matches.append(scan.match(item.start, item.end, question.id))


def _repeats(bare: list[Item], result: Answered) -> bool:
    """The amounts left over say again what is answered: 'seven (7)'."""
    said = [a.low for a in result.answers.values() if isinstance(a, Amount)]
    return all(i.quantity is None or i.quantity.low in said or i.quantity.daypart == "before" for i in bare)


def _split_parts(bare: list[Item], count: int) -> list[Item]:
    """'6,5' to two questions is 6 and 5."""
    split: list[Item] = []
    for item in bare:
        parts = item.quantity.parts if item.quantity else ()
        split += [
            Item("amount", item.start, item.end, Quantity(p, p, item.start, item.end)) for p in parts
        ] or [item]
    return split if len(split) == count else bare


def _one_word_for_all(scan: Scan, words: list[Item], left: list[Question], result: Answered) -> None:
    """'I don't know' to two questions is said once; a single yes or no to several is no answer."""
    kinds = {i.kind for i in words}
    if "dont_know" in kinds:
        result.reasons.add(Reason.DONT_KNOW)
    elif "vague" in kinds:
        result.reasons.add(Reason.VAGUE)
    else:
        result.reasons.add(Reason.NO_VALUE)

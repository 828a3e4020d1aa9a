"""Which amount, yes or no answers which question.

In go a Scan with its amounts and dangers and the questions asked, out come answers by question id. A noun
beside an amount decides first ('6 wet'); bare answers go by the order asked, and only when their number
matches. What can be read two ways is no answer, or an answer that a person must see.
"""

from collections.abc import Mapping, Sequence

from bot.core.reader.answers.bare import settle_bare, without_minutes
from bot.core.reader.answers.item import WHOLE_DAYS, Answered, Item
from bot.core.reader.answers.items import corrected, items_of, today_none
from bot.core.reader.answers.pairing import pair_with_nouns
from bot.core.reader.answers.settling import settle
from bot.core.reader.lexicon import Lexicon, Question
from bot.core.reader.numbers import Quantity
from bot.core.reader.scan import Scan
from bot.core.reader.signs import DENIED, PRESENT, Dangers
from bot.core.reader.types import Reason

__all__ = ["DANGER_QUESTIONS", "Answered", "answers"]

DANGER_QUESTIONS = {"worry": ("baby", "mother"), "baby_danger": ("baby",), "mother_danger": ("mother",)}
_MOST_CUPS = 12  # more than that are millilitres


def answers(
    scan: Scan, amounts: Sequence[Quantity], asked: Sequence[Question], dangers: Dangers, lexicon: Lexicon
) -> Answered:
    """Give what a reply says to the questions asked, and to others that it names."""
    result = Answered()
    items = today_none(items_of(scan, amounts, asked, dangers, result))
    items = corrected(scan, items, len(asked), result)
    for q in (i.quantity for i in items if i.quantity):
        result.reasons |= q.reasons
    by_noun, bare = pair_with_nouns(scan, items, asked, result)
    ids = {q.id for q in asked}
    for name, found in by_noun.items():
        question = lexicon.questions.get(name)
        if question is None or (question.kind == "yes_no" and name not in ids):
            continue
        # 'How many feeds? 8': a word without a value gives way to the bare number that follows.
        if name in ids and any(i.quantity for i in bare) and not any(i.quantity for i in found):
            found = [i for i in found if i.kind in ("no", "none", "not_yet")]
        if question.feeding and name not in ids and found and all(i.kind == "no" for i in found):
            result.reasons.add(Reason.OTHER_CONTENT)  # 'no, the breasts are heavy' says nothing of feeds
            continue
        settle(scan, question, found, result)
    _statements(scan, items, asked, result)
    bare = without_minutes(bare, amounts, result)
    counted = any(q.kind in ("count", "scale") for q in asked)
    settle_bare(scan, bare, [q for q in asked if q.id not in result.answers], counted, result)
    _beside_feeds(scan, amounts, by_noun, result)
    _half_known(items, result)
    _from_dangers(asked, dangers, result)
    return result


def _statements(scan: Scan, items: list[Item], asked: Sequence[Question], result: Answered) -> None:
    """Sentences that say yes or no to a question in their own words: 'only my milk', 'we will come'."""
    for question in asked:
        said = [i for i in items if i.kind == "says" and i.question.startswith(question.id + ".")]
        truths = {i.question.endswith(".yes") for i in said}
        if not truths:
            continue
        result.answers[question.id] = True in truths
        if len(truths) == 2:
            del result.answers[question.id]
            result.reasons.add(Reason.SEVERAL_READINGS)
        for i in said:
            result.matches.append(scan.match(i.start, i.end, question.id))


def _beside_feeds(
    scan: Scan, amounts: Sequence[Quantity], by_noun: Mapping[str, list[Item]], result: Answered
) -> None:
    """'7 breast 2 cup': whether she counts the cups as feeds is asked."""
    cups = [q for q in amounts if q.kind == "dose" and q.low is not None and q.low <= _MOST_CUPS]
    told = scan.all("list.breast") or scan.all("nouns.other_food")
    other = any(i.quantity for i in by_noun.get("other_food", ()))
    if "feeds" in result.answers and (other or (cups and told)):
        result.reasons.add(Reason.SEVERAL_READINGS)


def _half_known(items: Sequence[Item], result: Answered) -> None:
    """'6 in the day, at night I don't know': the half that she knows is no answer by itself."""
    parted = any(i.kind == "daypart" and i.question not in WHOLE_DAYS for i in items)
    if parted and any(i.quantity for i in items) and any(i.kind == "dont_know" for i in items):
        result.reasons.add(Reason.DONT_KNOW)


def _from_dangers(asked: Sequence[Question], dangers: Dangers, result: Answered) -> None:
    """A danger named is a yes to 'is anything wrong'; dangers denied, and nothing else said, are a no."""
    for question in asked:
        people = DANGER_QUESTIONS.get(question.id)
        if people is None:
            continue
        mine = [d for d in dangers.found if d.subject in people]
        if any(d.state == PRESENT for d in mine):
            result.answers[question.id] = True
        elif question.id not in result.answers and mine and all(d.state == DENIED for d in mine):
            result.answers[question.id] = False

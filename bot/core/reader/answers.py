"""Which amount, yes or no answers which question.

In go a Scan with its amounts and dangers and the questions asked, out come answers by question id. A noun
beside an amount decides first ('6 wet'); bare answers go by the order asked, and only when their number
matches. What can be read two ways is no answer, or an answer that a person must see.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from bot.core.reader.lexicon import Lexicon, Question
from bot.core.reader.numbers import Quantity
from bot.core.reader.phrases import Found
from bot.core.reader.scan import Scan
from bot.core.reader.signs import DENIED, PRESENT, Dangers, is_tag
from bot.core.reader.tokens import Token
from bot.core.reader.types import Amount, Match, Reason

NAPPIES = ("wet_nappies", "dirty_nappies")
DANGER_QUESTIONS = {"worry": ("baby", "mother"), "baby_danger": ("baby",), "mother_danger": ("mother",)}
_WORDED = ("yes", "no", "none", "not_yet", "vague", "dont_know")
_MOST_CUPS = 12  # more than that are millilitres
_WHOLE_DAYS = {"before", "today"}  # not parts of the day asked about
_COURTESY = ("thanks.courtesy", "thanks.thanks")
_ITEM_GROUPS = ("nouns", "says", "answers", "dayparts")


@dataclass(slots=True)
class Item:
    """A piece of a reply that can answer: an amount, a noun (a question's or 'nappies'), a yes, a no ..."""

    kind: str
    start: int
    end: int
    quantity: Quantity | None = None
    question: str = ""


@dataclass(slots=True)
class Answered:
    """Answers found so far; `used` holds the tokens they rest on."""

    answers: dict[str, Amount | bool] = field(default_factory=dict)
    notes: set[str] = field(default_factory=set)
    reasons: set[Reason] = field(default_factory=set)
    matches: list[Match] = field(default_factory=list)


def answers(
    scan: Scan, amounts: Sequence[Quantity], asked: Sequence[Question], dangers: Dangers, lexicon: Lexicon
) -> Answered:
    """Give what a reply says to the questions asked, and to others that it names."""
    result = Answered()
    items = _corrected(_items(scan, amounts, asked, dangers, result), len(asked), result)
    for q in (i.quantity for i in items if i.quantity):
        result.reasons |= q.reasons
    by_noun, bare = _by_noun(scan, items, asked, result)
    ids = {q.id for q in asked}
    for name, found in by_noun.items():
        question = lexicon.questions.get(name)
        if question is None or (question.kind == "yes_no" and name not in ids):
            continue
        # 'How many feeds? 8': a word without a value gives way to the bare number that follows.
        if name in ids and any(i.quantity for i in bare) and not any(i.quantity for i in found):
            found = [i for i in found if i.kind in ("no", "none", "not_yet")]
        _settle(scan, question, found, result)
    _statements(scan, items, asked, result)
    bare = _without_minutes(bare, amounts, result)
    counted = any(q.kind in ("count", "scale") for q in asked)
    _bare(scan, bare, [q for q in asked if q.id not in result.answers], counted, result)
    _beside_feeds(scan, amounts, by_noun, result)
    _from_dangers(asked, dangers, result)
    return result


def _items(
    scan: Scan, amounts: Sequence[Quantity], asked: Sequence[Question], dangers: Dangers, result: Answered
) -> list[Item]:
    """Pieces in order, the longest at each place; words that name or deny a danger, or quote us, are none."""
    quoted = _quoted(scan)
    counts = [q for q in amounts if q.kind == "count" and q.start not in quoted]
    candidates = [Item("amount", q.start, q.end, q) for q in _affirmed(scan, counts, result)]
    ids = {q.id for q in asked}
    asking_back = [f for f in scan.all("concern.content") if f.end - f.start > 1]
    taken = dangers.denials.union(*(range(f.start, f.end) for f in asking_back))
    taken = taken.union(*(range(d.start, d.end) for d in dangers.found if d.state != DENIED))
    for f in scan.found:
        group, _, name = f.label.partition(".")
        if group == "says" and name.partition(".")[0] not in ids:
            continue
        if group in ("says", "answers") and f.start in quoted:
            continue
        if group in _ITEM_GROUPS and taken.isdisjoint(range(f.start, f.end)):
            kind = {"nouns": "noun", "dayparts": "daypart"}.get(group, group)
            if group == "answers":
                if _is_said(scan, name, f):
                    candidates.append(Item(name.removesuffix("_last"), f.start, f.end))
            elif group == "nouns" and _of_each(scan, f):
                continue
            else:
                candidates.append(Item(kind, f.start, f.end, None, name))
        elif f.label in ("frame.correction", "frame.and"):
            candidates.append(Item(f.label[6:], f.start, f.end))
        elif f.label == "frame.but":
            candidates.append(Item("break", f.start, f.end))
    if "pain" in ids:
        candidates += [Item("none", *place) for place in _painless(scan) if taken.isdisjoint(range(*place))]
    candidates += [Item("break", i, i + 1) for i, t in enumerate(scan.tokens) if _separates(t)]
    candidates.sort(key=lambda i: (i.start, -(i.end - i.start), i.kind in ("and", "noun")))
    candidates = _without_those_of_dangers(candidates, dangers)
    items: list[Item] = []
    for item in candidates:
        if item.kind == "plain_no":
            continue
        if items and item.start < items[-1].end:
            longer = item.kind == "amount" and items[-1].kind not in ("amount", "noun")
            if not longer or item.end <= items[-1].end:
                continue
            items.pop()
        items.append(item)
    return items


def _painless(scan: Scan) -> list[tuple[int, int]]:
    """'does not hurt': a 'not' straight before the word for pain, but for 'does not hurt much'."""
    places = []
    for f in scan.all("nouns.pain"):
        begin = scan.until(f.start, "frame.not")
        less = scan.starting.get(f.end, {})
        if begin is not None and "answers.vague" not in less and "list.very" not in less:
            places.append((begin, f.start))
    return places


def _is_said(scan: Scan, name: str, f: Found) -> bool:
    """Whether a word of answer answers: it is no tag ('hot, no?') and no 'n' that joins two things ('8 n 6').
    What may begin a sentence ('I have', 'he is') answers only where it ends one."""
    if name in ("no", "none") and is_tag(scan, f.start, f.end):
        return False
    if name == "no" and scan.from_(f.start, "frame.and") == f.end:
        return f.start == 0 or f.end == len(scan.tokens)
    if name.endswith("_last"):
        rest = scan.tokens[f.end : f.end + 1]
        kind = scan.starting.get(f.end, {})
        return not rest or rest[0].kind in ("stop", "comma") or any(k.startswith("thanks.") for k in kind)
    return True


def _of_each(scan: Scan, f: Found) -> bool:
    """'One after each feed': the feeds are not what is counted."""
    return scan.until(f.start, "amounts.every") is not None


def _without_those_of_dangers(candidates: list[Item], dangers: Dangers) -> list[Item]:
    """Beside other amounts, those in the words of a danger ('a pad every hour') answer nothing."""
    words = {i for d in dangers.found if d.state == PRESENT for i in range(d.start, d.end)}
    inside = [i for i in candidates if i.quantity and not words.isdisjoint(range(i.start, i.end))]
    others = [i for i in candidates if i.quantity and i not in inside]
    return [i for i in candidates if i not in inside] if others else candidates


def _separates(token: Token) -> bool:
    """A stop or comma parts two answers; a colon or dash joins a noun to its amount ('feeds: 8')."""
    return token.kind == "stop" or (token.kind == "comma" and token.text not in ":-")


def _quoted(scan: Scan) -> set[int]:
    """Tokens of a question of several words that something follows: our own, quoted."""
    quoted: set[int] = set()
    for i, token in enumerate(scan.tokens[:-1]):
        if token.kind == "stop" and token.text == "?":
            begin, end = scan.sentence(i - 1) if i else (0, 0)
            if sum(t.kind == "word" for t in scan.tokens[begin:end]) >= 4:
                quoted.update(range(begin, end))
    return quoted


def _affirmed(scan: Scan, counts: list[Quantity], result: Answered) -> list[Quantity]:
    """'not 8, 6' is 6."""
    if len(counts) < 2:
        return counts
    kept = []
    for q in counts:
        negated = scan.until(q.start, "frame.not") is not None and scan.until(q.start, "frame.no") is None
        if negated:
            result.notes.add("corrected")
        else:
            kept.append(q)
    return kept


def _corrected(items: list[Item], asked: int, result: Answered) -> list[Item]:
    """'8 no sorry 7' and 'not 8, 6': the last amount stands."""
    kept: list[Item] = []
    for n, item in enumerate(items):
        following = next((i for i in items[n + 1 :] if i.kind not in ("break", "and", "no")), None)
        earlier = next((k for k in reversed(kept) if k.kind in ("amount", "no", "yes", "none")), None)
        corrects = item.kind == "correction" or (
            item.kind == "no"
            and asked == 1
            and earlier is not None
            and earlier.kind == "amount"
            and _alone(items, n)
        )
        if (
            corrects
            and earlier is not None
            and following is not None
            and following.kind in ("amount", "no", "none")
        ):
            kept.remove(earlier)
            result.notes.add("corrected")
        elif item.kind != "correction":
            kept.append(item)
    return kept


def _alone(items: list[Item], n: int) -> bool:
    """An amount stands straight before and after this 'no'."""
    after = items[n + 1] if n + 1 < len(items) else None
    before = items[n - 1]
    return after is not None and after.kind == "amount" and before.kind in ("amount", "break")


def _by_noun(
    scan: Scan, items: list[Item], asked: Sequence[Question], result: Answered
) -> tuple[dict[str, list[Item]], list[Item]]:
    """Amounts that stand beside a noun, by question; and the items that stand alone."""
    found: dict[str, list[Item]] = {}
    bare: list[Item] = []
    pending = ""
    for segment in _segments(items):
        nouns = _nouns(segment, asked, {i.question for i in items if i.kind == "noun"}, result)
        numbers = [i for i in segment if i.kind == "amount"]
        _set_dayparts(segment, numbers)
        words = [i for i in segment if i.kind in _WORDED]
        named = bool(nouns)
        if nouns and numbers:
            nouns = _without_denied(nouns, words, found)
        if named and not nouns and numbers:
            bare += numbers  # 'no pain 8': the number is not the pain's
        elif nouns and numbers and _food_told(scan, nouns, numbers, asked):
            bare += numbers
            result.reasons.add(Reason.OTHER_CONTENT)
        elif nouns and numbers and _begins_with_figure(scan, nouns, numbers, asked):
            bare += numbers
        elif nouns and numbers:
            if pending and numbers[0].start < nouns[0].start:
                result.reasons.add(Reason.SEVERAL_READINGS)  # 'feeds, 8 wet, 6'
            _pair(nouns, numbers, found)
            pending = ""
        elif len(nouns) == 1 and words and _apart(scan, words[0], nouns[0]):
            # 'no he feeds well': the 'no' is an answer of its own, and the noun has none.
            bare += words[:1] if all(q.kind == "yes_no" for q in asked) else []
        elif nouns:
            pending = _noun_without_number(nouns, words, found)
            if asked and all(q.kind == "yes_no" for q in asked):
                pending = ""  # 'he eats well, 0': the figure answers the question, not the noun
        elif numbers and pending and _for_what_was_asked(pending, asked):
            bare += numbers
            pending = ""
        elif numbers and pending:
            found.setdefault(pending, []).extend(numbers)
            pending = ""
        elif pending and words:
            found.setdefault(pending, []).append(words[0])
            pending = ""
        else:
            bare += [i for i in segment if i.kind == "amount" or i.kind in _WORDED]
    if pending:
        found.setdefault(pending, [])
    _other_dayparts(found, bare)
    return found, bare


def _for_what_was_asked(pending: str, asked: Sequence[Question]) -> bool:
    """'The milk came in, 2': a bare figure in a clause of its own answers the one number asked for."""
    counted = [q.id for q in asked if q.kind in ("count", "scale")]
    return len(counted) == 1 and pending not in counted and pending != "?"


def _begins_with_figure(
    scan: Scan, nouns: list[Item], numbers: list[Item], asked: Sequence[Question]
) -> bool:
    """'0 he spits milk after feeds': the figure for no, or yes, and then what she has to tell."""
    first = numbers[0]
    figure = len(numbers) == 1 and first.start == 0 and first.quantity and first.quantity.low in (0, 1)
    apart = sum(t.kind == "word" for t in scan.tokens[first.end : nouns[0].start]) > 1
    return bool(figure and apart and asked and all(q.kind == "yes_no" for q in asked))


def _food_told(scan: Scan, nouns: list[Item], numbers: list[Item], asked: Sequence[Question]) -> bool:
    """'8 can he have water', '8 and I gave water': food that was not asked about, and that is not counted."""
    if any(q.id == "other_food" for q in asked) or [n.question for n in nouns] != ["other_food"]:
        return False
    between = scan.tokens[numbers[-1].end : nouns[0].start]
    return sum(t.kind == "word" for t in between) > 1


def _other_dayparts(found: Mapping[str, list[Item]], bare: list[Item]) -> None:
    """'6 feeds in the day then 4 at night': the bare amount is of the same thing at another time."""
    parted = [i for i in bare if i.quantity and i.quantity.daypart not in ("", *_WHOLE_DAYS)]
    counted = [items for items in found.values() if any(i.quantity for i in items)]
    if len(counted) == 1 and all(i.quantity and i.quantity.daypart for i in counted[0]):
        counted[0].extend(parted)
        bare[:] = [i for i in bare if i not in parted]


def _segments(items: list[Item]) -> list[list[Item]]:
    segments: list[list[Item]] = [[]]
    for n, item in enumerate(items):
        if item.kind in ("break", "and"):
            segments.append([])
            continue
        if _denies_next(items, n) and any(i.kind == "amount" for i in segments[-1]):
            segments.append([])  # '8 no pain': the number is not the pain's
        segments[-1].append(item)
    return [s for s in segments if s]


def _denies_next(items: list[Item], n: int) -> bool:
    """This 'no' stands straight before a noun."""
    after = items[n + 1] if n + 1 < len(items) else None
    is_no = items[n].kind in ("no", "none")
    return is_no and after is not None and after.kind == "noun" and after.start == items[n].end


def _nouns(segment: list[Item], asked: Sequence[Question], named: set[str], result: Answered) -> list[Item]:
    """The nouns of a segment; 'nappies' alone means the kind that was asked about and is not `named`."""
    ids = [q.id for q in asked]
    nouns: list[Item] = []
    for item in segment:
        if item.kind != "noun":
            continue
        if item.question == "nappies":
            open_ones = [n for n in NAPPIES if n in ids]
            open_ones = [n for n in open_ones if n not in named] or open_ones
            if len(open_ones) != 1:
                if not any(i.kind == "noun" and i.question in NAPPIES for i in segment):
                    result.reasons.add(Reason.SEVERAL_READINGS)
                    nouns.append(Item("noun", item.start, item.end, None, "?"))
                continue
            item = Item("noun", item.start, item.end, None, open_ones[0])
        if not nouns or nouns[-1].question != item.question:
            nouns.append(item)
    return nouns


def _set_dayparts(segment: list[Item], numbers: list[Item]) -> None:
    """'3 at night', 'night 3': which part of the day an amount is about; behind several may stand a total."""
    parts = [i for i in segment if i.kind == "daypart"]
    if len(parts) == len(numbers) or (len(parts) > 1 and len(parts) == len(numbers) - 1):
        for part, number in zip(parts, numbers, strict=False):
            if number.quantity:
                number.quantity.daypart = part.question


def _pair(nouns: list[Item], numbers: list[Item], found: dict[str, list[Item]]) -> None:
    """Give each amount its noun: the one after it when amounts come first, else the one before."""
    amounts_first = numbers[0].start < nouns[0].start
    for number in numbers:
        if len(nouns) == 1:
            noun = nouns[0]
        elif amounts_first:
            noun = next((n for n in nouns if n.start > number.start), nouns[-1])
        else:
            noun = next((n for n in reversed(nouns) if n.start < number.start), nouns[0])
        found.setdefault(noun.question, []).append(number)


def _without_denied(nouns: list[Item], words: list[Item], found: dict[str, list[Item]]) -> list[Item]:
    """Give the 'no' that stands straight beside a noun to it; the nouns that are left may have amounts."""
    left = []
    for noun in nouns:
        denials = (w for w in words if w.kind in ("no", "none"))
        denied = next((w for w in denials if noun.start == w.end or noun.end == w.start), None)
        if denied is None:
            left.append(noun)
        else:
            found.setdefault(noun.question, []).append(denied)
    return left


def _noun_without_number(nouns: list[Item], words: list[Item], found: dict[str, list[Item]]) -> str:
    """'no pain', 'pain no', 'wet many'; a lone noun waits for the amount that follows ('feeds: 8')."""
    if len(nouns) == 1 and words:
        found.setdefault(nouns[0].question, []).append(words[0])
        return ""
    for noun in nouns:
        before = [w for w in words if w.end <= noun.start]
        if before:
            found.setdefault(noun.question, []).append(before[-1])
            words.remove(before[-1])
    return nouns[-1].question if not words and nouns[-1].question not in found else ""


def _apart(scan: Scan, word: Item, noun: Item) -> bool:
    """Other words stand between a 'no' and the noun after it: a new clause ('no he feeds well'), or a verb
    that is denied ('did not count the nappies')."""
    if word.kind not in ("no", "none"):
        return False
    light = ("frame.after_no", "frame.transparent", "list.very", "list.be")
    covered = {i for f in scan.found if f.label in light for i in range(f.start, f.end)}
    between = range(word.end, noun.start)
    return any(scan.tokens[i].kind == "word" and i not in covered for i in between)


def _settle(scan: Scan, question: Question, found: list[Item], result: Answered) -> None:
    """Make one answer of all items that belong to a question."""
    amounts = [i.quantity for i in found if i.quantity]
    words = [i.kind for i in found if i.kind in _WORDED]
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
    parts_of_day = {q.daypart for q in amounts if q.daypart} - _WHOLE_DAYS
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
    counted = [p for p, q in zip(known, amounts, strict=True) if "interval" not in q.notes]
    every = [p for p, q in zip(known, amounts, strict=True) if "interval" in q.notes]
    if len(counted) == len(every) == 1 and _agree(counted[0], every[0]):
        return counted[0]
    result.reasons.add(Reason.SEVERAL_READINGS)
    return None


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
        return Amount(q.low, q.high)
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


def _without_minutes(bare: list[Item], amounts: Sequence[Quantity], result: Answered) -> list[Item]:
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


def _bare(scan: Scan, bare: list[Item], left: list[Question], counted: bool, result: Answered) -> None:
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
            _settle(scan, left[0], chosen, result)
        elif left[0].kind == "yes_no" and len(bare) == 1:
            _figure_for_truth(scan, left[0], bare[0], result)
        return
    if all(q.kind in ("count", "scale") for q in left) and sum(bool(i.quantity) for i in bare) == len(left):
        bare = [i for i in bare if i.quantity]
    split = _split_parts(bare, len(left))
    if len(split) == len(left):
        for question, item in zip(left, split, strict=True):
            _settle(scan, question, [item], result)
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

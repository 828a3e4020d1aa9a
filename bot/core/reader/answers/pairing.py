"""Which noun an amount, a yes or a no belongs to: '6 wet', 'pain no', 'feeds: 8'."""

from collections.abc import Mapping, Sequence

from bot.core.reader.answers.item import NAPPIES, WHOLE_DAYS, WORDED, Answered, Item
from bot.core.reader.lexicon import Question
from bot.core.reader.scan import Scan
from bot.core.reader.types import Reason


def pair_with_nouns(
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
        words = [i for i in segment if i.kind in WORDED]
        named = bool(nouns)
        if nouns and numbers:
            nouns = _without_denied(nouns, words, found)
        if named and not nouns and numbers:
            bare += numbers  # 'no pain 8': the number is not the pain's
        elif nouns and numbers and _food_told(scan, nouns, numbers, asked):
            bare += numbers
            result.reasons.add(Reason.OTHER_CONTENT)
        elif (
            nouns
            and numbers
            and (_begins_with_figure(scan, nouns, numbers, asked) or _on_scale(nouns, numbers, asked))
        ):
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
            bare += [i for i in segment if i.kind == "amount" or i.kind in WORDED]
    if pending:
        found.setdefault(pending, [])
    _all_nappies(items, found, [q.id for q in asked], result)
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


def _on_scale(nouns: list[Item], numbers: list[Item], asked: Sequence[Question]) -> bool:
    """'A four when he sucks', and pain was asked: what stands apart from the figure is not counted by it."""
    if (
        not asked
        or any(q.kind != "scale" for q in asked)
        or {n.question for n in nouns} & {q.id for q in asked}
    ):
        return False
    return all(n.end != i.start and i.end != n.start for n in nouns for i in numbers)


def _food_told(scan: Scan, nouns: list[Item], numbers: list[Item], asked: Sequence[Question]) -> bool:
    """'8 can he have water', '8 and I gave water': food that was not asked about, and that is not counted."""
    if any(q.id == "other_food" for q in asked) or [n.question for n in nouns] != ["other_food"]:
        return False
    between = scan.tokens[numbers[-1].end : nouns[0].start]
    return sum(t.kind == "word" for t in between) > 1


def _other_dayparts(found: Mapping[str, list[Item]], bare: list[Item]) -> None:
    """'6 feeds in the day then 4 at night': the bare amount is of the same thing at another time."""
    parted = [i for i in bare if i.quantity and i.quantity.daypart not in ("", *WHOLE_DAYS)]
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
            item = Item("noun", item.start, item.end, None, _kind_of_nappies(open_ones[0], segment, named))
        if not nouns or nouns[-1].question != item.question:
            nouns.append(item)
    return nouns


def _kind_of_nappies(kind: str, segment: list[Item], named: set[str]) -> str:
    """'Changed 8 nappies, 6 were wet': where the kind is named elsewhere, 'nappies' counts them all."""
    nouns = {i.question for i in segment if i.kind == "noun"}
    apart = sum(i.kind == "amount" for i in segment) >= len(nouns) > 1  # '8 nappies 5 wet 3 dirty'
    return kind if kind not in named or (kind in nouns and not apart) else "nappies"


def _all_nappies(
    items: list[Item], found: dict[str, list[Item]], asked: Sequence[str], result: Answered
) -> None:
    """How many there were in all answers only where the kind asked about has no amount of its own. 'Peed
    twice and 4 nappies' may be 6, and is asked about."""
    in_all = found.pop("nappies", [])
    kind = next((n for n in NAPPIES if n in asked), "")
    own = [i for i in found.get(kind, ()) if i.quantity]
    if in_all and not own:
        found[kind] = in_all + found.get(kind, [])
    elif in_all:
        ends = sorted((in_all[0].start, own[0].start))
        if any(i.kind == "and" and ends[0] < i.start < ends[1] for i in items):
            result.reasons.add(Reason.SEVERAL_READINGS)


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

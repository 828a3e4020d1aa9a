"""The pieces of a reply that can answer, in order: amounts, nouns, a yes, a no, and what parts them."""

from collections.abc import Sequence

from bot.core.reader.answers.item import NAPPIES, Answered, Item
from bot.core.reader.lexicon import Question
from bot.core.reader.numbers import Quantity
from bot.core.reader.phrases import Found
from bot.core.reader.scan import Scan
from bot.core.reader.signs import DENIED, PRESENT, Dangers, is_tag
from bot.core.reader.tokens import Token

_COMMAS = (",", ".")  # not a bracket
_ITEM_GROUPS = ("nouns", "says", "answers", "dayparts")


def items_of(
    scan: Scan, amounts: Sequence[Quantity], asked: Sequence[Question], dangers: Dangers, result: Answered
) -> list[Item]:
    """Pieces in order, the longest at each place; words that name or deny a danger, or quote us, are none."""
    quoted = _quoted(scan)
    counts = [q for q in amounts if q.kind == "count" and q.start not in quoted]
    counts = _hers(scan, counts)
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
    counts_none = {"pain"} & ids if counts else {"pain", *NAPPIES} & ids
    denied = [place for name in counts_none for place in _denied(scan, f"nouns.{name}")]
    candidates += [Item("none", *place) for place in denied if taken.isdisjoint(range(*place))]
    stars = [i for i, t in enumerate(scan.tokens) if i and t.text == "*" and t.kind == "sign"]
    candidates += [Item("correction", i, i + 1) for i in stars]  # '7 *8'
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


def _denied(scan: Scan, noun: str) -> list[tuple[int, int]]:
    """'does not hurt', 'has not pooed': a 'not' straight before the word, but for 'does not hurt much'."""
    places = []
    for f in scan.all(noun):
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


def _hers(scan: Scan, counts: list[Quantity]) -> list[Quantity]:
    """'8 times, my older son eats 3 times': what another child does is not what was asked."""
    others = scan.all("list.other_child")
    told = [
        q
        for q in counts
        for p in others
        if p.end <= q.start and all(t.kind not in ("comma", "stop") for t in scan.tokens[p.end : q.start])
    ]
    kept = [q for q in counts if q not in told]
    return kept or counts


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


def corrected(scan: Scan, items: list[Item], asked: int, result: Answered) -> list[Item]:
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
            and _alone(scan, items, n)
            and not _may_deny_next(scan, item, earlier)
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


def _may_deny_next(scan: Scan, no: Item, earlier: Item) -> bool:
    """'sorry it is 8 no 18': the first number is the correction, and this 'no' may be a 'not' for the next.
    Where one word is both ('son 8 no 18'), it is so behind any word that states the first."""
    both = scan.from_(no.start, "list.not") == no.end
    return scan.has("frame.correction", 0, earlier.start) or (both and earlier.start > 0)


def _alone(scan: Scan, items: list[Item], n: int) -> bool:
    """An amount stands straight before and after this 'no', or after a comma: '10, no, 11'."""
    rest = items[n + 1 :]
    if rest and rest[0].kind == "break" and scan.tokens[rest[0].start].text in _COMMAS:
        told = items[n - 1].kind == "amount" and items[n - 1].end < items[n].start  # '0 for no, 1 for yes'
        named = len(rest) > 2 and rest[2].kind == "noun"  # '8, no, 5 wet'
        rest = [] if told or named else rest[1:]
    return bool(rest) and rest[0].kind == "amount" and items[n - 1].kind in ("amount", "break")


def today_none(items: list[Item]) -> list[Item]:
    """'none today, one yesterday': what was before today is no answer."""
    said = {i.start: i for i in items if i.kind in ("no", "none", "not_yet")}
    today = [i for i in items if i.kind == "daypart" and i.question == "today"]
    if not any(t.end in said or any(s.end == t.start for s in said.values()) for t in today):
        return items
    before = [i for i in items if i.kind == "daypart" and i.question == "before"]
    beside = {i.start for i in before} | {i.end for i in before}
    return [i for i in items if not (i.quantity and (i.start in beside or i.end in beside))]

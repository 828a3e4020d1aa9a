"""What is denied, before a danger or after it: 'no fever', 'not hot or yellow', 'homa hana'."""

from collections.abc import Sequence

from bot.core.reader.phrases import Found
from bot.core.reader.scan import Scan
from bot.core.reader.signs.danger import Dangers

_REACH = 7  # words between a negation and what it denies


def denied(scan: Scan, f: Found, phrases: Sequence[Found], after: Sequence[int], result: Dangers) -> bool:
    """A negation before it or, in some languages, after it."""
    negated = _negated_before(scan, f, phrases) or _negated_after(scan, after)
    if negated is None:
        return False
    result.denials.update(negated)
    return True


def _negated_before(scan: Scan, f: Found, phrases: Sequence[Found]) -> range | None:
    """A negation with nothing between but transparent words and other denied dangers.

    A bare 'no' reaches less far than 'not': 'no fever' denies, 'no he is hot' answers and tells. A verb
    begins anew after another danger ('no fever has fits'), and so do a comma after 'not hot' and a danger
    that holds a 'not' of its own ('no fever not waking'). No denial reaches over the 'but' within a danger
    ('no bleeding but clots').
    """
    if scan.has("frame.but", f.start + 1, f.end - 1):
        return None
    own_not, told = _holds_not(scan, f, phrases), _tells(scan, f)
    at, plain = f.start, not (own_not or told)
    verb = told or scan.from_(at, "frame.verb") is not None
    comma, listed = False, scan.from_(f.end, "amounts.or") is not None
    for _ in range(_REACH * 3):
        negation = _negation_until(scan, at, plain)
        if negation is not None:
            fresh = comma and not listed and _only_not(scan, negation, at)
            return None if fresh or _answers(scan, negation, at, f) else range(negation, at)
        if scan.until(at, "frame.but") is not None:
            return None
        step = _transparent(scan, at, phrases)
        danger = step is not None and _is_danger(step, at, phrases)
        if step is None or (danger and (verb or own_not)):
            return None
        plain = plain and (
            scan.until(at, "frame.after_no") == step or scan.tokens[at - 1].kind != "word" or danger
        )
        verb = verb or scan.until(at, "frame.verb") == step
        comma = comma or scan.tokens[at - 1].kind == "comma"
        if scan.until(at, "amounts.or") == step:
            verb, listed = False, True
        at = step
    return None


def _answers(scan: Scan, start: int, end: int, f: Found) -> bool:
    """'não, ele está quente': a 'no' that answers, then a sentence with a subject (a noun needs a verb)."""
    if scan.from_(start, "answers.no") != end:
        return False
    baby = any((scan.from_(at, "list.baby") or f.end) < f.end for at in (end, end + 1))  # 'o bebê'
    return _speaks(scan, end, f.end) or (baby and bool(scan.within("frame.verb", end, f.end)))


def _speaks(scan: Scan, at: int, end: int) -> bool:
    """'he ..', 'I ..': a subject stands at the head of these words; 'my' and 'me' are none."""
    if scan.from_(at, "list.possessive") is not None:
        return False
    return any((scan.from_(at, f"list.{who}") or end) < end for who in ("pronoun", "mother"))


def _tells(scan: Scan, f: Found) -> bool:
    """The danger is told in a sentence ('he is stiff'): a bare 'no' before it is an answer."""
    inside = any(f.start < v.start and v.end < f.end for v in scan.within("frame.verb", f.start, f.end))
    return inside or _speaks(scan, f.start, f.end)


def _holds_not(scan: Scan, f: Found, phrases: Sequence[Found]) -> bool:
    """The danger is said with a 'not' that denies no other danger within it."""
    inner = {p.start for p in phrases if p.label != f.label and f.start < p.start and p.end <= f.end}
    return any(n.end not in inner for n in scan.within("list.not", f.start, f.end))


def carried_on(scan: Scan, f: Found, phrases: Sequence[Found]) -> bool:
    """'no fever, vomits everything': nothing but a comma, or not even one, carries the 'no' on, with no 'or'
    in the list. It may be a list of what is not there, or the bad news after the good: a person reads. What
    has a 'not' of its own ('no fever, not waking') is no part of such a list."""
    if scan.from_(f.end, "amounts.or") is not None or f.start == 0:
        return False
    comma = scan.tokens[f.start - 1].kind == "comma"
    if not comma and (_negated_before(scan, f, phrases) is None or scan.has("list.not", f.start, f.end)):
        return False  # each has a 'not' of its own, or one behind denies them all
    joint = f.start - 1 if comma else f.start
    ends = any(p.end == joint and p.label != f.label for p in phrases)
    return ends and _negation_until(scan, joint, True) is None


def _only_not(scan: Scan, start: int, end: int) -> bool:
    """'not' alone, which says less than 'no' and 'does not have'."""
    return scan.until(end, "list.not") == start and scan.until(end, "frame.no") is None


def _is_danger(start: int, end: int, phrases: Sequence[Found]) -> bool:
    return any((p.start, p.end) == (start, end) for p in phrases)


def _negation_until(scan: Scan, at: int, plain: bool) -> int | None:
    labels = (
        ("frame.not", "frame.not_think", "frame.free_of", "frame.no")
        if plain
        else ("frame.not", "frame.not_think", "frame.free_of")
    )
    begins = [scan.until(at, label) for label in labels]
    return min((b for b in begins if b is not None), default=None)


def _transparent(scan: Scan, at: int, phrases: Sequence[Found]) -> int | None:
    """Where the transparent piece that ends at `at` begins; None when there is none."""
    if at == 0:
        return None
    token = scan.tokens[at - 1]
    if token.kind == "stop":
        return None
    for p in phrases:
        if p.end == at:
            return p.start
    for label in ("frame.after_no", "frame.transparent"):
        begin = scan.until(at, label)
        if begin is not None:
            return begin
    # A comma or 'and' goes on with a list of dangers only straight between two of them: 'no fever, fits'.
    joint = token.kind in ("comma", "sign") or scan.until(at, "frame.and") == at - 1
    starts = any(p.start == at for p in phrases)
    if joint and starts and any(p.end == at - 1 for p in phrases):
        return at - 1
    # 'does not vomit or have fever': a lesser trouble may stand in the list before 'or'.
    lesser = scan.until(at, "concern.danger")
    return lesser if lesser is not None and scan.from_(at, "amounts.or") is not None else None


def _negated_after(scan: Scan, after: Sequence[int]) -> range | None:
    """Languages that deny after the word, around it, or after a list of dangers."""
    for at in after:
        end = scan.from_(at, "frame.not_after")
        if end is not None:
            return range(at, end)
        end = scan.from_(at, "frame.not_last")
        if end is not None and ends_there(scan, end) and not is_tag(scan, at, end):
            return range(at, end)
    return None


def ends_there(scan: Scan, at: int) -> bool:
    """A sentence, or a part of one, ends before token `at`."""
    return at >= len(scan.tokens) or scan.tokens[at].kind in ("stop", "comma")


def is_tag(scan: Scan, start: int, end: int) -> bool:
    """'yellow, no?': such a 'no' asks whether one agrees, and denies nothing."""
    asked = end < len(scan.tokens) and scan.tokens[end].text == "?"
    return asked and start > scan.sentence(start)[0]

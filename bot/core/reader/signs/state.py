"""Whether a danger is stated as present, denied, or neither."""

from collections.abc import Sequence

from bot.core.reader.phrases import Found
from bot.core.reader.scan import Scan
from bot.core.reader.signs.danger import DENIED, PRESENT, UNSURE, Dangers
from bot.core.reader.signs.denial import carried_on, denied, ends_there, is_tag
from bot.core.reader.signs.subject import clause_of


def state_of(scan: Scan, f: Found, phrases: Sequence[Found], result: Dangers, lasting: bool) -> str:
    """PRESENT, DENIED or UNSURE; words used up in denying are added to `result.denials`.

    lasting  counts even when it is over by now
    """
    if _answered(scan, f, result):
        return DENIED
    begin, end = scan.sentence(f.start)
    after = _after(scan, f)
    if _asked_after(scan, end, after) or _is_condition(scan, after):
        return UNSURE
    if denied(scan, f, phrases, after, result):
        if _no_then_told(scan, f):
            return UNSURE
        if not carried_on(scan, f, phrases):
            return DENIED
        return PRESENT if scan.has("list.not", f.start, f.end) else UNSURE
    listed = _list_answered(scan, begin, end, phrases, result)
    if listed:
        return listed
    conditions = [h for h in scan.conditions(begin, f.end) if h.start <= f.start]
    if lasting:  # 'scared of what I'll do to her': the fear is the danger, and no condition
        conditions = [h for h in conditions if h.start < f.start]
    if conditions:
        return UNSURE
    if _asks_whether(scan, begin, end, f):
        return UNSURE
    clause, _ = clause_of(scan, f)  # 'the bleeding has stopped but I have a bad headache'
    over = [h for h in scan.within("frame.over", clause, end) if not (f.start < h.end and h.start < f.end)]
    gone = scan.within("frame.past", begin, end) or (over and not lasting)
    return UNSURE if gone else PRESENT


def _no_then_told(scan: Scan, f: Found) -> bool:
    """'No breathing really fast': with a stress within it the danger is told after an answer, as likely as
    denied. 'No really fast breathing' denies."""
    begin, _ = scan.sentence(f.start)
    answers = scan.from_(begin, "answers.plain_no") == f.start
    return answers and any(v.start > f.start for v in scan.within("list.very", f.start, f.end))


def _after(scan: Scan, f: Found) -> list[int]:
    """Places where what is said of a danger may stand: after it, and after the list that it begins."""
    places = [f.end]
    while (at := places[-1]) < len(scan.tokens):
        joint = scan.tokens[at].kind == "comma" or _joins(scan, at)
        ends = [end for label, end in scan.starting.get(at + 1, {}).items() if label.startswith("sign.")]
        if not joint or not ends:
            break
        places.append(max(ends))
    return places


def _joins(scan: Scan, at: int) -> bool:
    return at + 1 in (scan.from_(at, "frame.and"), scan.from_(at, "amounts.or"))


def _asked_after(scan: Scan, end: int, after: Sequence[int]) -> bool:
    """'bukhar hai kya': a word at the end asks about what stands in its clause."""
    asks = scan.until(end, "frame.asks_after")
    return asks is not None and all(t.kind != "comma" for t in scan.tokens[after[-1] : asks])


def _is_condition(scan: Scan, after: Sequence[int]) -> bool:
    """'bukhar ho to': languages that put 'if' behind the danger."""
    return any(scan.from_(at + gap, "frame.if_after") is not None for at in after for gap in (-1, 0, 1))


def _asks_whether(scan: Scan, begin: int, end: int, f: Found) -> bool:
    """'Is he hot?' asks; 'he is hot what do I do?' tells."""
    asked = end < len(scan.tokens) and scan.tokens[end].text == "?"
    if asked and (f.start, f.end) == (begin, end):  # 'Fever?', but not 'Fever? 39 today'
        return end + 1 == len(scan.tokens) or scan.from_(end + 1, "frame.asks") is not None
    start = begin
    while start < f.start and scan.tokens[start].kind == "comma":
        start += 1
    presumed = scan.from_(start, "frame.presumes") is not None  # 'why is he hot?'
    return asked and scan.from_(start, "frame.asks") is not None and not presumed


def _answered(scan: Scan, f: Found, result: Dangers) -> bool:
    """The question quoted and answered: 'Is the baby hot? No'; 'fever: no'; 'fever no, fits no'."""
    _, end = scan.sentence(f.start)
    if end < len(scan.tokens) and scan.tokens[end].text == "?":
        after = end + 1
        no = scan.from_(after, "answers.no")
        if no is not None:
            result.denials.update(range(after, no))
            return True
    after = f.end
    while after < end and scan.tokens[after].kind in ("comma", "sign") and scan.tokens[after].text in ":-=(|":
        after += 1
    no = scan.from_(after, "answers.plain_no")
    if no is None or is_tag(scan, after, no):
        return False
    begin, _ = scan.sentence(f.start)
    trailing = ends_there(scan, no) and (scan.tokens[no - 1 if no else 0].kind != "stop")
    alternating = (
        scan.from_(end - 1, "answers.plain_no") == end and scan.from_(begin, "answers.plain_no") is None
    )
    if trailing or alternating:
        result.denials.update(range(after, no))
        return True
    return False


def _list_answered(scan: Scan, begin: int, end: int, phrases: Sequence[Found], result: Dangers) -> str:
    """A sentence that holds nothing but dangers and one 'no' at its end. 'Fever, fits, yellow: none' denies
    all; of 'fever, fits, yellow no' nobody knows whether it denies more than the last."""
    no = scan.until(end, "answers.plain_no")
    if no is None or no <= begin:
        return ""
    listed = [p for p in phrases if begin <= p.start and p.end <= no]
    covered = {i for p in listed for i in range(p.start, p.end)}
    if len({p.label for p in listed}) < 2 or not all(
        i in covered or scan.tokens[i].kind in ("comma", "sign") or _joins(scan, i) for i in range(begin, no)
    ):
        return ""
    result.denials.update(range(no, end))
    plain = scan.tokens[no - 1].text in ":=-" or scan.until(end, "answers.none") == no
    return DENIED if plain else UNSURE

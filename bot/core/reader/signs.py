"""Danger signs in a reply: which, whose, and whether they are stated as present.

A danger counts as present unless the same sentence plainly says otherwise. What is denied ('no fever') is
no sign; what is only asked about, past, over, or about somebody else is left to a person. In doubt it is
present.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from bot.core.reader.lexicon import Lexicon
from bot.core.reader.numbers import Quantity
from bot.core.reader.phrases import Found
from bot.core.reader.scan import Scan

HOT = {
    "baby": 37.5,
    "mother": 38.0,
}  # degrees C, from which it is a fever; clinical default, settable in triage
COLD = 35.5  # degrees C, below which a baby is cold
PRESENT, DENIED, UNSURE = "present", "denied", "unsure"
_REACH = 7  # words between a negation and what it denies
_PLACES = (
    "breast_infection",
    "leg_pain",
    "wound",
    "cord",
)  # dangers of one part of the body, which may be hot
_HARMLESS = ("harmless.figurative", "harmless.baby_is_well")
_READINGS = {"hot_reading": "fever", "cold_reading": "cold"}  # what a thermometer says, in words


@dataclass(slots=True)
class Danger:
    """One danger named at tokens start..end-1; `sign` is empty when nobody it can belong to was meant."""

    name: str
    sign: str
    state: str
    start: int
    end: int
    subject: str
    named: bool  # the subject stands in the words


@dataclass(slots=True)
class Dangers:
    """All dangers of a reply, and the words used up in denying them."""

    found: list[Danger] = field(default_factory=list)
    denials: set[int] = field(default_factory=set)


def dangers(
    scan: Scan,
    amounts: Sequence[Quantity],
    open_about: str | None,
    asked_of: frozenset[str],
    lexicon: Lexicon,
) -> Dangers:
    """All dangers named.

    open_about  whom the open question is about ('baby', 'mother', or None)
    asked_of    ids of the open questions
    """
    result = Dangers()
    closed = {f"sign.{n}" for n, only in lexicon.only_after.items() if asked_of.isdisjoint(only)}
    phrases = _phrases(scan, closed) + _temperatures(scan, amounts)
    for f in phrases:
        name = f.label.partition(".")[2]
        if name == "fever" and _of_the_place(scan, f, result.found):
            continue
        about = lexicon.about.get(_READINGS.get(name, name), {})
        subject, named = _subject(scan, f, "mother" in about)
        if subject and subject not in about and (named == "loosely" or name in lexicon.whoever):
            subject = None  # 'she has a headache' is the mother, 'I see yellow skin' the baby
        whose = subject or (open_about if open_about in about else None) or _default(about)
        state = _state(scan, f, phrases, result, name in lexicon.lasting)
        unsaid = named == "no" and not asked_of.isdisjoint(lexicon.unsure_after.get(name, ()))
        if named == "other" or not about.get(whose) or unsaid:
            state = UNSURE if state == PRESENT else state
        if name in ("hot_reading", "cold_reading") and not _is_reading(f, amounts, whose):
            continue
        result.found.append(Danger(name, about.get(whose, ""), state, f.start, f.end, whose, named != "no"))
    return result


def _default(about: Mapping[str, str]) -> str:
    return "baby" if "baby" in about else "mother"


def _of_the_place(scan: Scan, f: Found, before: Sequence[Danger]) -> bool:
    """'My breast is red, hot and hard': one word for heat tells of the part of the body just named."""
    begin, _ = scan.sentence(f.start)
    places = [d for d in before if d.name in _PLACES and d.state == PRESENT and begin <= d.start <= f.start]
    if any(f.start < d.end for d in places):
        return True
    alone = scan.from_(f.start, "list.hot") == f.end
    return alone and bool(places) and not _people(scan, places[-1].end, f.start)


def _phrases(scan: Scan, closed: set[str]) -> list[Found]:
    """Danger phrases, longest first where one lies in another, less those that a harmless phrase covers.

    closed  labels of dangers that are meant only after questions that are not open
    """
    harmless = harmless_in(scan)
    result: list[Found] = []
    for f in scan.found:
        if not f.label.startswith("sign.") or f.label in closed:
            continue
        labels = ("unless." + f.label[5:], *_HARMLESS)
        if not any(h.label in labels and h.start < f.end and f.start < h.end for h in harmless):
            result.append(f)
    result = [f for f in result if not any(_says_not(scan, f, g) for g in result)]
    return [f for f in result if not any(_inside(f, g) for g in result)]


def harmless_in(scan: Scan) -> list[Found]:
    """Phrases that look like danger and are none; 'breathes well' is no such phrase behind a 'not'."""
    return [
        h
        for h in scan.found
        if h.label.startswith("unless.")
        or (h.label in _HARMLESS and scan.until(h.start, "frame.not") is None)
    ]


def _inside(f: Found, g: Found) -> bool:
    """f is a shorter way to find the same danger as g."""
    return f.label == g.label and f != g and g.start <= f.start and f.end <= g.end


def _says_not(scan: Scan, f: Found, g: Found) -> bool:
    """f ends in the same danger g, and denies it: 'colour is good not yellow'."""
    negation = scan.until(g.start, "frame.not")
    return _inside(g, f) and f.end == g.end and negation is not None and negation > f.start


def _temperatures(scan: Scan, amounts: Sequence[Quantity]) -> list[Found]:
    result = []
    for q in amounts:
        if q.kind != "temperature" or q.low is None:
            continue
        if q.low >= HOT["baby"]:
            result.append(Found(q.start, q.end, "sign.hot_reading"))
        elif q.low < COLD:
            result.append(Found(q.start, q.end, "sign.cold_reading"))
    return result


def _is_reading(f: Found, amounts: Sequence[Quantity], whose: str) -> bool:
    """Whether the thermometer shows a fever, or cold, for this person."""
    q = next(q for q in amounts if (q.start, q.end) == (f.start, f.end))
    return whose == "baby" or f.label.endswith("cold_reading") or (q.low or 0) >= HOT["mother"]


_PEOPLE = {
    "baby": "baby",
    "pronoun": "pronoun",
    "mother": "mother",
    "mother_named": "mother",
    "other": "other",
    "other_child": "other",
}


def _subject(scan: Scan, f: Found, hers: bool) -> tuple[str | None, str]:
    """Whose danger it is: named in the phrase, else nearest before it in the sentence, else after it.

    Returns the person and 'yes' (named), 'loosely' (by a pronoun), 'other' (somebody else) or 'no'.
    """
    begin, end = _clause(scan, f)
    people = _people(scan, begin, end)
    if not hers:  # in 'refuses my breast' her 'my' tells nothing
        people = [p for p in people if scan.from_(p.start, "list.possessive") != p.end]
    inside = [p for p in people if f.start <= p.start and p.end <= f.end]
    before = [p for p in people if p.start < f.start]
    after = [p for p in people if p.start >= f.end]
    for group, nearest in ((inside, 0), (before, -1), (after, 0)):
        if group:
            return _named(scan, group[nearest])
    earlier = [p for p in _people(scan, 0, begin) if _PEOPLE[p.label[5:]] != "other"]
    return _named(scan, earlier[-1]) if earlier else (None, "no")


def _clause(scan: Scan, f: Found) -> tuple[int, int]:
    """The sentence around a danger, no further than 'but' on either side: there another may be meant."""
    begin, end = scan.sentence(f.start)
    for but in _in(scan, "frame.but", begin, end):
        if but.end <= f.start:
            begin = but.end
        elif but.start >= f.end:
            return begin, but.start
    return begin, end


def _people(scan: Scan, begin: int, end: int) -> list[Found]:
    """Everybody named in these tokens in order; 'my sister's baby' is one person, not three."""
    found = [p for p in scan.found if p.label.startswith("list.") and p.label[5:] in _PEOPLE]
    found = [p for p in found if begin <= p.start and p.end <= end]
    found = [p for p in found if not any(_covers(q, p) for q in found)]
    return [p for p in found if not _reports(scan, p, end) and not _tends(scan, p)]


def _tends(scan: Scan, person: Found) -> bool:
    """'I held her', 'I counted': the mother sees to somebody, and has nothing herself."""
    return person.label == "list.mother" and scan.from_(person.end, "frame.tends") is not None


def _reports(scan: Scan, person: Found, end: int) -> bool:
    """'My mother says': she tells of somebody else's danger. Some languages end the sentence with it."""
    if person.label != "list.other":
        return False
    near = range(person.end, min(person.end + 3, end))
    return any(scan.from_(at, "frame.reports") is not None for at in near) or (
        scan.until(end, "frame.reports") is not None
    )


def _covers(q: Found, p: Found) -> bool:
    return q.start <= p.start and p.end <= q.end and (q.end - q.start) > (p.end - p.start)


def _named(scan: Scan, person: Found) -> tuple[str | None, str]:
    """A pronoun means whoever was last named; nobody: the mother, if another writes, else the baby."""
    who = _PEOPLE[person.label[5:]]
    if who == "other":
        return None, "other"
    if who != "pronoun":
        return who, "yes"
    named = [
        p for p in _people(scan, 0, person.start) if p.label[5:] in ("baby", "mother_named", "other_child")
    ]
    if named:
        last = _PEOPLE[named[-1].label[5:]]
        return (None, "other") if last == "other" else (last, "yes")
    return ("mother" if scan.all("frame.for_mother") else "baby"), "loosely"


def _state(scan: Scan, f: Found, phrases: Sequence[Found], result: Dangers, lasting: bool) -> str:
    if _answered(scan, f, result):
        return DENIED
    begin, end = scan.sentence(f.start)
    after = _after(scan, f)
    if _asked_after(scan, end, after) or _is_condition(scan, after):
        return UNSURE
    if _denied(scan, f, phrases, after, result):
        if not _carried_by_comma(scan, f, phrases):
            return DENIED
        return PRESENT if scan.has("list.not", f.start, f.end) else UNSURE
    listed = _list_answered(scan, begin, end, phrases, result)
    if listed:
        return listed
    if any(h.start <= f.start for h in scan.conditions(begin, f.end)):
        return UNSURE
    if _asks_whether(scan, begin, end, f):
        return UNSURE
    over = [h for h in _in(scan, "frame.over", begin, end) if not (f.start < h.end and h.start < f.end)]
    gone = _in(scan, "frame.past", begin, end) or (over and not lasting)
    return UNSURE if gone else PRESENT


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


def _in(scan: Scan, label: str, begin: int, end: int) -> list[Found]:
    return [h for h in scan.all(label) if begin <= h.start and h.end <= end]


def _asks_whether(scan: Scan, begin: int, end: int, f: Found) -> bool:
    """'Is he hot?' asks; 'he is hot what do I do?' tells."""
    asked = end < len(scan.tokens) and scan.tokens[end].text == "?"
    if asked and (f.start, f.end) == (begin, end):  # 'Fever?', but not 'Fever? 39 today'
        return end + 1 == len(scan.tokens) or scan.from_(end + 1, "frame.asks") is not None
    start = begin
    while start < f.start and scan.tokens[start].kind == "comma":
        start += 1
    return asked and scan.from_(start, "frame.asks") is not None


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
    trailing = _ends_there(scan, no) and (scan.tokens[no - 1 if no else 0].kind != "stop")
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


def _ends_there(scan: Scan, at: int) -> bool:
    return at >= len(scan.tokens) or scan.tokens[at].kind in ("stop", "comma")


def is_tag(scan: Scan, start: int, end: int) -> bool:
    """'yellow, no?': such a 'no' asks whether one agrees, and denies nothing."""
    asked = end < len(scan.tokens) and scan.tokens[end].text == "?"
    return asked and start > scan.sentence(start)[0]


def _denied(scan: Scan, f: Found, phrases: Sequence[Found], after: Sequence[int], result: Dangers) -> bool:
    """A negation before it or, in some languages, after it."""
    negated = _negated_before(scan, f, phrases) or _negated_after(scan, after)
    if negated is None:
        return False
    result.denials.update(negated)
    return True


def _negated_before(scan: Scan, f: Found, phrases: Sequence[Found]) -> range | None:
    """A negation with nothing between but transparent words and other denied dangers.

    A bare 'no' reaches less far than 'not': 'no fever' denies, 'no he is hot' answers and tells. A verb
    begins anew after another danger ('no fever has fits'), and so does a comma after 'not hot'.
    """
    at, plain = f.start, True
    verb = scan.from_(at, "frame.verb") is not None
    comma, listed = False, scan.from_(f.end, "amounts.or") is not None
    for _ in range(_REACH * 3):
        negation = _negation_until(scan, at, plain)
        if negation is not None:
            fresh = comma and not listed and _only_not(scan, negation, at)
            return None if fresh else range(negation, at)
        step = _transparent(scan, at, phrases)
        danger = step is not None and _is_danger(step, at, phrases)
        if step is None or (danger and verb):
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


def _carried_by_comma(scan: Scan, f: Found, phrases: Sequence[Found]) -> bool:
    """'no fever, vomits everything': nothing but a comma carries the 'no' on, with no 'or' in the list. It
    may be a list of what is not there, or the bad news after the good: a person reads. What has a 'not' of
    its own ('no fever, not waking') is no part of such a list."""
    if scan.from_(f.end, "amounts.or") is not None or f.start == 0:
        return False
    before = scan.tokens[f.start - 1]
    ends = any(p.end == f.start - 1 for p in phrases)
    return before.kind == "comma" and ends and _negation_until(scan, f.start - 1, True) is None


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
        if end is not None and _ends_there(scan, end) and not is_tag(scan, at, end):
            return range(at, end)
    return None

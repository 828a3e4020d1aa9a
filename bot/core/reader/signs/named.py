"""Which words of a reply name a danger, and which only look like it."""

from collections.abc import Sequence

from bot.core.reader.numbers import Quantity
from bot.core.reader.phrases import Found
from bot.core.reader.scan import Scan

HOT = {
    "baby": 37.5,
    "mother": 38.0,
}  # degrees C, from which it is a fever; clinical default, settable in triage
COLD = 35.5  # degrees C, below which a baby is cold
_NOT = ("list.not", "frame.not", "frame.not_after", "frame.no")
_WARMTH = ("sign.fever", "sign.cold")
_HARMLESS = ("harmless.figurative", "harmless.baby_is_well")


def phrases_of(scan: Scan, closed: set[str]) -> list[Found]:
    """Danger phrases, longest first where one lies in another, less those that a harmless phrase covers.

    closed  labels of dangers that are meant only after questions that are not open
    """
    harmless = harmless_in(scan)
    result: list[Found] = []
    for f in scan.found:
        if not f.label.startswith("sign.") or f.label in closed:
            continue
        labels = ("unless." + f.label[5:], *_HARMLESS)
        if not any(h.label in labels and _hides(scan, h, f) for h in harmless):
            result.append(f)
    result = [f for f in result if not any(_says_not(scan, f, g) or _past_but(scan, f, g) for g in result)]
    return [f for f in result if not any(_inside(f, g) for g in result)]


def harmless_in(scan: Scan) -> list[Found]:
    """Phrases that look like danger and are none; 'breathes well' is no such phrase behind a 'not', none
    reaches over a 'but' in its gaps, and no 'not' does, nor over a second 'not'."""
    return [
        h
        for h in scan.found
        if (h.label.startswith("unless.") and not _denies_too_far(scan, h))
        or (
            h.label in _HARMLESS
            and scan.until(h.start, "frame.not") is None
            and not scan.has("frame.but", h.start + 1, h.end)
        )
    ]


def _denies_too_far(scan: Scan, h: Found) -> bool:
    """'no fever but redness around the cord', 'no pain not sucking': 'no .. redness' gapes too wide."""
    if all(scan.from_(h.start, label) is None for label in ("frame.no", "frame.not", "frame.free_of")):
        return False
    return any(scan.within(label, h.start + 1, h.end) for label in ("frame.but", "list.not"))


def _hides(scan: Scan, h: Found, f: Found) -> bool:
    """The harmless phrase touches the danger. It does not hide the bad news behind what is well ('cord fell
    off but it smells'), nor a likeness ('like a hot water bottle')."""
    if h.end <= f.start or f.end <= h.start or _likened(scan, h, f):
        return False
    if h.label in _HARMLESS and _gapes_over_and(scan, h):
        return False  # the shorter phrase before the 'and' tells
    tail = max(h.end - 1, f.start)  # the phrase may end in a gap that holds the joint
    worse = any(scan.within(label, tail, f.end) for label in ("frame.but", "frame.and"))
    return not worse or any(scan.has(label, h.start, h.end) for label in _NOT)


def _gapes_over_and(scan: Scan, h: Found) -> bool:
    """The phrase is whole before an 'and' that its last gap holds too: 'cord fell off | and smells'."""
    ends = [g.end for g in scan.all(h.label) if g.start == h.start]
    return any(end <= joint.start for joint in scan.within("frame.and", h.start, h.end) for end in ends)


def _likened(scan: Scan, h: Found, f: Found) -> bool:
    """'like a hot water bottle', 'garam pani jaisa'."""
    if f.label not in _WARMTH:
        return False
    if scan.until(h.start, "frame.like") is not None or scan.from_(h.end, "frame.like_after") is not None:
        return True
    return bool(scan.within("amounts.about", f.start, h.start))


def _inside(f: Found, g: Found) -> bool:
    """f is a shorter way to find the same danger as g."""
    return f.label == g.label and f != g and g.start <= f.start and f.end <= g.end


def _says_not(scan: Scan, f: Found, g: Found) -> bool:
    """f ends in the same danger g, and denies it: 'colour is good not yellow'."""
    negation = scan.until(g.start, "frame.not")
    return _inside(g, f) and f.end == g.end and negation is not None and negation > f.start


def _past_but(scan: Scan, f: Found, g: Found) -> bool:
    """f reaches over a 'but' to the same danger g behind it: 'no trouble breathing but breathes fast'."""
    buts = scan.within("frame.but", f.start, f.end)
    return _inside(g, f) and any(f.start < but.start and but.end <= g.start for but in buts)


def temperatures(scan: Scan, amounts: Sequence[Quantity]) -> list[Found]:
    """What a thermometer shows where it is too hot or too cold for a baby."""
    result = []
    for q in amounts:
        if q.kind != "temperature" or q.low is None:
            continue
        if q.low >= HOT["baby"]:
            result.append(Found(q.start, q.end, "sign.hot_reading"))
        elif q.low < COLD:
            result.append(Found(q.start, q.end, "sign.cold_reading"))
    return result


def is_reading(f: Found, amounts: Sequence[Quantity], whose: str) -> bool:
    """Whether the thermometer shows a fever, or cold, for this person."""
    q = next(q for q in amounts if (q.start, q.end) == (f.start, f.end))
    return whose == "baby" or f.label.endswith("cold_reading") or (q.low or 0) >= HOT["mother"]

"""Amounts in a reply: what number, how sure, and of what kind.

In goes a Scan, out comes a row of Quantities: counts with their bounds, and the numbers that are no answer
(times, temperatures, weights, ages, dates, money, telephone numbers), each marked as what it is.
"""

import math
from dataclasses import dataclass, field

from bot.core.reader.lexicon import Lexicon
from bot.core.reader.scan import Scan
from bot.core.reader.types import Reason

HOURS_A_DAY = 24
_WIDEST_PAIR = 3  # between two numbers said together that are one guess
_TEMPERATURES = (34.0, 43.0)  # degrees Celsius that a thermometer may show
_FAHRENHEIT = (93.0, 110.0)


@dataclass(slots=True)
class Quantity:
    """One amount at tokens start..end-1.

    kind     count, or what it is instead: temperature (in low, degrees C), clock, minutes, duration, day,
             weight, dose, age, money, phone, date, share (percent)
    parts    the two numbers of '6,5' or '7/10', when it can be read as two
    notes, reasons   as in a Reading
    """

    low: float | None
    high: float | None
    start: int
    end: int
    kind: str = "count"
    notes: set[str] = field(default_factory=set)
    reasons: set[Reason] = field(default_factory=set)
    parts: tuple[float, ...] = ()
    sep: str = ""
    daypart: str = ""
    spoken: bool = False  # in words, not digits
    counted: bool = False  # 'times' stands beside it

    @property
    def value(self) -> float | None:
        """The number, where it is one."""
        return self.low if self.low == self.high else None


def quantities(scan: Scan, lexicon: Lexicon) -> list[Quantity]:
    """All amounts in order."""
    atoms = _atoms(scan, lexicon)
    joined = _join(scan, atoms, lexicon.pairs_are_ranges)
    for q in joined:
        _modify(scan, q)
        _classify(scan, q)
    if len(joined) == 1 and joined[0].kind == "count" and _below_nothing(scan, joined[0]):
        joined[0].low = joined[0].high = None
        joined[0].reasons.add(Reason.IMPOSSIBLE)
    return joined + _hourly_without_number(scan, joined)


def _atoms(scan: Scan, lexicon: Lexicon) -> list[Quantity]:
    atoms: list[Quantity] = []
    at = 0
    tokens = scan.tokens
    labels = _item_numbers(scan)
    while at < len(tokens):
        if at in labels:
            at += 1
            continue
        atom = _phrase_number(scan, at) or _atom(scan, at, lexicon)
        if atom is None:
            at += 1
            continue
        half = scan.from_(atom.end, "amounts.and_half")
        if half is not None and atom.low is not None and atom.low == int(atom.low):
            atom = Quantity(atom.low + 0.5, atom.low + 0.5, atom.start, half, atom.kind, atom.notes)
        atoms.append(atom)
        at = atom.end
    return atoms


def _below_nothing(scan: Scan, q: Quantity) -> bool:
    """'-3' and nothing else counted: no dash of a list."""
    sign = scan.tokens[q.start - 1] if q.start else None
    return sign is not None and sign.text == "-" and sign.spaced and not scan.tokens[q.start].spaced


def _item_numbers(scan: Scan) -> set[int]:
    """Places of '1) .. 2) ..' or '1. .. 2. ..': they number the answers."""
    tokens = scan.tokens
    places: list[int] = []
    for i, token in enumerate(tokens[:-2]):
        mark = tokens[i + 1]
        marked = mark.text in (")", ".", ":") and mark.kind in ("comma", "stop") and not mark.spaced
        if marked and token.kind == "number" and token.value == len(places) + 1 and not token.parts:
            places.append(i)
    return set(places) if len(places) > 1 or (places == [0] and tokens[1].text == ")") else set()


def _phrase_number(scan: Scan, at: int) -> Quantity | None:
    """'half a dozen', 'a couple of times': numbers of several words, less those of 'the last time'."""
    best: Quantity | None = None
    for label, end in scan.starting.get(at, {}).items():
        group, _, value = label.partition(".")
        if group in ("number", "number_about", "number_hours") and (best is None or end > best.end):
            if _within_longer(scan, "numbers.not_here", at, end):
                continue
            kind = "hours" if group == "number_hours" else "count"
            best = Quantity(float(value), float(value), at, end, kind, spoken=group == "number_hours")
            best.notes = {"approx"} if group == "number_about" else set()
    return best


def _within_longer(scan: Scan, label: str, start: int, end: int) -> bool:
    length = end - start
    return any(f.start <= start and end <= f.end and f.end - f.start > length for f in scan.all(label))


def _atom(scan: Scan, at: int, lexicon: Lexicon) -> Quantity | None:
    token = scan.tokens[at]
    if token.kind in ("phone", "date", "clock"):
        return Quantity(None, None, at, at + 1, token.kind)
    if token.kind == "number":
        atom = Quantity(token.value, token.value, at, at + 1, parts=token.parts, sep=token.sep)
        if token.guess:
            atom.reasons.add(Reason.UNSURE_WORD)
        return atom
    if token.value is None and lexicon.pairs_are_ranges:
        return _first_of_pair(scan, at, lexicon)
    if token.value is None or _no_number(scan, at):
        return None
    return _spoken(scan, at, lexicon)


def _first_of_pair(scan: Scan, at: int, lexicon: Lexicon) -> Quantity | None:
    """'do teen baar': a word that only may be a number is one before the next higher."""
    text = scan.tokens[at].text
    value = lexicon.sounds_like.get(text)
    if (
        value is None
        or at + 1 == len(scan.tokens)
        or (lexicon.fallback and text in lexicon.fallback.sounds_like)
    ):
        return None
    next_value = scan.tokens[at + 1].value if scan.tokens[at + 1].kind == "word" else None
    if next_value is None or not 0 < next_value - value <= _WIDEST_PAIR:
        return None
    return Quantity(value, value, at, at + 1, spoken=True)


def _no_number(scan: Scan, at: int) -> bool:
    """'no one', 'this one', 'one of them': such a word counts only alone or before what is counted."""
    if any(f.start <= at < f.end for f in scan.found if f.label == "numbers.not_here"):
        return True
    if scan.from_(at, "numbers.doubtful") is None:
        return False
    if at > 0 and scan.until(at, "numbers.before_doubtful") is not None:
        return True
    if at + 1 >= len(scan.tokens) or scan.tokens[at + 1].kind != "word":
        return False
    after = scan.starting.get(at + 1, {})
    counted = ("units.", "nouns.", "amounts.", "dayparts.", "answers.", "frame.", "thanks.")
    return scan.tokens[at + 1].value is None and not any(label.startswith(counted) for label in after)


def _spoken(scan: Scan, at: int, lexicon: Lexicon) -> Quantity:
    """A number in words, tens and units together in the order of the language."""
    tokens = scan.tokens
    value, end, guess = tokens[at].value or 0.0, at + 1, tokens[at].guess
    following = tokens[at + 1] if at + 1 < len(tokens) else None
    if tokens[at].text in lexicon.tens and value >= 20 and following and _is_unit(following.value):
        value, end, guess = value + (following.value or 0), at + 2, guess or following.guess
    elif lexicon.units_before_tens and _is_unit(value) and at + 2 < len(tokens):
        joint, ten = tokens[at + 1], tokens[at + 2]
        if joint.text in lexicon.joined_before and ten.text in lexicon.tens and (ten.value or 0) >= 20:
            value, end = value + (ten.value or 0), at + 3
    atom = Quantity(value, value, at, end, spoken=True)
    if guess:
        atom.notes.add("spelling")
    return atom


def _is_unit(value: float | None) -> bool:
    return value is not None and 1 <= value <= 9


def _join(scan: Scan, atoms: list[Quantity], pairs: bool) -> list[Quantity]:
    """Ranges, sums and marks out of ten: two numbers that are one amount."""
    result: list[Quantity] = []
    for atom in atoms:
        last = result[-1] if result else None
        countable = last is not None and last.kind in ("count", "hours") and atom.kind in ("count", "hours")
        joins = (
            countable
            and last is not None
            and (_each_hours(scan, last, atom) or _combine(scan, last, atom) or (pairs and _pair(last, atom)))
        )
        if not joins:
            result.append(atom)
    return result


def _each_hours(scan: Scan, a: Quantity, b: Quantity) -> bool:
    """'two two hours' is every two hours in many languages; somebody asks."""
    if a.low != b.low or a.end != b.start or scan.from_(b.end, "units.hour") is None:
        return False
    a.end, a.kind = b.end, "every"
    a.reasons.add(Reason.SEVERAL_READINGS)
    return True


def _pair(a: Quantity, b: Quantity) -> bool:
    """'saat aath' is 7 to 8, or 7 and 8 where two questions are open; 'aath chhe' is no range."""
    if not (a.spoken and b.spoken and a.end == b.start and a.low is not None and b.low is not None):
        return False
    if a.low != a.high or not 0 < b.low - a.low <= _WIDEST_PAIR:
        return False
    a.high, a.parts, a.end = b.low, (a.low, b.low), b.end
    a.notes |= b.notes
    return True


def _combine(scan: Scan, a: Quantity, b: Quantity) -> bool:
    """Take b into a when the words between make them one."""
    if a.low is None or b.low is None or a.low != a.high or b.low != b.high:
        return False
    how = _between(scan, a, b)
    if not how:
        return False
    if how == "sum":
        a.low = a.high = a.low + b.low
        a.notes.add("sum")
    elif how == "range":
        if b.low <= a.low:
            a.reasons.add(Reason.SEVERAL_READINGS)
        a.low, a.high = min(a.low, b.low), max(a.low, b.low)
    else:
        a.parts, a.sep = (a.low, b.low), "/"
    a.notes |= b.notes
    a.reasons |= b.reasons
    a.end = b.end
    return True


def _between(scan: Scan, a: Quantity, b: Quantity) -> str:
    gap = scan.tokens[a.end : b.start]
    if len(gap) == 1 and gap[0].kind == "sign":
        return {"-": "range", "~": "range", "+": "sum", "/": "of"}.get(gap[0].text, "")
    if scan.from_(a.end, "amounts.out_of") == b.start:
        return "of" if b.low == 10 else ""
    if _doubted(scan, a, b):
        return "range"
    if len(gap) == 2 and gap[0].text == "," and scan.from_(a.end + 1, "amounts.or") == b.start:
        a.parts = (a.low or 0.0, b.low or 0.0)  # '6, maybe 7': two answers where two are asked
        return "range"
    if scan.from_(a.end, "amounts.to") == b.start or scan.from_(a.end, "amounts.or") == b.start:
        return "range"
    if scan.until(a.start, "amounts.between") is not None and scan.from_(a.end, "amounts.and") == b.start:
        return "range"
    return "sum" if scan.from_(a.end, "amounts.plus") == b.start else ""


def _doubted(scan: Scan, a: Quantity, b: Quantity) -> bool:
    """'5 times maybe 6': what is counted stands between, and is not something else for the second."""
    for label, end in scan.starting.get(a.end, {}).items():
        if label != "amounts.times" and not label.startswith("nouns."):
            continue
        others = [k for k in scan.starting.get(b.end, {}) if k.startswith("nouns.") and k != label]
        if scan.from_(end, "amounts.or") == b.start and not others:
            return True
    return False


def _open_low(q: Quantity, step: float) -> None:
    if q.low is not None:
        q.low, q.high = q.low + step, None


def _open_high(q: Quantity, step: float) -> None:
    if q.high is not None:
        q.low, q.high = None, q.high - step


def _about(q: Quantity, _: float) -> None:
    q.notes.add("approx")


def _count(q: Quantity, _: float) -> None:
    q.counted = True


def _half_more(q: Quantity, _: float) -> None:
    q.low, q.high = q.low and q.low + 0.5, q.high and q.high + 0.5


def _no_day(q: Quantity, _: float) -> None:
    """'twice an hour', '2 more than yesterday': a number, but not of a day."""
    q.low = q.high = None
    q.reasons.add(Reason.SEVERAL_READINGS)


def _drop(kind: str):  # type: ignore[no-untyped-def]
    def apply(q: Quantity, _: float) -> None:
        q.kind = kind

    return apply


# What a word before or after an amount makes of it.
_BEFORE = {
    "amounts.about": (_about, 0),
    "amounts.more_than": (_open_low, 1),
    "amounts.at_least": (_open_low, 0),
    "amounts.less_than": (_open_high, 1),
    "amounts.at_most": (_open_high, 0),
    "amounts.every": (_drop("every"), 0),
    "amounts.clock_before": (_drop("clock"), 0),
    "amounts.day_number": (_drop("age"), 0),
    "amounts.money": (_drop("money"), 0),
    "amounts.temperature": (_drop("temperature"), 0),
    "amounts.weight": (_drop("weight"), 0),
    "amounts.between": (_about, 0),
}
_AFTER = {
    "amounts.about_after": (_about, 0),
    "amounts.or_more": (_open_low, 0),
    "amounts.and_more": (_open_low, 1),
    "amounts.or_less": (_open_high, 0),
    "amounts.and_less": (_open_high, 1),
    "amounts.times": (_count, 0),
    "amounts.clock_after": (_drop("clock"), 0),
    "amounts.hourly": (_drop("interval"), 0),
    "amounts.old": (_drop("age"), 0),
    "amounts.money_after": (_drop("money"), 0),
    "amounts.and_half": (_half_more, 0),
    "amounts.per_hour": (_no_day, 0),
    "amounts.than_before": (_no_day, 0),
    "units.hour": (_drop("hours"), 0),
    "units.minute": (_drop("minutes"), 0),
    "units.day": (_drop("duration"), 0),
    "units.weight": (_drop("weight"), 0),
    "units.volume": (_drop("dose"), 0),
    "units.temperature": (_drop("temperature"), 0),
    "units.fahrenheit": (_drop("temperature"), 0),
    "units.other": (_drop("other"), 0),
}
_SIGNS_BEFORE = {
    "~": (_about, 0), ">": (_open_low, 1), "<": (_open_high, 1), ">=": (_open_low, 0), "<=": (_open_high, 0),
    "≥": (_open_low, 0), "≤": (_open_high, 0), "±": (_about, 0),
    "$": (_drop("money"), 0), "£": (_drop("money"), 0), "€": (_drop("money"), 0),
}  # fmt: skip
_SIGNS_AFTER = {
    "+": (_open_low, 0), "°": (_drop("temperature"), 0), "%": (_drop("share"), 0), "±": (_about, 0),
    "~": (_about, 0), "$": (_drop("money"), 0),
}  # fmt: skip
_MOST_MODIFIERS = 6


def _modify(scan: Scan, q: Quantity) -> None:
    """Apply the words and signs on both sides, outward, until none is left."""
    if q.sep == "/" and len(set(q.parts)) == 1 and scan.from_(q.end, "units.hour") is not None:
        q.low, q.high, q.parts, q.sep, q.kind = q.parts[0], q.parts[0], (), "", "every"  # '3/3 h'
    _hours_before(scan, q)
    kinds = {q.kind}
    for _ in range(_MOST_MODIFIERS):
        step = _before(scan, q) or _after(scan, q)
        if step is None:
            break
        apply, by = step
        apply(q, by)
        kinds.add(q.kind)
    if {"every", "hours"} <= kinds:
        q.kind = "interval"
    if q.kind == "hours":
        q.kind = "day" if q.value == HOURS_A_DAY else "duration"
    if q.kind == "interval":
        _per_day(q)
    if q.end < len(scan.tokens) and scan.tokens[q.end].text == "?" and q.kind == "count":
        q.notes.add("approx")


def _hours_before(scan: Scan, q: Quantity) -> None:
    """'kila masaa 3', 'every hours 3': languages that put the number behind what it counts."""
    hour = scan.until(q.start, "units.hour")
    every = scan.until(hour, "amounts.every") if hour is not None else None
    if every is not None and q.kind == "count":
        q.start, q.kind = every, "interval"


def _before(scan: Scan, q: Quantity):  # type: ignore[no-untyped-def]
    if q.start == 0:
        return None
    sign = scan.tokens[q.start - 1]
    if sign.kind == "sign" and sign.text in _SIGNS_BEFORE:
        q.start -= 1
        return _SIGNS_BEFORE[sign.text]
    if sign.text == "/" and (every := scan.until(q.start - 1, "amounts.every_slash")) is not None:
        q.start = every
        return _BEFORE["amounts.every"]
    yesterday, by_night = bool(scan.all("dayparts.before")), bool(scan.all("dayparts.night"))
    best: tuple[int, str] | None = None
    for label, begin in scan.ending.get(q.start, {}).items():
        if label == "amounts.day_number" and any(
            k.startswith("dayparts") for k in scan.starting.get(q.end, ())
        ):
            continue  # '4 day 4 night'
        if label == "amounts.day_number" and "dayparts.day" in scan.ending[q.start] and by_night:
            continue  # 'day 6, night 3'
        if label == "amounts.day_number" and "dayparts.today" in scan.ending[q.start] and yesterday:
            continue  # where one word is 'day' and 'today'
        if label in _BEFORE and (best is None or begin < best[0]):
            best = (begin, label)
    if best is None:
        return None
    q.start = best[0]
    return _BEFORE[best[1]]


def _after(scan: Scan, q: Quantity):  # type: ignore[no-untyped-def]
    if q.end >= len(scan.tokens):
        return None
    sign = scan.tokens[q.end]
    if sign.kind == "sign" and sign.text in _SIGNS_AFTER:
        q.end += 1
        return _SIGNS_AFTER[sign.text]
    best: tuple[int, str] | None = None
    for label, end in scan.starting.get(q.end, {}).items():
        if label in _AFTER and (best is None or end > best[0]):
            best = (end, label)
    if best is None:
        return None
    q.end = best[0]
    return _AFTER[best[1]]


def _per_day(q: Quantity) -> None:
    """Every 3 hours is 8 times a day; every 2 to 3 hours is 8 to 12; every 5 hours is 4 or 5."""
    low, high = q.low or q.high, q.high or q.low
    q.kind = "count"
    q.notes.add("interval")
    if not low or not high or low < 0.25:
        q.low = q.high = None
        q.reasons.add(Reason.SEVERAL_READINGS)
        return
    q.low, q.high = float(math.floor(HOURS_A_DAY / high)), float(math.ceil(HOURS_A_DAY / low))
    if low <= 1:  # every hour: said of restless babies, seldom meant as 24
        q.reasons.add(Reason.SEVERAL_READINGS)


def _hourly_without_number(scan: Scan, others: list[Quantity]) -> list[Quantity]:
    """'every hour' holds no number."""
    result = []
    for f in scan.all("amounts.every_hour"):
        if not any(q.start < f.end and f.start < q.end for q in others):
            q = Quantity(1, 1, f.start, f.end, "interval")
            _per_day(q)
            result.append(q)
    return result


def _classify(scan: Scan, q: Quantity) -> None:
    """Tell thermometers and weights from counts."""
    if q.kind == "temperature":
        _as_celsius(q)
        return
    if q.kind not in ("count", "every", "other"):
        return
    if q.kind == "every":
        q.kind = "other"
        return
    value = q.value
    if value is None:
        return
    near = scan.has("amounts.temperature", max(0, q.start - 4), min(len(scan.tokens), q.end + 3))
    decimal = value != int(value) and q.sep in (".", ",")
    if _TEMPERATURES[0] <= value < _TEMPERATURES[1] and (near or decimal):
        q.kind = "temperature"
    elif near and _FAHRENHEIT[0] <= value <= _FAHRENHEIT[1]:
        q.kind = "temperature"
        _as_celsius(q)
    elif value >= 1000 and value < 7000 and scan.has("amounts.weight", max(0, q.start - 4), len(scan.tokens)):
        q.kind = "weight"


def _as_celsius(q: Quantity) -> None:
    if q.low is not None and q.low > 60:
        q.low = q.high = round((q.low - 32) * 5 / 9, 1)

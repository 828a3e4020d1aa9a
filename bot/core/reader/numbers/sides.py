"""What the words and signs on both sides of a number make of it: 'about', 'at least', 'hours', '+', '%'."""

from bot.core.reader.numbers.quantity import HOURS_A_DAY, Quantity, per_day
from bot.core.reader.scan import Scan
from bot.core.reader.types import Reason


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
_THAN_SIGNS = {"+": (_open_low, 1), "-": (_open_high, 1)}
_OR_SIGNS = {"+": (_open_low, 0), "-": (_open_high, 0)}
_MOST_MODIFIERS = 6


def modify(scan: Scan, q: Quantity) -> None:
    """Apply the words and signs on both sides, outward, until none is left."""
    if q.sep == "/" and len(set(q.parts)) == 1 and scan.from_(q.end, "units.hour") is not None:
        q.low, q.high, q.parts, q.sep, q.kind = q.parts[0], q.parts[0], (), "", "every"  # '3/3 h'
    _hours_before(scan, q)
    kinds = {q.kind}
    for _ in range(_MOST_MODIFIERS):
        step = _before(scan, q) or _or_sign(scan, q) or _after(scan, q)
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
        per_day(q)
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
    if (more := _more_than_sign(scan, q)) is not None:
        return more
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
        past = scan.until(q.start, "frame.past") if label == "amounts.day_number" else None
        if past and scan.tokens[past - 1].value is not None:
            continue  # '10 last week 4'
        if label in _BEFORE and (best is None or begin < best[0]):
            best = (begin, label)
    if best is None:
        return None
    q.start = best[0]
    return _BEFORE[best[1]]


def _more_than_sign(scan: Scan, q: Quantity):  # type: ignore[no-untyped-def]
    """'+ de 8', '- de 5': the sign stands for 'more' or 'less'."""
    than = scan.until(q.start, "amounts.than")
    if not than or q.low != q.high:
        return None
    sign = scan.tokens[than - 1].text
    if sign not in _THAN_SIGNS or scan.from_(than, "amounts.every") is not None:
        return None  # '- de 3 em 3 horas': the dash of a list
    q.start = than - 1
    return _THAN_SIGNS[sign]


def _or_sign(scan: Scan, q: Quantity):  # type: ignore[no-untyped-def]
    """'9 ou +', '5 or -': the sign stands for 'more' or 'less'."""
    at = scan.from_(q.end, "amounts.or")
    if at is None or at == len(scan.tokens) or scan.tokens[at].text not in _OR_SIGNS:
        return None
    if at + 1 < len(scan.tokens) and scan.tokens[at + 1].kind == "number":
        return None
    q.end = at + 1
    return _OR_SIGNS[scan.tokens[at].text]


def _after(scan: Scan, q: Quantity):  # type: ignore[no-untyped-def]
    if q.end >= len(scan.tokens):
        return None
    sign = scan.tokens[q.end]
    if sign.kind == "sign" and sign.text in _SIGNS_AFTER:
        q.end += 1
        return _SIGNS_AFTER[sign.text]
    best: tuple[int, str] | None = None
    following = scan.starting.get(q.end, {})
    for label, end in following.items():
        if label == "units.day" and following.get("dayparts.today", 0) > end:
            continue  # where 'today' begins with the word for day
        if label in _AFTER and (best is None or end > best[0]):
            best = (end, label)
    if best is None:
        return None
    q.end = best[0]
    return _AFTER[best[1]]

"""Two numbers that are one amount: ranges, sums, marks out of ten."""

from bot.core.reader.numbers.atoms import WIDEST_PAIR
from bot.core.reader.numbers.quantity import Quantity
from bot.core.reader.scan import Scan
from bot.core.reader.types import Reason

_MOST_MARKS = 10  # 'nine/ten' is a mark


def join(scan: Scan, atoms: list[Quantity], pairs: bool) -> list[Quantity]:
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
    if a.low != a.high or not 0 < b.low - a.low <= WIDEST_PAIR:
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
        if b.low <= a.low or _or_is_no(scan, a, b):
            a.reasons.add(Reason.SEVERAL_READINGS)
        a.low, a.high = min(a.low, b.low), max(a.low, b.low)
    else:
        a.parts, a.sep = (a.low, b.low), "/"
    a.notes |= b.notes
    a.reasons |= b.reasons
    a.end = b.end
    return True


def _or_is_no(scan: Scan, a: Quantity, b: Quantity) -> bool:
    """One word is 'or' and 'no': '8 na 9' may correct the first."""
    return scan.from_(a.end, "amounts.or") == scan.from_(a.end, "answers.no") == b.start


def _between(scan: Scan, a: Quantity, b: Quantity) -> str:
    gap = scan.tokens[a.end : b.start]
    if len(gap) == 1 and gap[0].text == "&" and scan.until(a.start, "amounts.between") is not None:
        return "range"
    if len(gap) == 1 and gap[0].text == "/" and a.spoken and b.spoken:  # 'seven/eight'
        return "range" if 0 < (b.low or 0) - (a.low or 0) <= WIDEST_PAIR and b.low != _MOST_MARKS else "of"
    if len(gap) == 1 and gap[0].kind == "sign":
        return {"-": "range", "~": "range", "+": "sum", "/": "of"}.get(gap[0].text, "")
    if scan.from_(a.end, "amounts.out_of") == b.start:
        return "of" if b.low == 10 else ""
    if _doubted(scan, a, b):
        return "range"
    if len(gap) == 2 and gap[0].text in (",", ".") and scan.from_(a.end + 1, "amounts.or") == b.start:
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

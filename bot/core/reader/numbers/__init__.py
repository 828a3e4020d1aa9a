"""Amounts in a reply: what number, how sure, and of what kind.

In goes a Scan, out comes a row of Quantities: counts with their bounds, and the numbers that are no answer
(times, temperatures, weights, ages, dates, money, telephone numbers), each marked as what it is.
"""

from itertools import pairwise

from bot.core.reader.lexicon import Lexicon
from bot.core.reader.numbers.atoms import atoms_of
from bot.core.reader.numbers.joins import join
from bot.core.reader.numbers.quantity import Quantity, per_day
from bot.core.reader.numbers.sides import modify
from bot.core.reader.scan import Scan
from bot.core.reader.types import Reason

__all__ = ["Quantity", "quantities"]

_TEMPERATURES = (34.0, 43.0)  # degrees Celsius that a thermometer may show
_FAHRENHEIT = (93.0, 110.0)


def quantities(scan: Scan, lexicon: Lexicon) -> list[Quantity]:
    """All amounts in order."""
    atoms = atoms_of(scan, lexicon)
    joined = _without_scale(scan, join(scan, atoms, lexicon.pairs_are_ranges))
    for q in joined:
        modify(scan, q)
        _classify(scan, q)
    if len(joined) == 1 and joined[0].kind == "count" and _below_nothing(scan, joined[0]):
        joined[0].low = joined[0].high = None
        joined[0].reasons.add(Reason.IMPOSSIBLE)
    _without_unit(joined)
    _but_another(scan, joined)
    _in_clock_list(scan, joined)
    return joined + _hourly_without_number(scan, joined)


def _without_scale(scan: Scan, row: list[Quantity]) -> list[Quantity]:
    """'On a scale of 1-10 it is 4', 'out of ten, six': the ends of the scale are no amount."""
    ends = [q for q in row if q.high == 10 and q.low in (0, 1, 10)]
    ends = [q for q in ends if scan.until(q.start, "amounts.scale") is not None]
    return [q for q in row if q not in ends] if len(ends) < len(row) else row


def _below_nothing(scan: Scan, q: Quantity) -> bool:
    """'-3' and nothing else counted: no dash of a list."""
    sign = scan.tokens[q.start - 1] if q.start else None
    return sign is not None and sign.text == "-" and sign.spaced and not scan.tokens[q.start].spaced


def _without_unit(row: list[Quantity]) -> None:
    """'2 em 2', said of hours that are left out: an interval of what is not told, and no count."""
    for first, second in pairwise(row):
        if second.kind == "other" and second.start <= first.start and first.kind == "count":
            first.low = first.high = None
            first.reasons.add(Reason.SEVERAL_READINGS)


def _but_another(scan: Scan, row: list[Quantity]) -> None:
    """'He has not fed 8 but 6 times': the second number takes back the first."""
    for first, second in pairwise(row):
        if scan.from_(first.end, "frame.but") != second.start:
            continue
        begin, _ = scan.sentence(first.start)
        if any(scan.has(label, begin, first.start) for label in ("frame.not", "list.not")):
            first.low = first.high = None
            first.reasons.add(Reason.SEVERAL_READINGS)


def _in_clock_list(scan: Scan, row: list[Quantity]) -> None:
    """'at 6, 9 and 12', '2am 4am 12 2pm': in a list of clock times a bare number is one too."""
    begin = 0
    for at in range(1, len(row) + 1):
        listed = at < len(row) and not row[at - 1].counted  # '8 times, at 6, 9 and 12'
        if listed and _only_joints(scan, row[at - 1].end, row[at].start):
            continue
        times = row[begin:at]
        clocks = [q for q in times if q.kind == "clock"]
        if len(times) > 2 and clocks and (times[0].kind == "clock" or len(clocks) > 1):
            for q in times:
                if q.kind == "count" and not q.counted and q.value in range(1, 25):
                    q.kind = "clock"
        begin = at


def _only_joints(scan: Scan, begin: int, end: int) -> bool:
    """Nothing but commas and 'and' stands between."""
    at = begin
    while at < end:
        step = at + 1 if scan.tokens[at].kind == "comma" else scan.from_(at, "frame.and")
        if step is None:
            return False
        at = step
    return True


def _hourly_without_number(scan: Scan, others: list[Quantity]) -> list[Quantity]:
    """'every hour' holds no number."""
    result = []
    for f in scan.all("amounts.every_hour"):
        if not any(q.start < f.end and f.start < q.end for q in others):
            q = Quantity(1, 1, f.start, f.end, "interval")
            per_day(q)
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

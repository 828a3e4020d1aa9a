"""Amounts in a reply: what number, how sure, and of what kind.

In goes a Scan, out comes a row of Quantities: counts with their bounds, and the numbers that are no answer
(times, temperatures, weights, ages, dates, money, telephone numbers), each marked as what it is.
"""

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
    joined = join(scan, atoms, lexicon.pairs_are_ranges)
    for q in joined:
        modify(scan, q)
        _classify(scan, q)
    if len(joined) == 1 and joined[0].kind == "count" and _below_nothing(scan, joined[0]):
        joined[0].low = joined[0].high = None
        joined[0].reasons.add(Reason.IMPOSSIBLE)
    return joined + _hourly_without_number(scan, joined)


def _below_nothing(scan: Scan, q: Quantity) -> bool:
    """'-3' and nothing else counted: no dash of a list."""
    sign = scan.tokens[q.start - 1] if q.start else None
    return sign is not None and sign.text == "-" and sign.spaced and not scan.tokens[q.start].spaced


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

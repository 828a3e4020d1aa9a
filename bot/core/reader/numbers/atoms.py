"""Single numbers, in digits, in words or in phrases ('half a dozen'), before anything beside them counts."""

from bot.core.reader.lexicon import Lexicon
from bot.core.reader.numbers.quantity import Quantity
from bot.core.reader.scan import Scan
from bot.core.reader.types import Reason

WIDEST_PAIR = 3  # between two numbers said together that are one guess


def atoms_of(scan: Scan, lexicon: Lexicon) -> list[Quantity]:
    """Every number of a reply in order; none of '1) .. 2) ..' that only count the answers."""
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
    if any(f.start <= at < f.end for f in scan.all("amounts.no_amount")):
        return None
    if token.kind == "number":
        atom = Quantity(token.value, token.value, at, at + 1, parts=token.parts, sep=token.sep)
        if token.guess:
            atom.reasons.add(Reason.UNSURE_WORD)
        return atom
    if token.value is None:
        pair = _first_of_pair(scan, at, lexicon) if lexicon.pairs_are_ranges else None
        return pair or _misheard(scan, at, lexicon)
    if _no_number(scan, at):
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
    if next_value is None or not 0 < next_value - value <= WIDEST_PAIR:
        return None
    return Quantity(value, value, at, at + 1, spoken=True)


def _misheard(scan: Scan, at: int, lexicon: Lexicon) -> Quantity | None:
    """'ate times', 'for or five': voice typing wrote another word, known by its place. She is asked."""
    value = lexicon.sounds_like.get(scan.tokens[at].text)
    if value is None or (at > 0 and scan.until(at, "amounts.about") is None):
        return None
    either = scan.from_(at + 1, "amounts.or")
    following = scan.tokens[either].value if either is not None and either < len(scan.tokens) else None
    ranged = following is not None and 0 < following - value <= WIDEST_PAIR
    if not ranged and scan.from_(at + 1, "amounts.times") is None:
        return None
    return Quantity(value, value, at, at + 1, reasons={Reason.UNSURE_WORD}, spoken=True)


def _no_number(scan: Scan, at: int) -> bool:
    """'no one', 'this one', 'one of them': such a word counts only alone or before what is counted."""
    if any(f.start <= at < f.end for f in scan.all("numbers.not_here")):
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

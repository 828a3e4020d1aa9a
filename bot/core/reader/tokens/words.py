"""Which words of the lexicon a written word stands for.

A word that the lexicon does not know is tried again with stretched letters squeezed, joined particles cut
off, glued digits and words taken apart, as a word of the language's own script typed in Latin letters, and
at last as a misspelling of a number word or a word of danger. Whatever was guessed says so.
"""

import regex
from rapidfuzz.distance import OSA

from bot.core.reader.lexicon import Lexicon

MIXED = regex.compile(r"\d+|[^\d]+")
_STRETCH = regex.compile(r"(.)\1{2,}")
_DOUBLE = regex.compile(r"(.)\1+")
_MOST_WORDS = 50_000
_LEAST_STEM = 3  # letters of a word that are left when an ending is taken off
OR = "|"  # between the words that one token may stand for
Piece = tuple[str, str, float | None, bool, bool, int, int]  # kind, text, value, known, guess, from, to


def resolve(raw: str, lexicon: Lexicon, mixed: bool = True, guess: bool = True) -> tuple[Piece, ...]:
    """The words of the lexicon that a written word stands for: several when words are run together."""
    memo = f"{raw}\0{mixed}{guess}"
    known = lexicon.memory.get(memo)
    if known is None:
        known = tuple(_resolve(raw, lexicon, mixed, guess))
        if len(lexicon.memory) > _MOST_WORDS:
            lexicon.memory.clear()
        lexicon.memory[memo] = known
    return known  # type: ignore[return-value]


def _resolve(raw: str, lexicon: Lexicon, mixed: bool, guess: bool) -> list[Piece]:
    word = raw.replace("'", "")
    whole = len(raw)
    for form in _forms(word):
        if _is_known(form, lexicon):
            return [_piece(form, lexicon, 0, whole)]
    attempts = (_cut_particles, _cut_around, _cut_mixed, _cut_apart)
    for attempt in attempts if mixed else (_cut_particles, _cut_around, _cut_apart):
        pieces = attempt(word, whole, lexicon)
        if pieces:
            return pieces
    meant = _sounded(word, lexicon) if guess and lexicon.typed else None
    if meant:
        return [_piece(meant, lexicon, 0, whole, guess=True)]
    slip = _misspelt(word, lexicon) if guess else None
    if slip:
        return [_piece(slip, lexicon, 0, whole, guess=True)]
    return [("word", word, None, False, False, 0, whole)]


def _forms(word: str) -> list[str]:
    """As written, then with stretched letters squeezed to two, then to one: 'nooo', 'hoooot', 'yess'."""
    forms = [word]
    if _DOUBLE.search(word):
        forms += [_STRETCH.sub(r"\1\1", word), _STRETCH.sub(r"\1", word), _DOUBLE.sub(r"\1", word)]
    if word.endswith("s") and len(word) > 4:
        forms.append(word[:-1])
    return forms


def _is_known(word: str, lexicon: Lexicon) -> bool:
    if word in lexicon.symbols:
        return True
    if word[-1:].isdigit():  # 'feed8' is no word that begins with 'feed'
        return False
    glued = not word.isascii()  # a digit is a letter only where other scripts are typed in Latin ones
    return any(
        word[:n] in lexicon.beginnings and not (glued and word[n : n + 1].isdigit())
        for n in range(2, len(word) + 1)
    )


def _piece(word: str, lexicon: Lexicon, begin: int, end: int, guess: bool = False) -> Piece:
    first = word.partition(OR)[0]
    value = lexicon.numbers.get(first, lexicon.tens.get(first))
    return ("word", word, value, True, guess, begin, end)


def _cut_particles(word: str, whole: int, lexicon: Lexicon) -> list[Piece]:
    """Arabic writes 'and', 'the', 'with' onto the word: 'and' stays as a word of its own, the others go."""
    for particle in lexicon.joined_before:
        rest = word[len(particle) :]
        if word.startswith(particle) and len(rest) >= 2:
            inner = _bare(rest, lexicon)
            if inner:
                cut = len(particle)
                return [_piece(particle, lexicon, 0, cut), _piece(inner, lexicon, cut, whole)]
    bare = _bare(word, lexicon)
    return [_piece(bare, lexicon, 0, whole)] if bare else []


def _bare(word: str, lexicon: Lexicon) -> str | None:
    for form in _forms(word):
        if _is_known(form, lexicon):
            return form
    for particle in ("", *lexicon.dropped_before):
        rest = word[len(particle) :]
        if word.startswith(particle) and len(rest) >= 2:
            known = rest if _is_known(rest, lexicon) else _without_ending(rest, lexicon)
            if known:
                return known
    return None


def _without_ending(word: str, lexicon: Lexicon) -> str | None:
    """'his', 'for her', written onto a word."""
    for ending in lexicon.dropped_after:
        rest = word[: -len(ending)]
        if word.endswith(ending) and len(rest) >= _LEAST_STEM and _is_known(rest, lexicon):
            return rest
    return None


def _cut_around(word: str, whole: int, lexicon: Lexicon) -> list[Piece]:
    """Some languages write 'not' around the verb: it becomes a word of its own before it."""
    for before, after, negation in lexicon.around:
        inner = word[len(before) : len(word) - len(after)]
        if word.startswith(before) and word.endswith(after) and len(inner) >= 2:
            bare = _bare(inner, lexicon)
            if bare:
                cut = len(before)
                return [_piece(negation, lexicon, 0, cut), _piece(bare, lexicon, cut, whole)]
    return []


def _cut_mixed(word: str, whole: int, lexicon: Lexicon) -> list[Piece]:
    """'wet6', 'times8feeds': letters first, then digits, when every piece of letters is a known word."""
    pieces = MIXED.findall(word)
    letters = [p for p in pieces if not p.isdigit()]
    particles = (*lexicon.joined_before, *lexicon.dropped_before)
    known = all(p in lexicon.splittable or p in particles or _whole(p, lexicon) for p in letters)
    if len(pieces) < 2 or not known or all(_whole(p, lexicon) for p in letters):
        return []
    result: list[Piece] = []
    at = 0
    for p in pieces:
        if p.isdigit():
            result.append(("number", p, float(p[:15]), True, False, at, at + len(p)))
        else:
            result.append(_piece(p, lexicon, at, at + len(p)))
        at += len(p)
    return result


def _whole(piece: str, lexicon: Lexicon) -> bool:
    """A word of some length that may stand beside digits, when another beside them may be cut off."""
    return len(piece) >= _LEAST_STEM and piece not in lexicon.splittable and _is_known(piece, lexicon)


def _cut_apart(word: str, whole: int, lexicon: Lexicon) -> list[Piece]:
    """Two or three words run together, of which one at least is a number, a unit, a noun or a 'no'."""
    if len(word) < 5 or any(c.isdigit() for c in word) or len(word) > 40:
        return []
    for cut in range(2, len(word) - 2):
        left, right = word[:cut], word[cut:]
        if left in lexicon.splittable and (len(left) > 2 or left == "no") and right in lexicon.symbols:
            return [_piece(left, lexicon, 0, cut), _piece(right, lexicon, cut, whole)]
    return []


def _sounded(word: str, lexicon: Lexicon) -> str | None:
    """The words of the language's own script that this may be, typed in Latin letters. None where it may be
    two numbers, or a 'not' and something else."""
    for form in _forms(word):
        meant = lexicon.sounds.meant(form)
        values = {lexicon.numbers.get(w, lexicon.tens.get(w)) for w in meant}
        denies = {"<not>" in lexicon.symbols.get(w, ()) for w in meant}
        if meant and len(values) == len(denies) == 1:
            return OR.join(meant)
    return None


def _misspelt(word: str, lexicon: Lexicon) -> str | None:
    """The one word of numbers or danger that is one slip away, first letter kept; None when several are."""
    if len(word) < 4 or len(word) > 20:
        return None
    close = {
        c
        for c in lexicon.guessable.get(word[0], ())
        if (len(word) >= 5 or c in lexicon.guessed_numbers) and OSA.distance(word, c, score_cutoff=1) == 1
    }
    meant = {lexicon.numbers.get(c, lexicon.tens.get(c, c)) for c in close}
    return min(close) if len(meant) == 1 else None

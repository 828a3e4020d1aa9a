"""A folded text cut into tokens, each word resolved to the words of the lexicon.

In go a text and a Lexicon, out comes a list of Tokens. A word that the lexicon does not know is tried again
with stretched letters squeezed, joined particles cut off, glued digits and words taken apart, as a word of
the language's own script typed in Latin letters, and at last as a misspelling of a number word or a word of
danger. Whatever was guessed says so.
"""

import unicodedata
from dataclasses import dataclass

import regex
from rapidfuzz.distance import OSA

from bot.core.reader.lexicon import Lexicon
from bot.core.reader.phrases import NUMBER
from bot.core.reader.text import Folded, fold

_TOKEN = regex.compile(
    r"""
      (?P<phone> (?<![\d\w]) (?: \+\d[\d\ ()\-]{6,}\d | 0\d{2}[\d\ \-]{5,}\d | \d{7,} ) (?!\d) )
    | (?P<date>  (?<!\d)\d{1,4}[/.\-]\d{1,2}[/.\-]\d{2,4}(?!\d) )
    | (?P<clock> (?<!\d)(?:[01]?\d|2[0-3])[:h][0-5]\d(?!\d) )
    | (?P<ethiopic> (?:(?:[፲-፺][፩-፱]?|[፩-፱])?፻)? (?:[፲-፺][፩-፱]?|[፩-፱]) | (?:[፲-፺][፩-፱]?|[፩-፱])?፻ )
    | (?P<number> \d+(?:\ ?[½¼¾]|\ [1-3]/[24](?!\d))? (?: [.,/]\d+ )* )
    | (?P<word>  [\p{L}\p{M}](?:[\p{L}\p{M}\p{Nd}']*[\p{L}\p{M}\p{Nd}])? )
    | (?P<sign>  \p{No} | \p{Nl} | <= | >= | [+~=<>≤≥±°%*$£€#/x\-] )
    | (?P<stop>  [.!?\n\r;]+ )
    | (?P<comma> [,:()"|&] )
    """,
    regex.VERBOSE,
)
_MIXED = regex.compile(r"\d+|[^\d]+")
_STRETCH = regex.compile(r"(.)\1{2,}")
_DOUBLE = regex.compile(r"(.)\1+")
_FRACTIONS = {"½": 0.5, "¼": 0.25, "¾": 0.75}
_MOST_WORDS = 50_000
_LEAST_STEM = 3  # letters of a word that are left when an ending is taken off
UNKNOWN = "\0"
_OR = "|"  # between the words that one token may stand for


@dataclass(slots=True)
class Token:
    """One word, number or sign. start and end are places in the folded text.

    kind     word, number, sign, comma, stop, phone, date or clock
    text     the lexicon's form of the word, the digits, or the sign
    value    of a number or number word
    known    the lexicon knows this word
    guess    the word was misspelt, misheard or mistyped and its meaning guessed
    """

    kind: str
    text: str
    start: int
    end: int
    symbols: tuple[str, ...] = ()
    value: float | None = None
    parts: tuple[float, ...] = ()  # of '6,5': 6 and 5; of '7/10': 7 and 10
    sep: str = ""  # what stands between the parts
    known: bool = True
    guess: bool = False
    spaced: bool = False  # white space stands before it

    @property
    def key(self) -> str:
        """What the phrase automaton may remember this token by; '' ends every phrase."""
        if self.kind == "stop":
            return ""
        return self.text if self.known and self.kind == "word" else UNKNOWN + "".join(self.symbols)


Piece = tuple[str, str, float | None, bool, bool, int, int]  # kind, text, value, known, guess, from, to


def tokenise(text: str, lexicon: Lexicon) -> tuple[list[Token], Folded]:
    """Cut a reply into tokens. Never raises."""
    folded = fold(text)
    tokens: list[Token] = []
    last = 0
    for m in _TOKEN.finditer(folded.text):
        kind, piece = str(m.lastgroup), m.group()
        start, end = m.span()
        spaced = start > last or start == 0
        last = end
        if kind == "word":
            _add_word(tokens, piece, start, lexicon, spaced)
        elif kind == "number":
            tokens.append(_number(piece, start, end, spaced))
        elif kind == "ethiopic":
            tokens.append(Token("number", piece, start, end, (NUMBER,), _ethiopic(piece), spaced=spaced))
        elif kind == "sign":
            tokens.append(_sign(piece, start, end, spaced))
        else:
            tokens.append(Token(kind, "?" if "?" in piece else piece[0], start, end, spaced=spaced))
    return tokens, folded


def _ethiopic(piece: str) -> float:
    """Ethiopic numbers add up: ፲፪ is 10 and 2. Before a hundred they count hundreds."""
    total = 0.0
    for sign in piece:
        value = unicodedata.numeric(sign)
        total = (total or 1) * value if value == 100 else total + value
    return total


def _part(digits: str) -> float:
    """One number of several, such as the '8¾' of '8¾,9'."""
    if digits[-1:] in _FRACTIONS:
        return float(digits[:-1][:15] or 0) + _FRACTIONS[digits[-1]]
    return float(digits[:15] or 0)


def _number(piece: str, start: int, end: int, spaced: bool) -> Token:
    if not all(c.isdecimal() or c in _FRACTIONS or c in "., /" for c in piece):
        # A digit of a script newer than this Python: nobody can tell its value.
        return Token("sign", piece, start, end, spaced=spaced)
    if piece[-1] in _FRACTIONS and piece[:-1].strip().isdecimal():
        return Token("number", piece, start, end, (NUMBER,), _part(piece), spaced=spaced)
    if " " in piece:  # 2 1/2
        whole, part = piece.split(" ", 1)
        over, under = part.split("/")[:2]
        return Token(
            "number", piece, start, end, (NUMBER,), float(whole) + int(over) / int(under), spaced=spaced
        )
    digits = regex.split(r"[.,/]", piece)
    if len(digits) == 1:
        return Token("number", piece, start, end, (NUMBER,), _part(piece), spaced=spaced)
    parts = tuple(_part(d) for d in digits)
    sep = next(c for c in piece if c in ".,/")
    value: float | None = None
    if len(parts) == 2:
        if sep in ".," and all(d.isdecimal() for d in digits):
            value = float(f"{digits[0][:15]}.{digits[1][:6]}")
        elif parts == (1.0, 2.0):
            value = 0.5
    return Token("number", piece, start, end, (NUMBER,), value, parts, sep, spaced=spaced)


def _sign(piece: str, start: int, end: int, spaced: bool) -> Token:
    value = unicodedata.numeric(piece, None) if len(piece) == 1 and not piece.isascii() else None
    if value is None:
        return Token("sign", piece, start, end, spaced=spaced)
    return Token("number", piece, start, end, (NUMBER,), float(value), spaced=spaced)


def _add_word(tokens: list[Token], raw: str, start: int, lexicon: Lexicon, spaced: bool) -> None:
    glued = tokens[-1] if tokens and tokens[-1].kind == "number" and tokens[-1].end == start else None
    if glued is not None and not _may_follow_digits(raw, glued, lexicon, tokens, start):
        return
    for kind, text, value, known, guess, begin, end in resolve(raw, lexicon):
        symbols = _symbols(text, lexicon, value)
        tokens.append(
            Token(
                kind,
                text,
                start + begin,
                start + end,
                symbols,
                value,
                (),
                "",
                known,
                guess,
                spaced and begin == 0,
            )
        )


_LETTERS_AS_DIGITS = str.maketrans("oOlI", "0011")


def _may_follow_digits(raw: str, digits: Token, lexicon: Lexicon, tokens: list[Token], start: int) -> bool:
    """Whether '8times' is 8 and a word; '3ndi' is one word without a number, and replaces the digits."""
    whole = digits.text + raw
    first = _MIXED.match(raw)
    splits = bool(first and (first.group() in lexicon.splittable or raw in lexicon.splittable))
    pieces = resolve(whole, lexicon, mixed=False, guess=not splits)
    if all(p[3] for p in pieces):
        tokens.pop()
        for kind, text, value, known, guess, begin, end in pieces:
            symbols = _symbols(text, lexicon, value)
            place = digits.start
            tokens.append(Token(kind, text, place + begin, place + end, symbols, value, (), "", known, guess))
        return False
    if splits:
        return True
    if regex.fullmatch(r"\d{1,15}[olOI]{1,15}", whole):  # 1O, l2: letters for digits
        tokens.pop()
        value = float(whole.translate(_LETTERS_AS_DIGITS))
        tokens.append(Token("number", whole, digits.start, start + len(raw), (NUMBER,), value, guess=True))
        return False
    if lexicon.fallback is None and len(raw) >= 3 and all(p[3] for p in resolve(raw, lexicon, guess=False)):
        return True  # in English a digit is no letter: '8today'
    tokens.pop()
    tokens.append(Token("word", whole, digits.start, start + len(raw), known=False))
    return False


def _symbols(text: str, lexicon: Lexicon, value: float | None) -> tuple[str, ...]:
    if _OR in text:
        return tuple({s: None for word in text.split(_OR) for s in _symbols(word, lexicon, value)})
    symbols = lexicon.symbols.get(text)
    if symbols is None:
        symbols = (NUMBER,) if value is not None else ()
    begun = [s for n in range(2, len(text) + 1) for s in lexicon.beginnings.get(text[:n], ())]
    return (*symbols, *begun) if begun else symbols


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
    return any(word[:n] in lexicon.beginnings for n in range(2, len(word) + 1))


def _piece(word: str, lexicon: Lexicon, begin: int, end: int, guess: bool = False) -> Piece:
    first = word.partition(_OR)[0]
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
    pieces = _MIXED.findall(word)
    particles = (*lexicon.joined_before, *lexicon.dropped_before)
    if len(pieces) < 2 or not all(p.isdigit() or p in lexicon.splittable or p in particles for p in pieces):
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
            return _OR.join(meant)
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

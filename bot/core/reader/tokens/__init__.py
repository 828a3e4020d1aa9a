"""A folded text cut into tokens, each word resolved to the words of the lexicon.

In go a text and a Lexicon, out comes a list of Tokens.
"""

import regex

from bot.core.reader.lexicon import Lexicon
from bot.core.reader.phrases import NUMBER
from bot.core.reader.text import Folded, fold
from bot.core.reader.tokens.digits import ethiopic, number, sign
from bot.core.reader.tokens.token import UNKNOWN, Token
from bot.core.reader.tokens.words import MIXED, OR, resolve

__all__ = ["UNKNOWN", "Token", "tokenise"]

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
_LETTERS_AS_DIGITS = str.maketrans("oOlI", "0011")


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
            tokens.append(number(piece, start, end, spaced))
        elif kind == "ethiopic":
            tokens.append(Token("number", piece, start, end, (NUMBER,), ethiopic(piece), spaced=spaced))
        elif kind == "sign":
            tokens.append(sign(piece, start, end, spaced))
        else:
            tokens.append(Token(kind, "?" if "?" in piece else piece[0], start, end, spaced=spaced))
    return tokens, folded


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


def _may_follow_digits(raw: str, digits: Token, lexicon: Lexicon, tokens: list[Token], start: int) -> bool:
    """Whether '8times' is 8 and a word; '3ndi' is one word without a number, and replaces the digits."""
    whole = digits.text + raw
    first = MIXED.match(raw)
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
    if OR in text:
        return tuple({s: None for word in text.split(OR) for s in _symbols(word, lexicon, value)})
    symbols = lexicon.symbols.get(text)
    if symbols is None:
        symbols = (NUMBER,) if value is not None else ()
    begun = [s for n in range(2, len(text) + 1) for s in lexicon.beginnings.get(text[:n], ())]
    return (*symbols, *begun) if begun else symbols

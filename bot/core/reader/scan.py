"""A text seen whole: its tokens and every phrase found in them.

Everything after this works on places in the row of tokens, never on letters.
"""

from dataclasses import dataclass

from bot.core.reader.lexicon import Lexicon
from bot.core.reader.phrases import Found
from bot.core.reader.text import Folded
from bot.core.reader.tokens import UNKNOWN, Token, tokenise
from bot.core.reader.types import Match

_NOTHING: dict[str, int] = {}
_OWN = "\2"  # before a word as one language alone sees it
Word = tuple[str, tuple[str, ...]]  # as an automaton takes it


@dataclass(slots=True)
class Scan:
    """Tokens and phrases of one reply; starting[i] and ending[i]: label -> other end, the longest one."""

    tokens: list[Token]
    found: list[Found]
    starting: dict[int, dict[str, int]]
    ending: dict[int, dict[str, int]]
    folded: Folded

    def from_(self, at: int, label: str) -> int | None:
        """Where the longest phrase of this label that starts at token `at` ends."""
        return self.starting.get(at, _NOTHING).get(label)

    def until(self, at: int, label: str) -> int | None:
        """Where the longest phrase of this label that ends before token `at` starts."""
        return self.ending.get(at, _NOTHING).get(label)

    def all(self, label: str) -> list[Found]:
        """Every phrase of this label, in order."""
        return [f for f in self.found if f.label == label]

    def has(self, label: str, begin: int, end: int) -> bool:
        """Whether a phrase of this label lies wholly within these tokens."""
        return any(f.label == label and begin <= f.start and f.end <= end for f in self.found)

    def within(self, label: str, begin: int, end: int) -> list[Found]:
        """The phrases of this label that lie wholly within these tokens."""
        return [f for f in self.all(label) if begin <= f.start and f.end <= end]

    def conditions(self, begin: int, end: int) -> list[Found]:
        """Words such as 'if' within these tokens, less those of a courtesy ('if you please')."""
        kind = [
            f
            for f in self.found
            if f.label.startswith(("thanks.", "keywords.beside")) and f.end - f.start > 1
        ]
        return [
            h
            for h in self.all("frame.if")
            if begin <= h.start
            and h.end <= end
            and not any(k.start <= h.start and h.end <= k.end for k in kind)
        ]

    def sentence(self, at: int) -> tuple[int, int]:
        """First token of the sentence around `at`, and the one after its last."""
        begin, end = at, at
        while begin > 0 and self.tokens[begin - 1].kind != "stop":
            begin -= 1
        while end < len(self.tokens) and self.tokens[end].kind != "stop":
            end += 1
        return begin, end

    def match(self, start: int, end: int, what: str) -> Match:
        """The place of tokens start..end-1 in the original text."""
        first, last = self.tokens[start], self.tokens[end - 1]
        return Match(self.folded.starts[first.start], self.folded.ends[last.end - 1], what)


def scan(text: str, lexicon: Lexicon) -> Scan:
    """Cut a text into tokens and find all phrases of the language and of English in it."""
    tokens, folded = tokenise(text, lexicon)
    tokens = _hyphens(tokens)
    words: list[Word] = [(t.key if t.kind not in ("comma", "sign") else "", t.symbols) for t in tokens]
    found: list[Found] = []
    for automaton, seen in zip(lexicon.automata, _as_seen(words, tokens, lexicon), strict=False):
        found += automaton.find(seen)
    found.sort()
    starting: dict[int, dict[str, int]] = {}
    ending: dict[int, dict[str, int]] = {}
    for start, end, label in found:
        begun = starting.setdefault(start, {})
        begun[label] = max(end, begun.get(label, 0))
        ended = ending.setdefault(end, {})
        ended[label] = min(start, ended.get(label, start))
    return Scan(tokens, found, starting, ending, folded)


def _as_seen(words: list[Word], tokens: list[Token], lexicon: Lexicon) -> tuple[list[Word], list[Word]]:
    """The words as the language itself sees them, and as English does, which may not know some of them.

    'bukhar me hai': here 'me' is Hindi. Beside a word that is only English ('call me now') it is English.
    """
    hidden = [i for i, t in enumerate(tokens) if t.text in lexicon.not_english and t.kind == "word"]
    if not hidden or lexicon.fallback is None:
        return words, words
    own, english = words.copy(), words.copy()
    for i in hidden:
        beside = [tokens[n].text for n in (i - 1, i + 1) if 0 <= n < len(tokens)]
        if not any(w in lexicon.fallback.symbols and w not in lexicon.own_words for w in beside):
            own[i] = (_OWN + tokens[i].text, lexicon.not_english[tokens[i].text])
            english[i] = (UNKNOWN, ())
    return own, english


def _hyphens(tokens: list[Token]) -> list[Token]:
    """A hyphen inside a word vanishes, one between words is a comma, one beside a number stays a sign."""
    result: list[Token] = []
    for i, token in enumerate(tokens):
        if token.kind == "sign" and token.text == "-":
            before = tokens[i - 1] if i else None
            after = tokens[i + 1] if i + 1 < len(tokens) else None
            worded = [t is not None and t.kind == "word" and t.value is None for t in (before, after)]
            if any(worded):
                if token.spaced or before is None or after is None or after.spaced:
                    token.kind = "comma"
                elif all(worded):
                    continue
            elif before and after and before.kind == after.kind == "word" and not token.spaced:
                continue  # twenty-five
        result.append(token)
    return result

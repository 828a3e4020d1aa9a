"""One word, number or sign of a text."""

from dataclasses import dataclass

UNKNOWN = "\0"


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

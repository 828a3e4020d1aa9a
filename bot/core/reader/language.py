"""Does she ask for another language? Her text and how it was read go in, a language comes out."""

from collections.abc import Mapping

from bot.core.reader.lexicon import Lexicon
from bot.core.reader.scan import scan
from bot.core.reader.text import fold_words
from bot.core.reader.types import Intent, Reading

_MOST_WORDS = 6
_DENIES = frozenset({"frame.not", "frame.no", "answers.no", "answers.plain_no"})


def folded_names(names: Mapping[str, str]) -> Mapping[str, str]:
    """Give names of languages -> code as `wished_language` looks for them."""
    return {fold_words(name): code for name, code in names.items()}


def wished_language(text: str, reading: Reading, lexicon: Lexicon, names: Mapping[str, str]) -> str:
    """Give the language that a short text names, other than her own; empty where it says anything else.

    A text that answers, warns or denies is no wish: 'no english' may ask for it or refuse it, a person reads.

    lexicon  of her own language
    names    folded names of languages, in any language -> code
    """
    plain = reading.intent in (Intent.UNCLEAR, Intent.THANKS)
    if not plain or reading.answers or reading.danger_signs or len(text) > 100:
        return ""
    words = fold_words(text).split()
    if not 0 < len(words) <= _MOST_WORDS or any(f.label in _DENIES for f in scan(text, lexicon).found):
        return ""
    said = f" {' '.join(''.join(c for c in word if c.isalnum()) for word in words)} "
    named = {code for name, code in names.items() if f" {name} " in said} - {lexicon.language}
    return named.pop() if len(named) == 1 else ""

"""Reading replies: the text of one SMS and what was asked go in, a Reading comes out.

The way of a text: `text` folds it, `tokens` cuts it, `phrases` finds every phrase of the language,
`numbers` reads amounts, `signs` danger signs, `intents` wishes; `answers` gives amounts to questions,
`reading` decides.
"""

from bot.core.reader.lexicon import Lexicon, LexiconFile, Question, compile_lexicon
from bot.core.reader.reading import read
from bot.core.reader.types import RETRIABLE, Amount, Intent, Match, Reading, Reason

__all__ = [
    "RETRIABLE",
    "Amount",
    "Intent",
    "Lexicon",
    "LexiconFile",
    "Match",
    "Question",
    "Reading",
    "Reason",
    "compile_lexicon",
    "read",
]

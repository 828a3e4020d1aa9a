"""Wishes in a reply that are no answers: to stop, to start again, to be called; wrong number; a death."""

from dataclasses import dataclass
from typing import Literal

from bot.core.reader.lexicon import Lexicon
from bot.core.reader.phrases import Found
from bot.core.reader.scan import Scan

OptOut = Literal["no", "yes", "unsure"]


@dataclass(frozen=True, slots=True)
class Wishes:
    """What was found; the lists hold the phrases, for the matches."""

    bereaved: tuple[Found, ...]
    wrong_number: tuple[Found, ...]
    call_me: tuple[Found, ...]
    opt_out: OptOut
    opt_in: bool
    stop_words: tuple[Found, ...]


def wishes(scan: Scan, after_feeding_question: bool, lexicon: Lexicon) -> Wishes:
    """All wishes in a reply. A keyword must be the whole message, but for courtesy and 'messages'."""
    keyword, local = _keyword(scan, "opt_out", lexicon)
    sentences = _plain(scan, "intents.opt_out")
    unsure = _stated(scan, "intents.opt_out_unsure") + [
        f for f in _stated(scan, "intents.opt_out") if f not in sentences
    ]
    opt_out: OptOut = "no"
    if sentences:
        opt_out = "yes"  # it says that the messages are meant
    elif keyword and local and after_feeding_question:
        opt_out = "unsure"
    elif keyword:
        opt_out = "yes"
    elif unsure or _keyword_in_sentence(scan, lexicon):
        opt_out = "unsure"
    return Wishes(
        bereaved=tuple(_plain(scan, "intents.bereaved")),
        wrong_number=tuple(_plain(scan, "intents.wrong_number")),
        call_me=tuple(_plain(scan, "intents.call_me")),
        opt_out=opt_out,
        opt_in=_keyword(scan, "opt_in", lexicon)[0] or _back_again(scan),
        stop_words=(*sentences, *unsure),
    )


def _back_again(scan: Scan) -> bool:
    """Wants the messages again; not so 'no need for these messages again'."""
    denials = ("frame.no", "answers.plain_no")
    wanted = _plain(scan, "intents.opt_in")
    return any(all(scan.until(f.start, no) is None for no in denials) for f in wanted)


def _stated(scan: Scan, label: str) -> list[Found]:
    """Phrases of this label that no longer phrase of 'unless' covers and no negation precedes."""
    group, _, name = label.partition(".")
    harmless = scan.all(f"not_{group}.{name}")
    return [
        f
        for f in scan.all(label)
        if not any(h.start < f.end and f.start < h.end for h in harmless)
        and scan.until(f.start, "frame.not") is None
    ]


def _plain(scan: Scan, label: str) -> list[Found]:
    """Stated, and neither a condition nor a question whether."""
    result = []
    for f in _stated(scan, label):
        begin, end = scan.sentence(f.start)
        conditional = bool(scan.conditions(begin, f.start))
        asking = end < len(scan.tokens) and scan.tokens[end].text == "?" and label == "intents.opt_out"
        if not conditional and not (asking and scan.from_(begin, "frame.asks") is not None):
            result.append(f)
    return result


def _keyword(scan: Scan, which: str, lexicon: Lexicon) -> tuple[bool, bool]:
    """Whether the whole message is a keyword; and whether it is one of the local language only."""
    core = [i for i, t in enumerate(scan.tokens) if t.kind == "word" and not _courtesy(scan, i, which)]
    if not core or any(t.kind not in ("word", "stop", "comma") for t in scan.tokens):
        return False, False
    words = [scan.tokens[i].text for i in core]
    for form in {" ".join(words), words[0] if len(set(words)) == 1 else ""}:
        if lexicon.fallback and form in lexicon.fallback.keywords[which]:
            return True, False
        if form in lexicon.keywords[which]:
            return True, lexicon.fallback is not None
    return False, False


def _courtesy(scan: Scan, at: int, which: str) -> bool:
    """'please', 'thank you', 'the messages': may stand beside a keyword."""
    if scan.tokens[at].text in ("stop", "start"):
        return False
    return any(
        f.start <= at < f.end
        and f.label in ("thanks.courtesy", "keywords.beside", "thanks.thanks", "list.messages")
        for f in scan.found
    )


def _keyword_in_sentence(scan: Scan, lexicon: Lexicon) -> bool:
    """A keyword that is a whole sentence among others: '8. STOP'. Somebody asks what was meant."""
    words = lexicon.keywords["opt_out"] | (
        lexicon.fallback.keywords["opt_out"] if lexicon.fallback else frozenset()
    )
    alone = [
        t.text
        for i, t in enumerate(scan.tokens)
        if t.kind == "word"
        and (i == 0 or scan.tokens[i - 1].kind in ("stop", "comma"))
        and (i + 1 == len(scan.tokens) or scan.tokens[i + 1].kind in ("stop", "comma"))
    ]
    return any(w in words for w in alone)

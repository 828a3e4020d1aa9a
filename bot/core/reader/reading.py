"""The reading itself: scan the text, gather what each part found, decide.

`read` never raises on any text. A danger is looked for whatever question is open; what is not understood,
or goes beyond the answer, goes to a person.
"""

from collections.abc import Sequence

from bot.core.reader.answers import DANGER_QUESTIONS, Answered, answers
from bot.core.reader.intents import Wishes, wishes
from bot.core.reader.lexicon import Lexicon, Question
from bot.core.reader.numbers import Quantity, quantities
from bot.core.reader.phrases import Found
from bot.core.reader.scan import Scan, scan
from bot.core.reader.signs import DENIED, PRESENT, UNSURE, Dangers, dangers, harmless_in
from bot.core.reader.types import RETRIABLE, Amount, Intent, Match, Reading, Reason

_UNKNOWN_ALLOWED = 0  # words the lexicon does not know that an answer may bring along
_UNWELL = tuple(f"says.{question}.yes" for question in DANGER_QUESTIONS)
# What hides a word of danger in it, beside phrases that look like danger. What is said to a question of
# another kind hides none.
_WELL = tuple(f"says.{question}.no" for question in DANGER_QUESTIONS)
_BESIDE_AMOUNTS = ("amounts.", "nouns.", "units.", "dayparts.", "thanks.", "answers.", "frame.correction")
_MOST_LETTERS = 4_000  # a text is read to here; what lies beyond goes to a person


def read(text: str, asking: Sequence[str], age_days: int | None, lexicon: Lexicon) -> Reading:
    """Read one reply.

    asking    ids of the open questions in the order asked; empty when none
    age_days  the baby's age in days, where known; today no word is read differently by age
    """
    seen = scan(text[:_MOST_LETTERS], lexicon)
    asked = [lexicon.questions[a] for a in asking if a in lexicon.questions]
    amounts = quantities(seen, lexicon)
    subjects = {q.subject for q in asked if q.id != "worry"}
    open_about = subjects.pop() if len(subjects) == 1 else None
    risks = dangers(seen, amounts, open_about, frozenset(asking), lexicon)
    wanted = wishes(seen, any(q.feeding for q in asked), lexicon)
    given = answers(seen, amounts, asked, risks, lexicon)
    if wanted.bereaved or wanted.wrong_number:
        given = Answered()  # nothing else in such a reply is an answer of this mother
    _heard_word(seen, asked, given, lexicon)
    _practice(seen, asked, given)
    reasons = _reasons(seen, asked, amounts, risks, wanted, given)
    if len(text) > _MOST_LETTERS:
        reasons.add(Reason.OTHER_CONTENT)
    intent = _intent(seen, asked, risks, wanted, given, reasons)
    if intent is Intent.UNCLEAR and not reasons:
        reasons.add(Reason.NO_VALUE if _says_something(seen) and asked else Reason.UNCLEAR)
    given.notes.update(_manner(seen, given))
    signs = tuple(sorted({d.sign for d in risks.found if d.state == PRESENT and d.sign}))
    return Reading(
        intent=intent,
        answers=given.answers,
        danger_signs=signs,
        needs_person=bool(reasons),
        reasons=tuple(r for r in Reason if r in reasons),
        notes=tuple(sorted(given.notes)),
        matches=_matches(seen, risks, wanted, given),
    )


def _manner(seen: Scan, given: Answered) -> set[str]:
    """What the next step must know of how it was said: it takes an earlier text back, it holds a number."""
    notes = {"phone_number"} if any(t.kind == "phone" for t in seen.tokens) else set()
    if seen.from_(0, "frame.correction") is not None and given.answers:
        notes.add("amends")
    return notes


def _heard_word(seen: Scan, asked: Sequence[Question], given: Answered, lexicon: Lexicon) -> None:
    """A whole reply that sounds like a number ('ate', the letter O): a guess to be confirmed."""
    words = [t for t in seen.tokens if t.kind not in ("stop", "comma")]
    if (
        len(words) != 1
        or len(asked) != 1
        or asked[0].kind not in ("count", "scale")
        or asked[0].id in given.answers
    ):
        return
    value = lexicon.sounds_like.get(words[0].text)
    if value is not None:
        given.answers[asked[0].id] = Amount(value, value)
        given.reasons.add(Reason.UNSURE_WORD)


def _practice(seen: Scan, asked: Sequence[Question], given: Answered) -> None:
    """The bedside test counts whatever she answers."""
    for question in asked:
        if question.kind == "any" and question.id not in given.answers and seen.tokens:
            given.answers[question.id] = True


def _reasons(
    seen: Scan,
    asked: Sequence[Question],
    amounts: Sequence[Quantity],
    risks: Dangers,
    wanted: Wishes,
    given: Answered,
) -> set[Reason]:
    """Every ground on which a person must see this reply."""
    # Who asks for no more messages is not asked for a better number.
    reasons = given.reasons - RETRIABLE if wanted.opt_out == "yes" else set(given.reasons)
    states = {d.state for d in risks.found}
    checks = {
        Reason.DANGER_SIGN: any(d.state == PRESENT and d.sign for d in risks.found),
        Reason.DANGER_UNSURE: UNSURE in states
        or _yes_to_danger(given)
        or _worrying(seen, risks)
        or _says_unwell(seen, risks),
        Reason.FEVER_NO_SUBJECT: any(
            d.name == "fever" and d.state == PRESENT and not d.named for d in risks.found
        ),
        Reason.BEREAVED: bool(wanted.bereaved),
        Reason.WRONG_NUMBER: bool(wanted.wrong_number),
        Reason.CALL_ME: bool(wanted.call_me),
        Reason.OPT_OUT_UNSURE: wanted.opt_out == "unsure",
        Reason.OTHER_DAY: bool(seen.all("concern.other_day")) and not _practising(asked),
        Reason.OTHER_CONTENT: not _practising(asked)
        and (_beyond(seen, amounts, risks, wanted) or _other_food(seen, asked)),
    }
    reasons |= {reason for reason, holds in checks.items() if holds}
    return reasons


def _practising(asked: Sequence[Question]) -> bool:
    return any(q.kind == "any" for q in asked)


def _yes_to_danger(given: Answered) -> bool:
    return any(given.answers.get(q) is True for q in DANGER_QUESTIONS)


def _worrying(seen: Scan, risks: Dangers) -> bool:
    """A word of danger outside any phrase understood, not plainly negated."""
    handled = [(d.start, d.end) for d in risks.found]
    handled += _explained(seen)
    return any(
        not any(start <= f.start and f.end <= end for start, end in handled) and not _negated(seen, f)
        for f in seen.all("concern.danger")
    )


def _says_unwell(seen: Scan, risks: Dangers) -> bool:
    """'He is sick', 'not doing well': a yes to a question about dangers, whatever was asked."""
    well = _explained(seen) + [(d.start, d.end) for d in risks.found if d.state == DENIED]
    said = [f for label in _UNWELL for f in seen.all(label)]
    return any(
        not any(start <= f.start and f.end <= end for start, end in well) and not _negated(seen, f)
        for f in said
    )


def _explained(seen: Scan) -> list[tuple[int, int]]:
    """Places whose words of danger are understood to be harmless. A phrase that makes one danger harmless
    says so only where that danger is named: it does not hide other words of danger."""
    named: dict[str, list[Found]] = {}
    for f in seen.found:
        if f.label.startswith("sign."):
            named.setdefault(f.label[5:], []).append(f)
    said_well = [f for f in seen.found if f.label.startswith(_WELL)]
    return [
        (f.start, f.end)
        for f in harmless_in(seen) + said_well
        if not f.label.startswith("unless.")
        or any(g.start < f.end and f.start < g.end for g in named.get(f.label[7:], ()))
    ]


def _negated(seen: Scan, word: Found) -> bool:
    if any(
        (f.start <= word.start and word.end < f.end) or f.start == word.end
        for f in seen.all("frame.not_after")
    ):
        return True
    at = word.start
    for _ in range(4):
        if seen.until(at, "frame.not") is not None or seen.until(at, "answers.plain_no") is not None:
            return True
        begin = seen.until(at, "frame.transparent")
        if begin is None:
            return False
        at = begin
    return False


def _beyond(seen: Scan, amounts: Sequence[Quantity], risks: Dangers, wanted: Wishes) -> bool:
    """Content beyond an answer: a question, a word that asks for help, or too many words not known."""
    if wanted.opt_out == "yes" or wanted.opt_in:
        return False
    handled = [(f.start, f.end) for f in seen.found if f.label.startswith(("harmless.", "says."))]
    for f in seen.all("concern.content"):
        if not any(start <= f.start and f.end <= end for start, end in handled) and not _negated(seen, f):
            return True
    if _asks(seen):
        return True
    covered = {i for f in seen.found if not f.label.startswith("concern.") for i in range(f.start, f.end)}
    covered |= {i for q in amounts for i in range(q.start, q.end)} | risks.denials
    unknown = [i for i, t in enumerate(seen.tokens) if t.kind == "word" and i not in covered]
    return len(unknown) > _UNKNOWN_ALLOWED


def _other_food(seen: Scan, asked: Sequence[Question]) -> bool:
    """'8, and I gave him water': what was not asked about, and matters."""
    if any(q.id == "other_food" for q in asked):
        return False
    denied = seen.all("says.other_food.no")
    return any(
        f.end - f.start > 1
        and seen.has("list.food", f.start, f.end)
        and not _negated(seen, f)
        and not any(d.start < f.end and f.start < d.end for d in denied)
        for f in seen.all("says.other_food.yes")
    )


def _asks(seen: Scan) -> bool:
    """Her last sentence is a question of several words: not our own question quoted before an answer."""
    tokens = seen.tokens
    stops = [i for i, t in enumerate(tokens) if t.kind == "stop" and t.text == "?"]
    if not stops or stops[-1] != len(tokens) - 1:
        return False
    begin, end = seen.sentence(stops[-1] - 1 if stops[-1] else 0)
    words = [i for i in range(begin, end) if tokens[i].kind == "word" and tokens[i].value is None]
    if any(tokens[i].value is not None for i in range(begin, end)):  # '6 enough?', but not '8 times?'
        plain = [f for f in seen.found if f.label.startswith(_BESIDE_AMOUNTS)]
        words = [i for i in words if not any(f.start <= i < f.end for f in plain)]
        return bool(words)
    return len(words) >= 3


def _says_something(seen: Scan) -> bool:
    return any(f.label.startswith(("answers.", "thanks.", "nouns.")) for f in seen.found)


def _intent(
    seen: Scan,
    asked: Sequence[Question],
    risks: Dangers,
    wanted: Wishes,
    given: Answered,
    reasons: set[Reason],
) -> Intent:
    """The first that fits, in the order of precedence."""
    sign = Reason.DANGER_SIGN in reasons
    ladder = (
        (Intent.BEREAVED, bool(wanted.bereaved)),
        (Intent.WRONG_NUMBER, bool(wanted.wrong_number)),
        (Intent.OPT_OUT, wanted.opt_out == "yes"),
        (Intent.CALL_ME, bool(wanted.call_me) or (sign and not given.answers)),
        (Intent.OPT_IN, wanted.opt_in),
        (Intent.ANSWER, bool(given.answers)),
        (Intent.THANKS, not reasons and _only_courtesy(seen, asked)),
    )
    return next((intent for intent, holds in ladder if holds), Intent.UNCLEAR)


def _only_courtesy(seen: Scan, asked: Sequence[Question]) -> bool:
    said = [f for f in seen.found if f.label.startswith("thanks.")]
    covered = {i for f in said for i in range(f.start, f.end)}
    others = [i for i, t in enumerate(seen.tokens) if i not in covered and t.kind not in ("stop", "comma")]
    thanked = any(f.label == "thanks.thanks" for f in said)
    return len(others) <= 3 * thanked and (thanked or (bool(said) and not asked))


def _matches(seen: Scan, risks: Dangers, wanted: Wishes, given: Answered) -> tuple[Match, ...]:
    matches = list(given.matches)
    for d in risks.found:
        name = d.sign or d.name
        prefix = {PRESENT: "", DENIED: "not:", UNSURE: "maybe:"}[d.state]
        matches.append(seen.match(d.start, d.end, prefix + name))
    named = {"bereaved": wanted.bereaved, "wrong_number": wanted.wrong_number, "call_me": wanted.call_me}
    named["opt_out"] = wanted.stop_words
    matches += [seen.match(f.start, f.end, what) for what, found in named.items() for f in found]
    matches += [seen.match(f.start, f.end, "concern") for f in seen.all("concern.danger")]
    return tuple(sorted(set(matches), key=lambda m: (m.start, m.end, m.what)))

"""Short names, on the screens, of what mothers are asked and of what was seen. Ids come in, words go out."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache

from bot.content.lexicon import load_questions, load_signs
from bot.content.source import content_root
from bot.content.vocabulary import read_vocabulary
from bot.core.facts import FactSpec
from bot.core.reader import Intent, Reason
from bot.core.states import MessageState
from bot.web.fact_names import CHOICES, NAMES, NUMBERS, WORDS, YES_NO
from bot.web.formats import number
from bot.web.words import _, lazy

_ANSWERS = {
    "worry": lazy("Worried"),
    "feeds": lazy("Feeds"),
    "wet_nappies": lazy("Wet nappies"),
    "dirty_nappies": lazy("Dirty nappies"),
    "pain": lazy("Pain when feeding"),
    "other_food": lazy("Other food or drink"),
    "baby_danger": lazy("Danger sign of the baby"),
    "mother_danger": lazy("Danger sign of the mother"),
    "wound": lazy("Wound or stitches worse"),
    "expressing": lazy("Times she expressed milk"),
    "headache_or_sight": lazy("Bad headache or sight disturbed"),
    "review_coming": lazy("Comes to the review"),
    "practice": lazy("Practice text"),
}
_SIGNS = {
    "not_feeding": lazy("Can't, won't or stopped feeding"),
    "convulsions": lazy("A fit"),
    "fast_breathing": lazy("Breathes fast or with difficulty"),
    "chest_indrawing": lazy("Chest pulls in, grunts, blue lips"),
    "baby_hot": lazy("Hot, fever"),
    "baby_cold": lazy("Cold"),
    "lethargic": lazy("Hard to wake, floppy, hardly moves"),
    "jaundice": lazy("Yellow skin or eyes"),
    "cord_infected": lazy("Cord red, pus or smell"),
    "vomiting_all": lazy("Vomits everything, or green"),
    "blood_in_stool": lazy("Blood in the stool"),
    "no_urine": lazy("Passes no urine"),
    "heavy_bleeding": lazy("Heavy bleeding"),
    "mother_fits": lazy("Mother: a fit"),
    "severe_headache": lazy("Severe headache, sight disturbed"),
    "mother_fever": lazy("Mother: fever"),
    "belly_pain": lazy("Severe belly pain"),
    "mother_breathing": lazy("Mother: short of breath, chest pain, fainted"),
    "breast_infection": lazy("Breast red, hot, very painful"),
    "leg_pain": lazy("One leg painful, red or swollen"),
    "self_harm": lazy("Thoughts of harm"),
    "foul_discharge": lazy("Foul-smelling discharge"),
}
_ASSESSED = {
    "position_neck": lazy("Neck straight or a little back"),
    "position_turned": lazy("Turned to her"),
    "position_close": lazy("Close to her"),
    "position_supported": lazy("Whole body supported"),
    "attachment_chin": lazy("Chin touches the breast"),
    "attachment_mouth": lazy("Mouth wide open"),
    "attachment_lower_lip": lazy("Lower lip turned out"),
    "attachment_areola": lazy("More areola above than below"),
    "suckling": lazy("Suckling"),
}
_SEEN = {
    "yes": lazy("yes"),
    "no": lazy("no"),
    "not_seen": lazy("not seen"),
    "effective": lazy("effective"),
    "not_effective": lazy("not effective"),
    "not_at_all": lazy("not at all"),
}
_DELIVERY = {
    MessageState.queued: lazy("waits to be sent"),
    MessageState.sending: lazy("being sent"),
    MessageState.accepted: lazy("sent, not yet reported delivered"),
    MessageState.delivered: lazy("delivered"),
    MessageState.undelivered: lazy("NOT delivered"),
    MessageState.unknown: lazy("sent, never reported delivered"),
    MessageState.failed: lazy("NOT sent: refused"),
    MessageState.expired: lazy("NOT sent: its time ran out"),
    MessageState.cancelled: lazy("withdrawn before it was sent"),
}
_INTENTS = {
    Intent.BEREAVED: lazy("speaks of a death"),
    Intent.WRONG_NUMBER: lazy("says it is the wrong number"),
    Intent.OPT_OUT: lazy("wants no more texts"),
    Intent.CALL_ME: lazy("wants to talk"),
    Intent.OPT_IN: lazy("wants texts again"),
    Intent.ANSWER: lazy("an answer"),
    Intent.THANKS: lazy("thanks"),
    Intent.UNCLEAR: lazy("not understood"),
}
_REASONS = {
    Reason.DANGER_SIGN: lazy("names a danger sign"),
    Reason.DANGER_UNSURE: lazy("perhaps a danger sign"),
    Reason.CALL_ME: lazy("asks for a person"),
    Reason.WRONG_NUMBER: lazy("says the number is wrong"),
    Reason.BEREAVED: lazy("speaks of a death"),
    Reason.OPT_OUT_UNSURE: lazy("wants to stop, or the baby stopped feeding"),
    Reason.UNCLEAR: lazy("nothing in it was understood"),
    Reason.NO_VALUE: lazy("no number where one was asked"),
    Reason.VAGUE: lazy("an amount without a number"),
    Reason.DONT_KNOW: lazy("she does not know"),
    Reason.IMPOSSIBLE: lazy("a number that can't be"),
    Reason.SEVERAL_READINGS: lazy("could be two numbers"),
    Reason.UNSURE_WORD: lazy("a number guessed from a misspelt word"),
    Reason.OTHER_DAY: lazy("wants another day for the review"),
    Reason.OTHER_CONTENT: lazy("says more than was asked"),
    Reason.FEVER_NO_SUBJECT: lazy("a fever, but whose?"),
}

_ASKED_AS_SIGNS = frozenset({"baby_danger", "mother_danger", "headache_or_sight"})


@dataclass(frozen=True, slots=True)
class Asked:
    """A question, or another fact, as a field of a form."""

    key: str
    label: str
    kind: str  # count, scale (halves), number (decimals), choice or yes_no
    subject: str  # baby or mother
    most: float
    least: float = 0
    choices: tuple[tuple[str, str], ...] = ()  # of a choice: id and words, mild to grave


@cache
def _questions() -> Mapping[str, Asked]:
    """The questions that a counsellor may fill in, in the order in which they are usually asked."""
    known = load_questions(content_root() / "messages")
    return {
        key: Asked(key, words, question.kind, question.subject, question.max_plausible)
        for key, words in _ANSWERS.items()
        if (question := known.get(key)) is not None and question.kind != "any"
    }


@cache
def _sign_subjects() -> Mapping[str, str]:
    return {key: sign.subject for key, sign in load_signs(content_root() / "messages").items()}


def askable(subject: str) -> list[Asked]:
    """Give the questions about the baby or the mother; the ones about danger are asked as signs."""
    return [
        replace(each, label=_(each.label))
        for each in _questions().values()
        if each.subject == subject and each.key not in _ASKED_AS_SIGNS
    ]


@cache
def _facts() -> Mapping[str, FactSpec]:
    facts = (content_root() / "messages" / "facts.toml").read_text("utf-8")
    return read_vocabulary(tomllib.loads(facts))[0].facts


def exact(subject: str) -> list[Asked]:
    """Give what a counsellor may hear more exactly than mothers are asked: numbers and choices."""
    return [_exact(spec) for key in (*NUMBERS, *CHOICES) if (spec := _facts()[key]).subject == subject]


def _exact(spec: FactSpec) -> Asked:
    kind = "choice" if spec.values else "count" if spec.whole else "number"
    choices = tuple((value, _(WORDS[value])) for value in spec.values)
    return Asked(
        spec.id, answer_label(spec.id), kind, spec.subject, spec.highest or 0, spec.lowest or 0, choices
    )


def more_signs(subject: str) -> list[tuple[str, str]]:
    """Give what else may be wrong with the baby or the mother, with its words."""
    return [(key, answer_label(key)) for key in YES_NO if _facts()[key].subject == subject]


def signs(subject: str) -> list[tuple[str, str]]:
    """Give the danger signs of the baby or the mother, with their words."""
    return [(key, answer_label(key)) for key, whose in _sign_subjects().items() if whose == subject]


def is_yes_no(key: str) -> bool:
    """Tell whether an answer under this key is yes or no: a question of that kind, a sign, or what nobody is
    asked about but a counsellor hears or looks for."""
    question = _questions().get(key)
    return question.kind == "yes_no" if question else key in YES_NO or key in _sign_subjects()


def most(key: str) -> float:
    """Give the most that is plausible as an answer to a question."""
    return _questions()[key].most


def is_sign(key: str) -> bool:
    """Tell whether the name says it all: nothing follows it but a yes."""
    return key in _sign_subjects() or (key in YES_NO and key != "thrush")


def is_labelled(key: str) -> bool:
    """Tell whether a question, a danger sign or another fact has a name of its own on the screens."""
    return key in _ANSWERS or key in _SIGNS or key in NAMES


def answer_label(key: str) -> str:
    """Name a question, a danger sign or another fact."""
    return _(_ANSWERS.get(key) or _SIGNS.get(key) or NAMES.get(key) or key.replace("_", " "))


def seen_label(sign: str, seen: str) -> tuple[str, str]:
    """Name a sign of a feeding assessment and what was seen."""
    return _(_ASSESSED.get(sign, sign)), _(_SEEN.get(seen, seen))


def delivery_words(state: MessageState) -> str:
    """Say what became of a text."""
    return _(_DELIVERY[state])


def intent_words(intent: str) -> str:
    """Say what a reply wants."""
    return _(_INTENTS.get(Intent(intent), intent)) if intent in set(Intent) else intent


def reason_words(reason: str) -> str:
    """Say why a person must see a reply."""
    return _(_REASONS.get(Reason(reason), reason)) if reason in set(Reason) else reason


def amount(low: float | None, high: float | None) -> str:
    """Write an amount: '5', '8 to 10', '8 or more', 'at most 5'."""
    if low is None and high is None:
        return _("no number")
    if low is None:
        return _("at most %(n)s", n=number(high or 0))
    if high is None:
        return _("%(n)s or more", n=number(low))
    if low == high:
        return number(low)
    return _("%(low)s to %(high)s", low=number(low), high=number(high))


def value_words(key: str, low: float | None, high: float | None) -> str:
    """Write an answer: yes, no, a choice or an amount."""
    if key in CHOICES and low:
        return _(WORDS[_facts()[key].values[int(low) - 1]])
    if is_yes_no(key):
        return _("yes") if low else _("no")
    return amount(low, high)

"""What she said on the phone: the fields of the form come in, `EnterAnswers` go out, or every fault at once.

Fields are named `q.BABY.KEY` with BABY 0 for the mother or an only baby. Signs come as lists
`sign.BABY.SUBJECT`, what else may be wrong as `more.BABY.SUBJECT`; `none.BABY.SUBJECT` says that the danger
signs were asked for and none was there.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from uuid import UUID

from werkzeug.datastructures import MultiDict

from bot.core.errors import Invalid, Problem
from bot.core.follow.events import EnterAnswers
from bot.core.pair import Pair
from bot.web.formats import number
from bot.web.labels import Asked, askable, exact, more_signs, signs
from bot.web.words import _

Amount = tuple[float | None, float | None]
_NUMBER = r"\d+(?:\.\d+)?"
_WRITTEN = re.compile(rf"(?P<low>{_NUMBER})\s*(?:(?:-|–|to)\s*(?P<high>{_NUMBER})|(?P<open>\+))?")
_DIGITS = str.maketrans("٠١٢٣٤٥٦٧٨٩٫,", "0123456789..")
_STEPS = {"count": 1, "scale": 2}  # in how many steps a whole is told; other numbers have decimals
_AGAIN = timedelta(minutes=10)  # the same answers so soon after are a doubled click, not a second call
YES, NO = (1.0, 1.0), (0.0, 0.0)


def entered(pair: Pair, form: MultiDict[str, str]) -> list[EnterAnswers]:
    """Read the form: one group for each baby of several, and one for the mother (or everybody)."""
    problems: list[Problem] = []
    several = len(pair.living) > 1
    groups: list[EnterAnswers] = []
    for baby in pair.living if several else ():
        answers, found = _group(form, baby.ordinal, "baby", problems)
        groups.append(EnterAnswers(answers, found, baby.ordinal))
    answers, found = _group(form, 0, "mother", problems)
    if not several:
        also, more = _group(form, 0, "baby", problems)
        answers, found = {**also, **answers}, found | more
    groups.append(EnterAnswers(answers, found, None))
    told = [group for group in groups if group.answers or group.signs]
    if not told and not problems:
        problems.append(Problem("said", _("Enter at least one thing that she said.")))
    if problems:
        raise Invalid(problems)
    return told


def _group(
    form: MultiDict[str, str], baby: int, subject: str, problems: list[Problem]
) -> tuple[dict[str, Amount], frozenset[str]]:
    answers: dict[str, Amount] = {}
    for question in (*askable(subject), *exact(subject)):
        field = f"q.{baby}.{question.key}"
        try:
            value = _value(question, form.get(field, "").strip())
        except ValueError as error:
            problems.append(Problem(field, f"{question.label}: {error}"))
            continue
        if value is not None:
            answers[question.key] = value
    field = f"sign.{baby}.{subject}"
    known = dict(signs(subject))
    found = frozenset(sign for sign in form.getlist(field) if sign in known)
    if form.get(f"none.{baby}.{subject}"):
        if found:
            problems.append(Problem(field, _("Signs are ticked, and 'none of these' too. Take one away.")))
        answers[f"{subject}_danger"] = NO
    also = dict(more_signs(subject))
    return answers, found | {sign for sign in form.getlist(f"more.{baby}.{subject}") if sign in also}


def _value(question: Asked, text: str) -> Amount | None:
    """Read one field; None when it was left empty. Raise ValueError with what is wrong with it."""
    if not text:
        return None
    if question.kind == "yes_no":
        return {"yes": YES, "no": NO}.get(text)
    if question.kind == "choice":
        places = {value: float(place) for place, (value, _words) in enumerate(question.choices, 1)}
        return (places[text], places[text]) if text in places else None
    written = _WRITTEN.fullmatch(text.translate(_DIGITS))
    if written is None:
        raise ValueError(_("write a number, such as 8, or 8-10, or 8+."))
    low = float(written["low"])
    high = None if written["open"] else float(written["high"] or low)
    steps = _STEPS.get(question.kind)
    if steps and any(v is not None and v * steps % 1 for v in (low, high)):
        raise ValueError(
            _("write a whole number.") if steps == 1 else _("write a number, such as 8, or 8-10, or 8+.")
        )
    if high is not None and high < low:
        raise ValueError(_("the first number is larger than the second."))
    if max(low, high or low) > question.most:
        raise ValueError(_("at most %(n)s can be true.", n=number(question.most)))
    if low < question.least:
        raise ValueError(_("less than %(n)s can't be true.", n=number(question.least)))
    return low, high


def is_repeat(pair: Pair, told: Sequence[EnterAnswers], by: UUID, now: datetime) -> bool:
    """Tell whether the same person entered just the same a moment ago: a repeated POST adds nothing."""
    standing = {
        (a.key, a.baby): (a.low, a.high)
        for a in pair.answers
        if a.by == by and a.superseded_by is None and now - a.at < _AGAIN
    }
    return all(
        standing.get((key, group.baby)) == value for group in told for key, value in _all(group).items()
    )


def _all(group: EnterAnswers) -> Mapping[str, Amount]:
    return {**group.answers, **dict.fromkeys(group.signs, YES)}

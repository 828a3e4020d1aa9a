"""A pair's story by day of life: everything that was said, seen and done hangs on one axis of days.

A `CaseFile` comes in; days, newest first, with their entries in the order in which they happened, go out.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from uuid import UUID

from bot.content.guides import guides
from bot.core.follow import Content
from bot.core.follow.events import CLOSED_REASONS
from bot.core.pair import Answer, Assessment, Baby, Escalation, Finding, Pair
from bot.core.states import MessageState, QuestionState, ReviewState
from bot.steps.text_reviews import Reviews
from bot.store.views_case import CaseFile, Received, Sent
from bot.web.chase_words import steps as reaching
from bot.web.formats import urgency_word
from bot.web.labels import (
    answer_label,
    delivery_words,
    is_sign,
    seen_label,
    value_words,
)
from bot.web.read_back import Piece, for_a_person, pieces, understood
from bot.web.reasons import why
from bot.web.review_words import review_words
from bot.web.way import Step, woken_words
from bot.web.way_words import OUTCOME_WORDS
from bot.web.words import _

_TROUBLE = frozenset({MessageState.undelivered, MessageState.failed, MessageState.expired})


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing that happened. `kind`: hers, ours, told, seen, visit or step; `lines` explain it; `reply` is
    the id of her text."""

    at: datetime
    kind: str
    title: str
    text: str = ""
    pieces: tuple[Piece, ...] = ()
    lines: tuple[str, ...] = ()
    trouble: bool = False
    reply: UUID | None = None


@dataclass(frozen=True, slots=True)
class Day:
    """A day of life: 0 is the day of birth; before it nothing hangs."""

    n: int
    on: date
    entries: tuple[Entry, ...] = field(default=())


def story(case: CaseFile, content: Content, staff: Mapping[UUID, str], reviews: Reviews) -> list[Day]:
    """Give the days on which something happened, newest first. Texts that nobody has reviewed say so."""
    pair = case.pair
    born = pair.youngest.born_on
    by_day: dict[date, list[Entry]] = defaultdict(list)
    for entry in _entries(case, content, staff, reviews):
        by_day[pair.local(entry.at).date()].append(entry)
    return [
        Day((on - born).days, on, tuple(sorted(entries, key=lambda entry: entry.at)))
        for on, entries in sorted(by_day.items(), reverse=True)
    ]


def _entries(
    case: CaseFile, content: Content, staff: Mapping[UUID, str], reviews: Reviews
) -> Iterator[Entry]:
    pair = case.pair
    yield from _births(pair)
    yield Entry(pair.discharged_at, "step", _("Discharged from %(site)s", site=pair.site.name))
    yield from (_received(reply) for reply in case.received)
    yield from (_sent(text, reviews) for text in case.sent if text.state is not MessageState.queued)
    yield from _told_on_the_phone(pair, staff)
    yield from (_assessment(pair, each) for each in pair.assessments)
    yield from _reviews(pair)
    yield from _escalations(pair, content, staff)
    yield from _episodes(pair, staff)
    yield from (Entry(step.at, "step", step.words, trouble=step.trouble) for step in _woken(case))
    yield from (Entry(step.at, "step", step.words, trouble=step.trouble) for step in reaching(pair))
    yield from _silences(pair)


def _births(pair: Pair) -> Iterator[Entry]:
    for baby in pair.babies:
        at = baby.born_at or datetime.combine(baby.born_on, time(0), pair.tz)
        weight = (
            _("%(g)s g at birth", g=baby.birth_weight_g)
            if baby.birth_weight_g
            else _("birth weight not known")
        )
        hour = () if baby.born_at else (_("hour of birth not known"),)
        yield Entry(
            at, "step", _("%(name)s was born", name=baby_name(pair, baby.ordinal)), lines=(weight, *hour)
        )


def _received(reply: Received) -> Entry:
    result = reply.result
    if result is None:
        waits = _("not read yet") if reply.state.value == "stored" else _("the program could not read this")
        return Entry(
            reply.at,
            "hers",
            _("She wrote"),
            pieces=(Piece(reply.text),),
            lines=(waits,),
            trouble=True,
            reply=reply.id,
        )
    lines = [_("Read as: %(words)s", words=understood(result, reply.intent))]
    if why_seen := for_a_person(result):
        lines.append(_("A person must see it: %(why)s", why=why_seen))
    return Entry(
        reply.at,
        "hers",
        _("She wrote"),
        pieces=pieces(reply.text, result["matches"]),
        lines=tuple(lines),
        trouble=bool(result["danger_signs"]),
        reply=reply.id,
    )


def _sent(sent: Sent, reviews: Reviews) -> Entry:
    own = sent.text_key == "own-words"
    lines = [delivery_words(sent.state)]
    if not own and not (review := reviews(sent.text_key, sent.language)).is_signed:
        lines.append(review_words(review, sent.language))
    return Entry(
        sent.sent_at or sent.send_after,
        "ours",
        _("A counsellor wrote") if own else _("Text"),
        text=sent.text or f"[{sent.text_key}]",
        lines=(" · ".join(lines),),
        trouble=sent.state in _TROUBLE,
    )


def _told_on_the_phone(pair: Pair, staff: Mapping[UUID, str]) -> Iterator[Entry]:
    """Answers that staff entered, one entry for each time they did; those of a review stand with it."""
    reviewed = {seen.at for seen in pair.assessments}
    by_time: dict[tuple[datetime, UUID], list[Answer]] = defaultdict(list)
    for answer in pair.answers:
        if answer.by is not None and answer.at not in reviewed:
            by_time[answer.at, answer.by].append(answer)
    for (at, by), answers in by_time.items():
        lines = tuple(_answer_line(pair, answer) for answer in answers)
        yield Entry(
            at, "told", _("%(name)s entered what she said", name=staff.get(by, _("A colleague"))), lines=lines
        )


def _answer_line(pair: Pair, answer: Answer) -> str:
    about = f"{baby_name(pair, answer.baby)}: " if answer.baby and len(pair.babies) > 1 else ""
    words = answer_label(answer.key)
    if not is_sign(answer.key):
        words += f": {value_words(answer.key, answer.low, answer.high)}"
    corrected = f" ({_('corrected later')})" if answer.superseded_by else ""
    return about + words + corrected


def _assessment(pair: Pair, seen: Assessment) -> Entry:
    lines = [f"{label}: {words}" for label, words in (seen_label(*each) for each in _poor(seen))]
    if not lines and seen.signs:
        lines = [_("position, attachment and suckling good, as far as seen")]
    weight = weight_words(pair, seen)
    if weight:
        lines.insert(0, weight)
    lines += [
        f"{answer_label(answer.key)}: {value_words(answer.key, answer.low, answer.high)}"
        for answer in pair.answers
        if answer.by is not None and (answer.at, answer.baby) == (seen.at, seen.baby)
    ]
    occasion = (
        _("Feeding seen at the review") if seen.occasion == "review" else _("Feeding seen at discharge")
    )
    name = f" · {baby_name(pair, seen.baby)}" if len(pair.babies) > 1 else ""
    return Entry(seen.at, "seen", occasion + name, lines=tuple(lines))


def _poor(seen: Assessment) -> list[tuple[str, str]]:
    return [(sign, value) for sign, value in seen.signs.items() if value not in ("yes", "effective")]


def weight_words(pair: Pair, seen: Assessment) -> str:
    """Write a weight with its change since birth in per cent."""
    if seen.weight_g is None:
        return ""
    baby = next(each for each in pair.babies if each.ordinal == seen.baby)
    change = weight_change(baby, seen.weight_g)
    grams = _("%(g)s g", g=seen.weight_g)
    return grams if change is None else _("%(g)s, %(change)s since birth", g=grams, change=f"{change:+.1f} %")


def weight_change(baby: Baby, grams: int) -> float | None:
    """Give the change since birth in per cent of the birth weight; None when that is not known."""
    return None if not baby.birth_weight_g else 100 * (grams - baby.birth_weight_g) / baby.birth_weight_g


def _reviews(pair: Pair) -> Iterator[Entry]:
    for review in pair.reviews:
        on = datetime.combine(review.on_day, review.at or pair.site.opens, pair.tz)
        if review.state is ReviewState.attended:
            yield Entry(on, "visit", _("Came to the review"), text=review.note)
        elif review.state is ReviewState.missed:
            yield Entry(on, "visit", _("Did not come to the review"), text=review.note, trouble=True)


def _escalations(pair: Pair, content: Content, staff: Mapping[UUID, str]) -> Iterator[Entry]:
    for item in pair.escalations:
        for at in sorted({finding.first_at for finding in item.findings}):
            found = [finding for finding in item.findings if finding.first_at == at]
            gravest = urgency_word(max(finding.urgency for finding in found))
            lines = tuple(_finding(finding, content) for finding in found)
            yield Entry(at, "step", _("In the inbox: %(urgency)s", urgency=gravest), lines=lines)
        if item.spoken_at is not None:
            name = staff.get(item.taken_by, "") if item.taken_by else ""
            title = _("%(name)s spoke to her", name=name) if name else _("She was spoken to")
            yield Entry(item.spoken_at, "step", title)
        if item.closed_at is not None:
            yield Entry(
                item.closed_at, "step", _("Closed: %(found)s", found=_found(item)), text=item.note or ""
            )


def _finding(finding: Finding, content: Content) -> str:
    back = f" ({_('taken back')})" if finding.withdrawn_by else ""
    return why(content, finding.rule).words + back


def _found(item: Escalation) -> str:
    return _(CLOSED_REASONS.get(item.disposition) or guides().found_words(item.disposition))


def _episodes(pair: Pair, staff: Mapping[UUID, str]) -> Iterator[Entry]:
    """How each danger ended, and what was learned on the way."""
    for episode in pair.episodes:
        if episode.arrived_at is not None:
            yield Entry(episode.arrived_at, "step", _("Arrived at %(place)s", place=episode.place))
        if episode.closed_at is not None:
            outcome = _(OUTCOME_WORDS[episode.outcome])
            name = staff.get(episode.closed_by, _("A colleague")) if episode.closed_by else ""
            yield Entry(
                episode.closed_at, "step", _("The danger ended: %(outcome)s", outcome=outcome), lines=(name,)
            )


def _woken(case: CaseFile) -> Iterator[Step]:
    """Who was woken: what was not sent, because somebody had it by then, is left out."""
    sent = (each for each in case.woken if each.sent_at is not None)
    return (woken_words(each, case.pair) for each in sent)


def _silences(pair: Pair) -> Iterator[Entry]:
    for check_in in pair.check_ins:
        expired = [q for q in check_in.questions if q.state is QuestionState.expired and q.asked_at]
        if expired:
            words = ", ".join(answer_label(question.key) for question in expired)
            title = _("No answer came: %(words)s", words=words)
            yield Entry(check_in.expires_at - timedelta(seconds=1), "step", title)


def baby_name(pair: Pair, ordinal: int) -> str:
    """Name a baby, by its number where it has no name yet."""
    baby = next((each for each in pair.babies if each.ordinal == ordinal), None)
    if baby is not None and baby.name:
        return baby.name
    return _("baby %(n)s", n=ordinal) if len(pair.babies) > 1 else _("the baby")

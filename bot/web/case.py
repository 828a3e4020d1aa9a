"""The case: what do I ask, and why? A strip with who and how to reach them, the call, the story by day."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4
from zlib import crc32

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from bot.content.factory import load_factory
from bot.content.guides import Guide, guides
from bot.core.follow import Content
from bot.core.pair import Escalation, Finding, Pair
from bot.core.plan import next_contact
from bot.core.states import EscalationState, MessageState, Urgency
from bot.steps.text_reviews import Reviews, text_reviews
from bot.store.accounts import colleagues
from bot.store.record import note_opened
from bot.store.sites import all_sites
from bot.store.views_case import CaseFile, case_file
from bot.store.views_record import Entry, entries_of
from bot.web.case_words import ENDS, REASONS, STATES, TEXTING, facts
from bot.web.chart import chart
from bot.web.chase_words import DONE_WORDS, GROUND_WORDS
from bot.web.formats import age_words, day, due_words, moment, urgency_mark
from bot.web.judged import facts_behind, newest
from bot.web.labels import askable, exact, more_signs, signs
from bot.web.language_names import tag_words, tags
from bot.web.parts import parts
from bot.web.reasons import Why, why
from bot.web.record_words import ADVERSE_WORDS, SOURCE_WORDS
from bot.web.security import viewer
from bot.web.story import baby_name, story
from bot.web.way import later, way
from bot.web.way_words import GOING, HINDRANCE_WORDS, OUTCOME_WORDS
from bot.web.words import _, direction, language

pages = Blueprint("case", __name__)

DAYS_OFFERED = 14
CHECK_HOLDS = timedelta(hours=1)  # somebody else may have the phone by then; common practice, no source


@dataclass(frozen=True, slots=True)
class Reason:
    """A finding of the open item, with the rule's own account of it."""

    finding: Finding
    why: Why
    about: str
    words: str  # hers, where a reply brought it
    facts: tuple[str, ...]  # by which the rule was met


@pages.get("/pairs/<uuid:pair_id>")
def page(pair_id: UUID) -> str:
    """Show the case. Who opened it is kept."""
    shown = show(pair_id)
    with parts().store.write() as conn:
        note_opened(conn, pair_id, viewer().person_id, parts().clock.now())
    return shown


def show(pair_id: UUID, **given: Any) -> str:
    """Render the case; `given` puts back what a refused form held, and its faults."""
    now, content = parts().clock.now(), parts().content()
    with parts().store.read() as conn:
        case = case_file(conn, viewer(), pair_id)
        staff = colleagues(conn, viewer(), case.pair.site.id)
        sites = {str(each.id): each.name for each in all_sites(conn)}
        entries = entries_of(conn, viewer(), pair_id)
        reviews = text_reviews(conn, load_factory().texts)
    context = _context(case, content, staff, sites, reviews, now) | _record(entries)
    return render_template("case.html", **(context | given))


def _record(entries: list[Entry]) -> dict[str, Any]:
    return {
        "adverse": [(entry, _(ADVERSE_WORDS[entry.kind])) for entry in entries],
        "sources": [(code, _(words)) for code, words in SOURCE_WORDS.items()],
    }


def done(pair_id: UUID, words: str, kind: str = "message") -> ResponseReturnValue:
    """Say what was done and lead back to the case, so that loading the page again repeats nothing."""
    flash(words, kind)
    return redirect(url_for("case.page", pair_id=pair_id), 303)


def seen_stamp(item: Escalation | None) -> str:
    """Give a stamp of what a person saw of an item; it changes when a finding joins or gets graver."""
    if item is None:
        return ""
    return str(
        crc32(repr([item.id, item.urgency, *((f.rule, f.baby, f.count) for f in item.findings)]).encode())
    )


def _context(
    case: CaseFile,
    content: Content,
    staff: Mapping[UUID, str],
    sites: Mapping[str, str],
    reviews: Reviews,
    now: datetime,
) -> dict[str, Any]:
    pair, item = case.pair, case.pair.open_escalation
    content = content.at(pair.site.code)
    reasons = _reasons(case, content, item)
    flipped = direction(language()) == "rtl"
    drawn = [chart(pair, baby, content.rules, now, flipped=flipped) for baby in pair.living or pair.babies]
    return {
        "pair": pair,
        "her_tags": tags(),
        "her_tag": pair.mother.reads if pair.mother.reads in tags() else pair.mother.language,
        "other_sites": [(key, name) for key, name in sites.items() if key != str(pair.site.id)],
        "offered_name": sites.get(str(pair.offered_to), ""),
        "me": viewer().staff_id,
        "ages": [
            (baby_name(pair, b.ordinal), age_words(b, now, pair.tz)) for b in pair.living or pair.babies
        ],
        "item": item,
        "mark": urgency_mark(item.urgency) if item else "",
        "due": due_words(item.due_at, now) if item and item.spoken_at is None else "",
        "late": item is not None and item.spoken_at is None and item.due_at < now,
        "mine": item is not None and item.taken_by == viewer().staff_id,
        "holder": staff.get(item.taken_by, _("a colleague")) if item and item.taken_by else "",
        "colleagues": [(str(key), name) for key, name in staff.items() if key != viewer().staff_id],
        "reasons": reasons,
        "ask_first": [reason.why.ask for reason in reasons if reason.why.ask],
        "guide": _guide(content, reasons),
        "seen": seen_stamp(item),
        "key": uuid4().hex,
        "way": (on_way := way(case)),
        "going_words": [(state.value, _(GOING[state])) for state in on_way.learned] if on_way else [],
        "hindrances": [(code, _(words)) for code, words in HINDRANCE_WORDS.items()],
        "outcomes": [(code, _(words)) for code, words in OUTCOME_WORDS.items()],
        **_line(case, staff, now),
        "asked_over": item is not None and item.offered_to == viewer().staff_id,
        "offered_over": staff.get(item.offered_to, _("a colleague")) if item and item.offered_to else "",
        "laters": [(code, moment(at, pair.tz)) for code, at in later(now, pair)],
        "state_words": _(STATES[pair.state]),
        "texting_words": _(TEXTING[pair.mother.texting]),
        "days": story(case, content, staff, reviews),
        "charts": [one for one in drawn if one is not None],
        "judged": newest(pair, case.judgements, content),
        "waiting_texts": [text for text in case.sent if text.state is MessageState.queued],
        "next_contact": next_contact(pair, content.schedule, now) if pair.can_text() else None,
        "about_baby": askable("baby"),
        "about_mother": askable("mother"),
        "exact": exact,
        "more_signs": more_signs,
        "baby_signs": signs("baby"),
        "mother_signs": signs("mother"),
        "ends": [(code, _(words)) for code, words in ENDS.items()],
        "urgencies": [
            (Urgency.go_now.name, _("Go now")),
            (Urgency.same_day.name, _("Today")),
            (Urgency.routine.name, _("Soon")),
        ],
        "reasons_of": REASONS,
        "refused": "",
        "offered": [(on.isoformat(), day(on)) for on in _open_days(pair, now)],
        "living": [(str(b.ordinal), baby_name(pair, b.ordinal)) for b in pair.living],
        "her_language": tag_words(pair.mother.language),
        "facts": facts(pair),
        "baby_name": baby_name,
        "tz": pair.tz,
        "now": now,
        "answers": {},
        "faults": {},
        "text": "",
        "counted": None,
    }


def _line(case: CaseFile, staff: Mapping[UUID, str], now: datetime) -> dict[str, Any]:
    """Who is on the line: whether somebody made sure of late, and what a call came to that failed."""
    chase = case.pair.open_chase
    checks = (each for each in case.happenings if each.what == "identity" and each.at > now - CHECK_HOLDS)
    checked = max(checks, key=lambda each: each.at, default=None)
    names = {str(key): name for key, name in staff.items()}
    return {
        "listed": _(GROUND_WORDS[chase.ground]) if chase else "",
        "checked_at": checked.at if checked else None,
        "checked_by": names.get(checked.actor, _("A colleague")) if checked else "",
        "failed_calls": [
            (result, _(words)) for (kind, result), words in DONE_WORDS.items()
            if kind == "call" and result != "reached"
        ],
    }  # fmt: skip


def _reasons(case: CaseFile, content: Content, item: Escalation | None) -> list[Reason]:
    words = {reply.id: reply.text for reply in case.received}
    standing = [f for f in item.findings if f.withdrawn_by is None] if item else []
    return [
        Reason(
            finding,
            why(content, finding.rule),
            baby_name(case.pair, finding.baby) if finding.baby and len(case.pair.babies) > 1 else "",
            words.get(finding.inbound, "") if finding.inbound else "",
            facts_behind(finding, case.judgements, content),
        )
        for finding in sorted(standing, key=lambda f: (-f.urgency, -f.last_at.timestamp()))
    ]


def _guide(content: Content, reasons: list[Reason]) -> Guide:
    """The guide for the finding that leads; without one, the guide for any call."""
    if not reasons:
        return guides().all[-1]
    lead = reasons[0].finding
    ladder = next((rule.ladder for rule in content.rules.rules if rule.id == lead.rule), lead.rule)
    return guides().for_finding((lead.rule, ladder), lead.urgency)


def _open_days(pair: Pair, now: datetime) -> list[date]:
    today = pair.local(now).date()
    days = (today + timedelta(days=n) for n in range(DAYS_OFFERED))
    return [each for each in days if pair.site.is_open(each)]


def is_waiting(pair: Pair) -> bool:
    """Tell whether nobody has taken the pair's open item."""
    item = pair.open_escalation
    return item is not None and item.state is EscalationState.waiting

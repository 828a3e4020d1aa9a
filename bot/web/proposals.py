"""Words for the reader: a counsellor proposes some out of a reply, a lead approves or refuses, and what holds
can be taken out again."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from bot.content.local_words import LocalWord
from bot.core.errors import DunnockError, Invalid, Problem
from bot.steps import words as steps
from bot.store.accounts import sites_of
from bot.store.viewer import Role
from bot.store.words import Proposal, decided_proposals, open_proposals, staff_names
from bot.web import meanings
from bot.web.language_names import languages, tag_words
from bot.web.parts import parts
from bot.web.read_back import Piece, pieces, understood
from bot.web.security import needs, viewer
from bot.web.words import _

pages = Blueprint("proposals", __name__)


@dataclass(frozen=True, slots=True)
class Row:
    """A proposal in words. `pair` leads to the case it comes from."""

    id: UUID
    pair: UUID
    language: str
    phrase: str
    means: str
    chosen: tuple[str, str]
    who: str
    at: datetime
    decided: str
    why: str
    own: bool


@pages.get("/pairs/<uuid:pair_id>/words/<uuid:reply>")
def form(pair_id: UUID, reply: UUID) -> str:
    """Show a reply, how it was read, and the form to propose words out of it."""
    return _form(pair_id, reply, {}, [])


@pages.post("/pairs/<uuid:pair_id>/words/<uuid:reply>")
def propose(pair_id: UUID, reply: UUID) -> ResponseReturnValue:
    given = request.form
    word = _word_of(given)
    try:
        steps.propose(
            parts().store, viewer(), pair_id, reply, given.get("language", ""), word, parts().clock.now()
        )
    except Invalid as refused:
        return _form(pair_id, reply, given, _said(refused)), 422
    flash(_("Proposed. A lead looks at it; until then replies are read as before."))
    return redirect(url_for("case.page", pair_id=pair_id, _anchor="story"), 303)


@pages.get("/words")
@needs(Role.lead)
def page() -> str:
    """List what waits for a decision, what holds, and what was decided lately."""
    return _page({}, None)


@pages.post("/words/<uuid:proposal>/approve")
@needs(Role.lead)
def approve(proposal: UUID) -> ResponseReturnValue:
    word = _word_of(request.form)
    return _decide(
        proposal,
        lambda now: steps.approve(parts().store, viewer(), proposal, word, now),
        _("Approved. Replies are read with these words from now on."),
    )


@pages.post("/words/<uuid:proposal>/refuse")
@needs(Role.lead)
def refuse(proposal: UUID) -> ResponseReturnValue:
    why = request.form.get("why", "")
    return _decide(
        proposal,
        lambda now: steps.refuse(parts().store, viewer(), proposal, why, now),
        _("Refused. Nothing changes."),
    )


@pages.post("/words/take-out")
@needs(Role.lead)
def take_out() -> ResponseReturnValue:
    language, phrase = request.form.get("language", ""), request.form.get("phrase", "")
    try:
        steps.take_out(parts().store, viewer(), language, phrase, parts().clock.now())
        flash(_("Taken out. Replies are read without these words from now on."))
    except DunnockError as error:
        flash(_(str(error)), "wrong")
    return redirect(url_for(".page"), 303)


def _decide(proposal: UUID, act: Callable[[datetime], object], said: str) -> ResponseReturnValue:
    try:
        act(parts().clock.now())
    except Invalid as refused:
        return _page(request.form, proposal, _said(refused)), 422
    except DunnockError as error:
        flash(_(str(error)), "wrong")
    else:
        flash(said)
    return redirect(url_for(".page"), 303)


def _word_of(given: Mapping[str, Any]) -> LocalWord:
    means = meanings.chosen(given.get("means", ""), given.get("number", ""))
    return LocalWord(" ".join(given.get("phrase", "").split()), means)


def _said(refused: Invalid) -> list[Problem]:
    """The faults in words. The field is her phrase, or one that would be misread, if it is not a form's."""
    return [
        Problem(
            "" if problem.field in ("phrase", "means", "language", "why") else problem.field,
            _(problem.message),
        )
        for problem in refused.problems
    ]


def _form(pair_id: UUID, reply: UUID, given: Mapping[str, Any], faults: list[Problem]) -> str:
    with parts().store.read() as conn:
        pair, said = steps.reply_to_propose_from(conn, viewer(), pair_id, reply)
    result = said.result
    cut = pieces(said.text, result["matches"]) if result else (Piece(said.text),)
    return render_template(
        "words/propose.html",
        pair=pair,
        reply=reply,
        at=said.at,
        pieces=cut,
        understood=understood(result, said.intent) if result else "",
        unread=_unread(cut),
        groups=meanings.groups(),
        her_languages=languages(),
        given=given,
        faults=faults,
        tz=pair.tz,
    )


def _unread(cut: tuple[Piece, ...]) -> str:
    """Her longest stretch of words that was understood as nothing: what is most likely to be proposed."""
    rest = [piece.text.strip(" .,;:!?\"'()،؟।۔") for piece in cut if not piece.what]
    return max(rest, key=len, default="")


def _page(given: Mapping[str, Any], about: UUID | None, faults: list[Problem] | None = None) -> str:
    now = parts().clock.now()
    with parts().store.read() as conn:
        waiting, decided = open_proposals(conn, viewer()), decided_proposals(conn, viewer())
        holding = steps.in_force(conn, now)
        outgrown = steps.word_faults(conn, now)
        zones = [site.zone for site in sites_of(conn, viewer())]
        ids = {each.by for each in (*waiting, *decided)} | {each.by for each in holding if each.by}
        names = staff_names(conn, viewer(), ids | {each.decided_by for each in decided if each.decided_by})
    return render_template(
        "words/page.html",
        waiting=[_row(each, names, given if each.id == about else {}) for each in waiting],
        decided=[_row(each, names, {}) for each in decided],
        holding=[
            (each, tag_words(each.language), meanings.meaning_words(each.word.means)) for each in holding
        ],
        names=names,
        groups=meanings.groups(),
        outgrown=outgrown,
        tz=ZoneInfo(zones[0] if zones else "UTC"),
        about=about,
        faults=faults or [],
        refusing=given.get("why", ""),
    )


def _row(each: Proposal, names: Mapping[UUID, str], given: Mapping[str, Any]) -> Row:
    colleague = _("A colleague")
    chosen = (given["means"], given.get("number", "")) if "means" in given else meanings.as_chosen(each.means)
    decided = ""
    if each.decided_by:
        by = names.get(each.decided_by, colleague)
        decided = _("approved by %(name)s", name=by) if each.approved else _("refused by %(name)s", name=by)
    return Row(
        id=each.id,
        pair=each.enrolment,
        language=tag_words(each.language),
        phrase=given.get("phrase", each.phrase),
        means=meanings.meaning_words(each.means),
        chosen=chosen,
        who=names.get(each.by, colleague),
        at=each.decided_at or each.at,
        decided=decided,
        why=each.why or "",
        own=each.by == viewer().staff_id,
    )

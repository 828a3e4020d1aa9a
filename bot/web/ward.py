"""The ward: who goes home, and is she ready? The practice text is answered at the bedside, or a person sees
that the number is right."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID, uuid4

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from bot.content.factory import load_factory
from bot.content.languages import in_latin
from bot.core.errors import DunnockError
from bot.core.follow.events import Action, ChangePhone, CheckedWho, ConfirmPhone, SendPractice, SetLanguage
from bot.core.pair import Pair
from bot.core.phone import Standing, read_phone
from bot.core.plan import next_contact
from bot.core.states import MessageState, Texting
from bot.steps.inbox import act
from bot.steps.moves import answer_offer
from bot.store.views_ward import Ready, offers, ready, ward_list
from bot.web.formats import age_words, day, moment, span
from bot.web.parts import parts
from bot.web.security import viewer
from bot.web.words import _, lazy

pages = Blueprint("ward", __name__)

STATES = {
    MessageState.queued: lazy("The practice text waits to be sent."),
    MessageState.sending: lazy("The practice text is being sent."),
    MessageState.accepted: lazy("The practice text is on its way to her phone."),
    MessageState.delivered: lazy("Her phone has the practice text."),
    MessageState.undelivered: lazy("The practice text did not reach her phone. Check the number with her."),
    MessageState.unknown: lazy("Nobody knows whether the practice text reached her phone."),
    MessageState.failed: lazy("The practice text was refused. Check the number with her."),
    MessageState.expired: lazy("The practice text could not be sent in time."),
    MessageState.cancelled: lazy("The practice text was withdrawn."),
}
_FAILED = frozenset(
    (MessageState.undelivered, MessageState.unknown, MessageState.failed, MessageState.expired)
)


@dataclass(frozen=True, slots=True)
class Line:
    """One pair of the list, in words. `todo` says what is still to do for her; empty when she is ready."""

    id: UUID
    who: str
    ages: tuple[str, ...]
    state: str
    todo: str
    review: str
    contact: str
    ago: str
    site: str


@pages.get("/ward")
def page() -> str:
    now = parts().clock.now()
    with parts().store.read() as conn:
        found, asked = ward_list(conn, viewer(), now), offers(conn, viewer())
    lines = [(each.waits, _line(each, now)) for each in found]
    return render_template(
        "ward/list.html",
        waiting=[line for waits, line in lines if waits],
        others=[line for waits, line in lines if not waits],
        many_sites=len(viewer().sites) > 1,
        offered=[_offer(pair, now) for pair in asked],
    )


@pages.post("/ward/offers/<uuid:pair_id>")
def answer_offered(pair_id: UUID) -> ResponseReturnValue:
    """Take over a pair that another site offers, or leave it there."""
    accept = request.form.get("answer") == "accept"
    try:
        answer_offer(parts().store, parts().content(), viewer(), pair_id, accept, parts().clock.now())
        flash(
            _("They are followed by your site from now on.")
            if accept
            else _("They stay with the other site.")
        )
    except DunnockError as error:
        flash(_(str(error)), "wrong")
    return redirect(url_for("ward.page"), 303)


@pages.get("/pairs/<uuid:pair_id>/practice")
def practice(pair_id: UUID) -> str:
    """Wait for her answer. The part that changes asks for itself again; loading the page does the same."""
    now = parts().clock.now()
    with parts().store.read() as conn:
        found = ready(conn, viewer(), pair_id)
    part = request.headers.get("HX-Request") and request.args.get("part")
    return render_template(
        "ward/_practice.html" if part else "ward/practice.html",
        ready=found,
        pair=found.pair,
        line=_line(found, now),
        key=uuid4().hex,
        waits=found.waits,
        on=found.pair.mother.texting is Texting.on,
        has_latin=in_latin(found.pair.mother.language) in load_factory().texts.tags,
    )


@pages.post("/pairs/<uuid:pair_id>/practice/again")
def again(pair_id: UUID) -> ResponseReturnValue:
    return _do(
        pair_id, SendPractice(request.form.get("key", "")[:40]), _("The practice text goes once more.")
    )


@pages.post("/pairs/<uuid:pair_id>/practice/letters")
def letters(pair_id: UUID) -> ResponseReturnValue:
    """Her phone can't show the letters of her language, or can: the practice text goes in the others."""
    latin = request.form.get("latin") == "yes"
    with parts().store.read() as conn:
        spoken = ready(conn, viewer(), pair_id).pair.mother.language
    said = _("Her texts stand in Latin letters from now on. The practice text goes once more.")
    if not latin:
        said = _("Her texts stand in their own letters again. The practice text goes once more.")
    again = SendPractice(request.form.get("key", "")[:40])
    return _do(pair_id, SetLanguage(spoken, latin), said, again)


@pages.post("/pairs/<uuid:pair_id>/practice/confirm")
def confirm(pair_id: UUID) -> ResponseReturnValue:
    return _do(pair_id, ConfirmPhone(), _("You confirmed the number. Texts go out from now on."))


@pages.post("/pairs/<uuid:pair_id>/practice/number")
def number(pair_id: UUID) -> ResponseReturnValue:
    """Mend a number that was mistyped, or that is not hers."""
    with parts().store.read() as conn:
        site = ready(conn, viewer(), pair_id).pair.site
    read = read_phone(request.form.get("phone", ""), site.region)
    usable = read.standing is Standing.valid or (read.standing is Standing.reserved and parts().demo)
    sure = read.standing is Standing.unusual and "sure" in request.form
    if not usable and not sure:
        if read.standing is Standing.unusual:
            flash(_("No such numbers are known. If it is right, tick that you are sure."), "wrong")
        else:
            flash(_("This is no possible number. Check its digits and, from abroad, its +code."), "wrong")
        return _back(pair_id)
    if "herself" not in request.form:
        flash(_("Make sure first that it is she who gives this number, and tick it."), "wrong")
        return _back(pair_id)
    changed = ChangePhone(read.e164, "shared" in request.form)
    said = _("The number is changed. The practice text goes to the new one.")
    return _do(pair_id, CheckedWho(), said, changed)


def _do(pair_id: UUID, action: Action, said: str, *more: Action) -> ResponseReturnValue:
    try:
        act(parts().store, parts().content(), viewer(), pair_id, [action, *more], parts().clock.now())
        flash(said)
    except DunnockError as error:
        flash(_(str(error)), "wrong")
    return _back(pair_id)


def _back(pair_id: UUID) -> ResponseReturnValue:
    return redirect(url_for("ward.practice", pair_id=pair_id), 303)


def _line(found: Ready, now: datetime) -> Line:
    pair = found.pair
    review, contact = pair.expected_review, next_contact(pair, parts().content().schedule, now)
    state, todo = _phone_words(found)
    return Line(
        id=pair.id,
        who=pair.mother.name,
        ages=tuple(age_words(baby, now, pair.tz) for baby in pair.living or pair.babies),
        state=state,
        todo=todo,
        review=f"{day(review.on_day)}{review.at:, %H:%M}" if review and review.at else _review_day(found),
        contact=moment(contact.due_local, pair.tz) if contact else "",
        ago=span(now - pair.enrolled_at),
        site=pair.site.name,
    )


@dataclass(frozen=True, slots=True)
class Offer:
    """A pair that another site offers, in words."""

    id: UUID
    who: str
    ages: tuple[str, ...]
    site: str
    review: str
    open: bool  # something of theirs is open in the inbox and comes along


def _offer(pair: Pair, now: datetime) -> Offer:
    review = pair.expected_review
    return Offer(
        id=pair.id,
        who=pair.mother.name,
        ages=tuple(age_words(baby, now, pair.tz) for baby in pair.living or pair.babies),
        site=pair.site.name,
        review=day(review.on_day) if review else _("none: a person phones"),
        open=pair.open_escalation is not None,
    )


def _review_day(found: Ready) -> str:
    review = found.pair.expected_review
    return day(review.on_day) if review else _("none: a person phones")


def _phone_words(found: Ready) -> tuple[str, str]:
    """Say how her phone stands, and what is to do."""
    match found.pair.mother.texting:
        case Texting.on:
            return _("She has answered: texts go out."), ""
        case Texting.unverified:
            state = _(STATES[found.practice.state]) if found.practice else _("No practice text yet.")
            failed = found.practice is None or found.practice.state in _FAILED
            todo = _("Check the number, then send again") if failed else _("Help her to answer with 1")
            return state, todo
        case Texting.none:
            return _("No phone: she is called by others' phones or visited."), ""
        case Texting.unreachable:
            return _("Texts do not reach this number."), _("Ask her for another number")
        case _:
            return _("No texts, as she wished: call or visit."), ""

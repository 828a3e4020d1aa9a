"""An item about a number that belongs to no pair: who is it, and is somebody in danger?"""

from __future__ import annotations

from uuid import UUID
from zoneinfo import ZoneInfo

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from bot.content.guides import guides
from bot.core.errors import Conflict, NotFound
from bot.core.follow.events import Close, Release, Spoke, Take
from bot.steps.strangers import Act, act_on_stranger
from bot.store.accounts import sites_of
from bot.store.views_inbox import Item, Said, open_items, words_of_stranger
from bot.web.case_acts import note_of
from bot.web.formats import due_words, urgency_mark
from bot.web.parts import parts
from bot.web.read_back import Piece, pieces, understood
from bot.web.reasons import why
from bot.web.security import viewer
from bot.web.words import _

pages = Blueprint("stranger", __name__)


@pages.get("/strangers/<uuid:item_id>")
def page(item_id: UUID) -> str:
    return _show(item_id)


@pages.post("/strangers/<uuid:item_id>/<what>")
def do(item_id: UUID, what: str) -> ResponseReturnValue:
    """Take it, put it back, note that somebody was spoken to, or close it with what was found."""
    found = request.form.get("found", "")
    if what == "close" and guides().found_words(found) == found:
        return _show(item_id, fault=_("Choose what was found before you close this.")), 422
    acts = _acts(_item(item_id), what, found)
    try:
        act_on_stranger(parts().store, viewer(), item_id, acts, parts().clock.now())
    except Conflict as error:
        flash(_(str(error)), "wrong")
        return redirect(url_for(".page", item_id=item_id), 303)
    flash(_("Done."))
    leave = what in ("close", "release")
    return redirect(url_for("inbox.page") if leave else url_for(".page", item_id=item_id), 303)


def _acts(item: Item, what: str, found: str) -> list[Act]:
    first: list[Act] = [] if item.taken_by else [Take()]
    spoke: list[Act] = [Spoke()] if request.form.get("spoke") else []
    known: dict[str, list[Act]] = {
        "take": [Take()],
        "release": [Release()],
        "spoke": [*first, Spoke()],
        "close": [*first, *spoke, Close(found, note_of(request.form))],
    }
    if what not in known:
        raise NotFound(_("There is no such page, or it is not one that you may see."))
    return known[what]


def _cut(said: Said) -> tuple[Piece, ...]:
    return pieces(said.text, said.result["matches"]) if said.result else (Piece(said.text),)


def _item(item_id: UUID) -> Item:
    with parts().store.read() as conn:
        found = next(iter(open_items(conn, viewer(), only=item_id)), None)
    if found is None or found.enrolment is not None:
        raise NotFound(_("This is not open any more. Somebody has closed it."))
    return found


def _show(item_id: UUID, fault: str = "") -> str:
    item, now, content = _item(item_id), parts().clock.now(), parts().content()
    with parts().store.read() as conn:
        phone, said = words_of_stranger(conn, viewer(), item_id)
        zones = [site.zone for site in sites_of(conn, viewer())]
    reasons = [why(content, reason.rule) for reason in item.reasons]
    lead = item.reasons[0] if item.reasons else None
    return render_template(
        "stranger.html",
        item=item,
        mine=item.taken_by == viewer().staff_id,
        mark=urgency_mark(item.urgency),
        due="" if item.spoken_at else due_words(item.due_at, now),
        late=item.spoken_at is None and item.due_at < now,
        number=phone,
        said=[
            (each.at, _cut(each), understood(each.result, each.intent) if each.result else "")
            for each in said
        ],
        reasons=reasons,
        guide=guides().for_finding([lead.rule] if lead else [], item.urgency),
        answers=request.form,
        fault=fault,
        tz=ZoneInfo(zones[0] if zones else "UTC"),
    )

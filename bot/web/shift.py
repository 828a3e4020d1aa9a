"""The end of a shift: what do I hold, and who takes it? Nothing leaves me before somebody has accepted it."""

from __future__ import annotations

from uuid import UUID

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from bot.core.errors import Conflict
from bot.core.follow.events import HandOver, Release
from bot.steps.inbox import act
from bot.steps.strangers import act_on_stranger
from bot.store.accounts import colleagues
from bot.store.views_inbox import Item, held_by
from bot.web.formats import due_words, urgency_mark, urgency_word
from bot.web.parts import parts
from bot.web.reasons import why
from bot.web.security import viewer
from bot.web.words import _, _n

pages = Blueprint("shift", __name__)


@pages.get("/shift")
def page() -> str:
    """List what I hold, with whom I may ask for each."""
    return _show()


@pages.post("/shift")
def hand_over() -> ResponseReturnValue:
    """Ask each named colleague; what nobody was named for stays mine, and the page says so."""
    now, asked, faults = parts().clock.now(), 0, {}
    for item in _held():
        chosen = request.form.get(f"to-{item.id}", "")
        if not chosen or chosen == str(item.offered_to):
            continue
        if chosen not in dict(_askable(item)):
            faults[str(item.id)] = _("Choose to whom you hand it over.")
            continue
        try:
            _ask(item, chosen)
        except Conflict as error:
            faults[str(item.id)] = _(str(error))
            continue
        asked += 1
    if faults:
        return _show(faults), 422
    left = sum(item.offered_to is None for item in _held())
    if asked:
        flash(_n("%(n)s is asked of a colleague.", "%(n)s are asked of colleagues.", asked))
    if left:
        flash(_n("%(n)s is still yours alone.", "%(n)s are still yours alone.", left), "wrong")
    return redirect(url_for(".page", at=now.timestamp()), 303)


def _ask(item: Item, chosen: str) -> None:
    now = parts().clock.now()
    if item.enrolment is None:
        act_on_stranger(parts().store, viewer(), item.id, [Release()], now)
    else:
        act(parts().store, parts().content(), viewer(), item.enrolment, [HandOver(UUID(chosen))], now)


def _held() -> list[Item]:
    with parts().store.read() as conn:
        return held_by(conn, viewer())


def _askable(item: Item) -> list[tuple[str, str]]:
    """Give whom the item may be handed to: colleagues at its site; a number without a site waits for all."""
    if item.enrolment is None:
        return [("all", _("anybody: put it back"))]
    with parts().store.read() as conn:
        names = colleagues(conn, viewer(), item.site)
    return [(str(key), name) for key, name in names.items() if key != viewer().staff_id]


def _show(faults: dict[str, str] | None = None) -> str:
    now, content = parts().clock.now(), parts().content()
    held = [
        {
            "item": item,
            "who": item.mother or _("Unknown number"),
            "address": url_for("case.page", pair_id=item.enrolment)
            if item.enrolment
            else url_for("stranger.page", item_id=item.id),
            "mark": urgency_mark(item.urgency),
            "urgency": urgency_word(item.urgency),
            "due": _("spoken to") if item.spoken_at else due_words(item.due_at, now),
            "finding": why(content, item.reasons[0].rule).words if item.reasons else "",
            "to": [("", _("nobody yet")), *_askable(item)],
        }
        for item in _held()
    ]
    return render_template("shift.html", held=held, faults=faults or {}, form=request.form)

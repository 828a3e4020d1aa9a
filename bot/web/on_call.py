"""What a tap on the link of an alert opens: one page without names, and one button that says 'I have it'.

The link is its own key, for a duty phone has no account: it opens nothing but this, and lasts as long as the
alert can be heeded.
"""

from __future__ import annotations

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from bot.core.errors import NotFound
from bot.store.alerts import alert_by_token, heed_one
from bot.web.parts import parts
from bot.web.security import open_to_all
from bot.web.words import _

pages = Blueprint("on_call", __name__)


@pages.get("/a/<token>")
@open_to_all
def page(token: str) -> str:
    """Say what is asked. Opening it heeds nothing: programs that preview links open them too."""
    return _show(token)


@pages.post("/a/<token>")
@open_to_all
def heed(token: str) -> ResponseReturnValue:
    """Note that whoever holds this phone has it, and wake nobody else."""
    now = parts().clock.now()
    with parts().store.write() as conn:
        found = alert_by_token(conn, token, now)
        if found is not None:
            heed_one(conn, found.id, now)
    return _show(token)


def _show(token: str) -> str:
    now = parts().clock.now()
    with parts().store.read() as conn:
        found = alert_by_token(conn, token, now)
    if found is None:
        raise NotFound(_("This link is not in force any more. Open the inbox, or call your colleagues."))
    return render_template("on_call.html", alert=found, token=token)

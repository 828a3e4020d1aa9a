"""How far a text can be trusted, in words."""

from __future__ import annotations

from bot.content.texts import SOURCE, Status
from bot.steps.text_reviews import Review
from bot.web.words import _


def review_words(review: Review, tag: str) -> str:
    """Say who signed a text, or that nobody has."""
    if review.status is Status.reviewed:
        return _("reviewed: %(by)s", by=review.by)
    if review.status is Status.missing:
        return _("not translated")
    if review.status is Status.stale:
        return _("the English has changed since")
    return _("not reviewed") if tag == SOURCE else _("machine-made, unreviewed")

"""The texts that mothers receive, side by side with the English: what each costs, and who has reviewed it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from bot.content.check_texts import sample_values
from bot.content.factory import load_factory
from bot.content.texts import NEUTRAL, SOURCE, Status, Texts, is_right_to_left
from bot.core.errors import Conflict, DunnockError, Invalid
from bot.core.segments import Segments, count, sendable
from bot.steps.text_reviews import Review, Reviews, sign_text, text_reviews
from bot.store.viewer import Role
from bot.web.language_names import own_tags, tag_words
from bot.web.parts import parts
from bot.web.review_words import review_words
from bot.web.security import machine_time, needs, person, viewer
from bot.web.words import _, language, lazy

pages = Blueprint("texts", __name__)

SHOWN = {
    "all": lazy("All"),
    "unreviewed": lazy("Not reviewed"),
    "untranslated": lazy("Not translated, or no longer fitting"),
    "over": lazy("Over budget"),
    "cloth": lazy("Cloth nappies or none"),
}
# Texts that must hold for cloth nappies and for none: those about wet and dirty nappies.
_CLOTH = ("wet_nappies", "dirty_nappies")


@dataclass(frozen=True, slots=True)
class Variant:
    """One wording of a text: private, or neutral for a phone that others read. `sample` has its values in;
    `price` is None for a piece that is never sent alone."""

    neutral: bool
    english: str
    words: str
    spoken: str
    sample: str
    price: Segments | None
    over: bool


@dataclass(frozen=True, slots=True)
class Row:
    """One text in one language. `most` are the segments that it may cost in this alphabet."""

    key: str
    note: str
    variants: tuple[Variant, ...]
    most: int | None
    review: Review
    said: str
    digest: str
    signable: bool

    @property
    def over(self) -> bool:
        return any(variant.over for variant in self.variants)


@pages.get("/texts")
@needs(Role.lead)
def page() -> str:
    return _page({}, {})


@pages.post("/texts/<tag>/<key>/sign")
@needs(Role.lead)
def sign(tag: str, key: str) -> ResponseReturnValue:
    """Sign one text as it was shown."""
    form = request.form
    try:
        sign_text(
            parts().store,
            viewer(),
            load_factory().texts,
            tag,
            key,
            seen=form.get("seen", ""),
            name=person().name,
            role=form.get("role", ""),
            registration=form.get("registration", ""),
            speaks="speaks" in form,
            now=machine_time(),
        )
    except Invalid as refused:
        return _page(form, {each.field: _(each.message) for each in refused.problems}, key, tag), 422
    except Conflict as changed:
        flash(_(str(changed)), "wrong")
    except DunnockError as error:
        flash(_(str(error)), "wrong")
    else:
        flash(_("Signed: %(key)s.", key=key))
    return redirect(url_for(".page", language=tag, show=request.args.get("show"), _anchor=f"t-{key}"), 303)


def _page(form: Mapping[str, str], faults: Mapping[str, str], about: str = "", tag: str = "") -> str:
    texts = load_factory().texts
    tag = tag or _chosen(texts)
    show = request.args.get("show", "all")
    with parts().store.read() as conn:
        reviews = text_reviews(conn, texts)
    rows = [_row(texts, reviews, key, tag) for key in texts.keys_of(tag)]
    keep = _FILTERS.get(show, _FILTERS["all"])
    return render_template(
        "words/texts.html",
        rows=[row for row in rows if keep(row)],
        counts={code: sum(map(each, rows)) for code, each in _FILTERS.items()},
        signed=sum(row.review.is_signed for row in rows),
        total=len(rows),
        tag=tag,
        tag_name=tag_words(tag),
        her_dir="rtl" if is_right_to_left(tag) else "ltr",
        source=SOURCE,
        tags=own_tags(),
        show=show,
        shown=SHOWN,
        form=form,
        faults=faults,
        about=about,
        me=person().name,
    )


def _chosen(texts: Texts) -> str:
    asked = request.args.get("language", "")
    if asked in texts.tags:
        return asked
    own = language()
    return own if own in texts.tags and own != SOURCE else next(t for t in texts.tags if t != SOURCE)


def _row(texts: Texts, reviews: Reviews, key: str, tag: str) -> Row:
    entry, review = texts.entry(key), reviews(key, tag)
    variants = tuple(_variants(texts, key, tag))
    latin = all(each.price is None or each.price.encoding == "GSM-7" for each in variants)
    budget = entry.max_segments
    return Row(
        key=key,
        note=entry.note,
        variants=variants,
        most=None if budget is None else budget.gsm7 if latin else budget.ucs2,
        review=review,
        said=review_words(review, tag),
        digest=texts.digest(key, tag),
        signable=review.status is Status.unreviewed,
    )


def _variants(texts: Texts, key: str, tag: str) -> Iterator[Variant]:
    entry = texts.entry(key)
    for suffix, english in entry.variants().items():
        neutral = suffix == NEUTRAL
        words, spoken = texts.words(key, tag, neutral=neutral)
        sample = sendable(texts.render(key, tag, sample_values(tag), neutral=neutral))
        budget, price = entry.max_segments, count(sample)
        most = None if budget is None else budget.gsm7 if price.encoding == "GSM-7" else budget.ucs2
        over = most is not None and price.segments > most
        yield Variant(neutral, english, words, spoken, sample, None if budget is None else price, over)


def _is_open(row: Row) -> bool:
    return not row.review.is_signed


_FILTERS: Mapping[str, Callable[[Row], bool]] = {
    "all": lambda row: True,
    "unreviewed": _is_open,
    "untranslated": lambda row: row.review.status in (Status.missing, Status.stale),
    "over": lambda row: row.over,
    "cloth": lambda row: any(question in row.key for question in _CLOTH),
}
assert _FILTERS.keys() == SHOWN.keys()

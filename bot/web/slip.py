"""The slip that a mother takes home: one page in her language, printed on the ward, with nothing on it that a
stranger should not read. Names stand on it only when somebody asks for them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, timedelta
from uuid import UUID

from flask import Blueprint, render_template, request
from markupsafe import Markup, escape

from bot.content.factory import load_factory
from bot.content.texts import BETWEEN_NAMES, is_right_to_left
from bot.core.errors import NotFound
from bot.core.pair import Numbers, Pair, Site
from bot.core.states import Texting
from bot.steps.text_reviews import text_reviews
from bot.store.pairs import load_sites
from bot.store.views_ward import ready
from bot.web.formats import grouped
from bot.web.language_names import own_names
from bot.web.parts import parts
from bot.web.security import viewer
from bot.web.words import _

pages = Blueprint("slip", __name__)

TALLY_DAYS = 5  # boxes for the days until feeding is settled; common practice, no source
BOXES = (("feeds", 12), ("wet", 8), ("dirty", 5))
HOLD = ("neck", "turned", "close", "supported")
ATTACH = ("mouth", "chin", "lower_lip", "areola")
BABY_DANGERS = (
    "feeding", "fits", "breathing", "temperature", "movement", "yellow", "belly", "cord", "urine",
)  # fmt: skip
MOTHER_DANGERS = ("bleeding", "fits", "headache", "fever", "breathing", "belly", "leg", "harm")
TODAY = ("yellow", "cord", "nappies", "breast", "skin", "mother", "mood", "worry")


@pages.get("/pairs/<uuid:pair_id>/slip")
def page(pair_id: UUID) -> str:
    """Show the slip of a pair, ready to print."""
    with parts().store.read() as conn:
        pair = ready(conn, viewer(), pair_id).pair
    named = request.args.get("names") == "1"
    first = pair.local(pair.discharged_at).date()
    days = [(first + timedelta(days=n)) for n in range(TALLY_DAYS)]
    return _slip(pair.mother.language, _values(pair), days=days, named=named, pair=pair)


@pages.get("/slips")
def blanks() -> str:
    """List the empty slips: one for each site and language."""
    with parts().store.read() as conn:
        sites = load_sites(conn, viewer().sites).values()
    return render_template(
        "slip/blanks.html",
        sites=sorted(sites, key=lambda site: site.name),
        her_languages=own_names(),
    )


@pages.get("/slips/<code>/<language>")
def blank(code: str, language: str) -> str:
    """Show an empty slip of a site."""
    with parts().store.read() as conn:
        site = next((one for one in load_sites(conn, viewer().sites).values() if one.code == code), None)
    if site is None or language not in load_factory().texts.languages:
        raise NotFound(_("There is no such page, or it is not one that you may see."))
    return _slip(language, _of_site(site), days=[None] * TALLY_DAYS, named=False, pair=None)


def _slip(
    language: str,
    values: Mapping[str, str],
    *,
    days: list[date] | list[None],
    named: bool,
    pair: Pair | None,
) -> str:
    say = _speaker(language, values, named)
    texted = pair is None or pair.mother.texting in (Texting.unverified, Texting.on)
    return render_template(
        "slip/slip.html",
        say=say,
        her=language,
        her_dir="rtl" if is_right_to_left(language) else "ltr",
        review="slip-review" if "day" in values else "slip-review-open",
        lists=(("baby", BABY_DANGERS), ("mother", MOTHER_DANGERS)),
        today=TODAY,
        hold=HOLD,
        attach=ATTACH,
        reach=("slip-text", "slip-call", "slip-cost", "slip-stop") if texted else ("slip-call",),
        days=days,
        boxes=BOXES,
        named=named,
        pair=pair,
        unreviewed=_unreviewed(language),
    )


def _speaker(language: str, values: Mapping[str, str], named: bool) -> Callable[[str], Markup]:
    texts = load_factory().texts

    def say(key: str) -> Markup:
        return escape(texts.render(key, language, values, neutral=not named))

    return say


def _unreviewed(language: str) -> bool:
    """Tell whether a line of the slip has not been signed by a clinician who speaks the language."""
    texts = load_factory().texts
    with parts().store.read() as conn:
        review = text_reviews(conn, texts)
    return any(not review(key, language).is_signed for key in texts.keys if key.startswith("slip-"))


def _values(pair: Pair) -> dict[str, str]:
    review = pair.expected_review
    values: dict[str, str] = {
        **_of_site(pair.site),
        "mother": pair.mother.name.split()[0] if pair.mother.name else "",
        "baby": BETWEEN_NAMES.join(baby.name for baby in pair.living if baby.name),
        "n": str(len(pair.living)),
    }
    if review is not None:
        values |= {
            "day": review.on_day.isoformat(),
            "at": (review.at or pair.site.opens).isoformat("minutes"),
        }
    return values


def _of_site(site: Site) -> dict[str, str]:
    numbers: Numbers = site.numbers
    values = {
        "site": site.name,
        "text": grouped(numbers.text),
        "call": grouped(numbers.call),
        "hours": numbers.hours,
        "place": numbers.place,
        "place_call": grouped(numbers.place_call),
    }
    return {name: value for name, value in values.items() if value}

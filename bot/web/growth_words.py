"""What was found of a baby's weight and feeding, in words for staff. Values of the core come in."""

from __future__ import annotations

from bot.core.growth import ForAge, Standing
from bot.core.pair import Baby
from bot.core.young_infant import Outcome, Sign
from bot.web.words import _, lazy

OUTCOMES = {
    Outcome.refer: lazy("Not able to feed: refer now"),
    Outcome.problem: lazy("Feeding problem or low weight for age"),
    Outcome.none: lazy("No feeding problem"),
    Outcome.unsure: lazy("No problem seen, but not everything was looked at"),
}
FOUND = {
    Sign.position: lazy("not well positioned"),
    Sign.attachment: lazy("not well attached"),
    Sign.suckling: lazy("not suckling effectively"),
    Sign.feeds: lazy("fewer than %(n)s feeds in 24 hours"),
    Sign.other_food: lazy("other food or drink"),
    Sign.thrush: lazy("thrush"),
    Sign.weight: lazy("low weight for age"),
}
MISSING = {
    Sign.position: lazy("position"),
    Sign.attachment: lazy("attachment"),
    Sign.suckling: lazy("suckling"),
    Sign.feeds: lazy("feeds in 24 hours"),
    Sign.other_food: lazy("other food or drink"),
    Sign.thrush: lazy("the mouth"),
    Sign.weight: lazy("weight for age"),
}
FOR_AGE = {
    ForAge.very_low: lazy("very low for age"),
    ForAge.low: lazy("low for age"),
    ForAge.not_low: lazy("not low for age"),
}


def found_words(sign: Sign, feeds_at_least: int) -> str:
    """Name a problem that was found."""
    return _(FOUND[sign], n=feeds_at_least)


def z_words(z: float) -> str:
    """Write a z-score with a true minus sign, from left to right in any language."""
    return f"\u2066{z:+.2f}\u2069".replace("-", "\u2212")


def standing_words(baby: Baby, standing: Standing | None, judged: Standing | None) -> str:
    """Say where a weight stands beside the WHO standard; `judged` is None where it makes no class yet."""
    if baby.sex is None:
        return _("The sex is not recorded, so the weight can't be set beside the WHO standard.")
    if standing is None:
        return _("A baby born early is set beside the WHO standard only from 40 weeks on.")
    if not standing.plausible:
        return _("No baby of this age weighs that: check the weight, the sex and the day of birth.")
    found = _("WHO standard: z-score %(z)s", z=z_words(standing.z))
    first_week = _("in the first week the loss since birth says more")
    parts = [found, _(FOR_AGE[judged.for_age]) if judged is not None else first_week]
    if standing.corrected:
        parts.append(_("by corrected age"))
    return ", ".join(parts)

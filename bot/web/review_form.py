"""What a review's form holds: its fields come in, one `Entry` a baby and every fault go out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from bot.core import growth
from bot.core.enrolment.babies import SEEN, SIGNS, SUCKLING
from bot.core.ids import derived_id
from bot.core.pair import Baby, Pair, Review
from bot.web.words import _

Form = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Entry:
    """What was seen of one baby; `weight_g` is None when it was not weighed."""

    baby: int
    signs: Mapping[str, str]
    weight_g: int | None

    @property
    def says_something(self) -> bool:
        return self.weight_g is not None or set(self.signs.values()) != {"not_seen"}


def assessment_id(review: Review, baby: int, at: datetime) -> UUID:
    """Name what was seen of a baby at a review; by it the assessment is found again."""
    return derived_id(at, review.id, "assessment", baby)


def read_entries(pair: Pair, form: Form, now: datetime) -> tuple[list[Entry], dict[str, str]]:
    """Read the fields of every living baby; give the entries and, by field, all that is wrong."""
    faults: dict[str, str] = {}
    entries = [_entry(pair, baby, form, now, faults) for baby in pair.living]
    return entries, faults


def _entry(pair: Pair, baby: Baby, form: Form, now: datetime, faults: dict[str, str]) -> Entry:
    own = f"b{baby.ordinal}_"
    signs = {}
    for group, names in SIGNS.items():
        for name in names:
            signs[f"{group}_{name}"] = _one_of(form, f"{own}{group}_{name}", SEEN, faults)
    signs["suckling"] = _one_of(form, f"{own}suckling", SUCKLING, faults)
    return Entry(baby.ordinal, signs, _weight(pair, baby, form, own, now, faults))


def _one_of(form: Form, field: str, known: tuple[str, ...], faults: dict[str, str]) -> str:
    """A choice that nobody made was not seen."""
    chosen = form.get(field) or "not_seen"
    if chosen not in known:
        faults[field] = _("Choose one of the answers offered.")
    return chosen


def _weight(
    pair: Pair, baby: Baby, form: Form, own: str, now: datetime, faults: dict[str, str]
) -> int | None:
    field, typed = f"{own}weight_g", form.get(f"{own}weight_g", "").strip()
    if not typed:
        return None
    on = pair.local(now).date()
    least, most = growth.limits(on, baby.born_on)
    if not typed.isdecimal():
        faults[field] = _("Write the weight in whole grams, such as 3150.")
        return None
    grams = int(typed)
    found = growth.doubt(grams, on, baby.born_on, weights_before(pair, baby, now))
    if found is growth.Doubt.impossible:
        faults[field] = _(
            "%(g)s g can't be: give %(least)s to %(most)s grams.", g=grams, least=least, most=most
        )
    elif found is not None and form.get(f"{own}sure") != str(grams):
        faults[field] = _doubted(found, grams)
    return grams


def _doubted(found: growth.Doubt, grams: int) -> str:
    if found is growth.Doubt.loss:
        return _("%(g)s g would be an unusual loss. Weigh again; if it stays so, tick below.", g=grams)
    return _("%(g)s g would be an unusual gain. Weigh again; if it stays so, tick below.", g=grams)


def weights_before(pair: Pair, baby: Baby, moment: datetime) -> list[growth.Weight]:
    """Give the weights of a baby known before a moment."""
    known = [
        growth.Weight(pair.local(a.at).date(), a.weight_g)
        for a in pair.assessments
        if a.baby == baby.ordinal and a.weight_g is not None and a.at < moment
    ]
    if baby.birth_weight_g is not None:
        known.append(growth.Weight(baby.born_on, baby.birth_weight_g, at_birth=True))
    return known

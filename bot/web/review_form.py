"""What a review's form holds: its fields come in, one `Entry` a baby and every fault go out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID

from bot.core import growth
from bot.core.enrolment.babies import SEEN, SIGNS, SUCKLING
from bot.core.ids import derived_id
from bot.core.pair import Baby, Pair, Review
from bot.core.young_infant import weights_before
from bot.web.labels import most
from bot.web.words import _

Form = Mapping[str, str]
Said = Mapping[str, tuple[float, float]]
ASKED = ("other_food", "thrush")  # yes, no, or not asked and not looked at


@dataclass(frozen=True, slots=True)
class Entry:
    """What was seen of one baby; `weight_g` is None when it was not weighed. `said` is what was heard or
    looked at besides the breastfeed: key of an answer -> (low, high), yes is (1, 1), no is (0, 0)."""

    baby: int
    signs: Mapping[str, str]
    weight_g: int | None
    said: Said = field(default_factory=dict)

    @property
    def says_something(self) -> bool:
        return self.weight_g is not None or bool(self.said) or set(self.signs.values()) != {"not_seen"}


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
    return Entry(baby.ordinal, signs, _weight(pair, baby, form, own, now, faults), _said(form, own, faults))


def _said(form: Form, own: str, faults: dict[str, str]) -> Said:
    said: dict[str, tuple[float, float]] = {}
    for key in ASKED:
        chosen = _one_of(form, f"{own}{key}", SEEN, faults)
        if chosen in ("yes", "no"):
            said[key] = (1, 1) if chosen == "yes" else (0, 0)
    typed = form.get(f"{own}feeds", "").strip()
    if typed.isdecimal() and int(typed) <= most("feeds"):
        said["feeds"] = (int(typed), int(typed))
    elif typed:
        faults[f"{own}feeds"] = _("Write a whole number from 0 to %(most)s.", most=round(most("feeds")))
    return said


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

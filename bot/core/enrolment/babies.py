"""The babies of one mother, each with what was seen of its feeding at discharge."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, timedelta

from bot.core.enrolment.fields import Part, wording
from bot.core.enrolment.stay import Stay
from bot.core.pair import Assessment, Baby

# Impossible below and above. Common practice, no source.
WEIGHT_G = (400, 7000)
GESTATION_WEEKS = (22, 45)
MOST_BABIES = 9
OLDEST = timedelta(days=365)
# Unusual: somebody looks again. Very low birth weight and very preterm as in Eurostat's classes of newborns.
VERY_LOW_WEIGHT_G = 1500
VERY_PRETERM_WEEKS = 32
FOLLOWED = timedelta(days=42)  # WHO postnatal care ends at six weeks; an older baby may be a wrong date
ONE_BIRTH = timedelta(days=2)  # common practice, no source: babies of one birth are born within it

SEXES = ("female", "male")
PLACES = ("with_mother", "neonatal_unit", "elsewhere")
SEEN = ("yes", "no", "not_seen")
SUCKLING = ("effective", "not_effective", "not_at_all", "not_seen")
# WHO IMCI chart booklet 2014, sick young infant: signs of good positioning and attachment (from memory).
SIGNS: Mapping[str, tuple[str, ...]] = {
    "position": ("neck", "turned", "close", "supported"),
    "attachment": ("chin", "mouth", "lower_lip", "areola"),
}

Found = tuple[Baby, Assessment | None]


def read_babies(root: Part, stay: Stay, assessed_by: str) -> list[Found]:
    """Read every baby that can be read; what is wrong with the others is noted."""
    plan = root.text("feeding_plan", 300)
    root.notes.facts.pop("feeding_plan", None)  # it is kept with each baby
    listed = root.given("babies")
    if not listed or (isinstance(listed, list | tuple) and len(listed) > MOST_BABIES):
        root.refuse("babies", "give one to %(most)s babies", most=MOST_BABIES)
        return []
    found = [
        _baby(part, stay, ordinal, plan, assessed_by)
        for ordinal, part in enumerate(root.parts("babies"), start=1)
    ]
    babies = [each for each in found if each is not None]
    for baby, _ in babies:
        if abs(baby.born_on - babies[0][0].born_on) > ONE_BIRTH:
            root.ask(f"babies.{baby.ordinal - 1}.born_at", "is days apart from the first baby's birth")
    return babies


def _baby(part: Part, stay: Stay, ordinal: int, plan: str, assessed_by: str) -> Found | None:
    name = part.text("name", 100)
    born = part.day_or_moment(
        "born_at", stay.tz, stay.now, needed=wording("give the birth date, with the hour if it is known")
    )
    sex = part.choice("sex", SEXES)
    weight = part.whole("birth_weight_g", *WEIGHT_G, "g")
    if weight is not None and weight < VERY_LOW_WEIGHT_G:
        part.ask("birth_weight_g", "is under %(low)s g; check and confirm it", low=VERY_LOW_WEIGHT_G)
    weeks = part.weeks("gestation_weeks", *GESTATION_WEEKS)
    if weeks is not None and weeks < VERY_PRETERM_WEEKS:
        part.ask("gestation_weeks", "is under %(low)s weeks; check and confirm it", low=VERY_PRETERM_WEEKS)
    place = part.choice("place", PLACES, "with_mother") or "with_mother"
    feeding_plan = part.text("feeding_plan", 300) or plan
    part.keep("feeding_plan", feeding_plan)
    seen = _assessment(part.part("assessment"), stay, ordinal, assessed_by)
    part.refuse_the_rest()
    if born is None or stay.site is None:
        return None
    hour = born if isinstance(born, datetime) else None
    day = stay.day(born) if isinstance(born, datetime) else born
    _birth_fits(part, day, hour, stay)
    baby_id = stay.an_id("baby", ordinal)
    return Baby(baby_id, ordinal, name, day, hour, sex, weight, weeks, place, feeding_plan), seen


def _birth_fits(part: Part, day: date, hour: datetime | None, stay: Stay) -> None:
    """A birth comes before the discharge, and not so long ago that the date must be another."""
    home, age = stay.discharged_at or stay.now, stay.day(stay.now) - day
    if hour > home if hour else day > stay.day(home):
        part.refuse("born_at", "lies after the discharge; check both")
    elif age > OLDEST:
        part.refuse("born_at", "is more than a year ago; check the year")
    elif age > FOLLOWED:
        part.ask("born_at", "is more than %(days)s days ago; check and confirm it", days=FOLLOWED.days)


def _assessment(part: Part, stay: Stay, ordinal: int, by: str) -> Assessment | None:
    """What was seen of this baby's feeding, None if nothing was; a sign that nobody named was not seen."""
    signs: dict[str, str] = {}
    for group, names in SIGNS.items():
        inner = part.part(group)
        for name in names:
            signs[f"{group}_{name}"] = inner.choice(name, SEEN, "not_seen") or "not_seen"
        inner.refuse_the_rest()
    signs["suckling"] = part.choice("suckling", SUCKLING, "not_seen") or "not_seen"
    weight = part.whole("weight_g", *WEIGHT_G, "g")
    part.refuse_the_rest()
    if stay.discharged_at is None or (weight is None and set(signs.values()) == {"not_seen"}):
        return None
    made = stay.an_id("assessment", ordinal)
    return Assessment(made, ordinal, stay.discharged_at, by, "discharge", signs, weight)

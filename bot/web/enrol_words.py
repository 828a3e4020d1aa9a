"""The words of the bedside form: what each field is called, and its choices."""

from __future__ import annotations

import re
from collections.abc import Mapping

from bot.core.enrolment import Fault
from bot.web.words import _, lazy

# Said by `_` when they are shown. A field of a baby stands here without `babies.0.`.
FIELDS: Mapping[str, str] = {
    "site": lazy("Site"),
    "external_id": lazy("Number on the ward"),
    "discharged_at": lazy("Going home"),
    "consent": lazy("What she agrees to"),
    "follow_up_by": lazy("Followed by"),
    "preferred_hour": lazy("Hour that suits her"),
    "lives_at": lazy("Where she lives"),
    "nearest_facility": lazy("Nearest facility"),
    "feeding_plan": lazy("Feeding plan"),
    "second_contact": lazy("Second person"),
    "second_contact.name": lazy("Second person: name"),
    "second_contact.phone": lazy("Second person: phone"),
    "mother.name": lazy("Her name"),
    "mother.phone": lazy("Her phone"),
    "mother.phone_shared": lazy("Who reads on this phone"),
    "mother.language": lazy("Language of her texts"),
    "mother.latin": lazy("What her phone shows"),
    "mother.age": lazy("Her age"),
    "mother.parity": lazy("Births, with this one"),
    "mother.birth_mode": lazy("Birth"),
    "mother.risks": lazy("What else matters"),
    "babies": lazy("Babies"),
    "name": lazy("Name"),
    "born_at": lazy("Born"),
    "sex": lazy("Sex"),
    "birth_weight_g": lazy("Birth weight"),
    "gestation_weeks": lazy("Weeks of pregnancy"),
    "place": lazy("Where the baby is"),
    "assessment.weight_g": lazy("Weight now"),
}
# Units in which the bounds of a number are said.
UNITS = (lazy("g"), lazy("weeks"), lazy("years"), lazy("births"), lazy("o'clock"))
SHARED = (("no", lazy("She alone")), ("yes", lazy("Others too, or not sure")))
AGREED = (
    ("texts", lazy("Texts")),
    ("calls", lazy("Calls")),
    ("home_visit", lazy("A visit at home")),
    ("second_contact", lazy("Asking the second person")),
    ("research", lazy("Use of her data for research")),
)
FOLLOW_UP = (("text", lazy("Text")), ("call", lazy("Call")), ("visit", lazy("Visit")))
SEXES = (("female", lazy("Girl")), ("male", lazy("Boy")), ("unknown", lazy("Not known")))
PLACES = (
    ("with_mother", lazy("With her")),
    ("neonatal_unit", lazy("Neonatal unit")),
    ("elsewhere", lazy("Elsewhere")),
)
BIRTHS = (
    ("vaginal", lazy("Vaginal")),
    ("assisted", lazy("Assisted")),
    ("caesarean", lazy("Caesarean")),
)
LEAVES = (("now", lazy("Now")), ("other", lazy("At another time")))
SEEN = (("yes", lazy("yes")), ("no", lazy("no")), ("not_seen", lazy("not seen")))
SUCKLING = (
    ("effective", lazy("Slow, deep sucks, sometimes pausing")),
    ("not_effective", lazy("Rapid, shallow sucks")),
    ("not_at_all", lazy("Not at all")),
    ("not_seen", lazy("Not seen")),
)
# WHO IMCI chart booklet 2014, sick young infant: positioning and attachment (from memory).
SIGNS = (
    (
        "position",
        lazy("How the baby is held"),
        (
            ("neck", lazy("Neck straight or bent a little back")),
            ("turned", lazy("Body turned towards her")),
            ("close", lazy("Body close to her")),
            ("supported", lazy("Whole body supported")),
        ),
    ),
    (
        "attachment",
        lazy("How the baby takes the breast"),
        (
            ("chin", lazy("Chin touches the breast")),
            ("mouth", lazy("Mouth wide open")),
            ("lower_lip", lazy("Lower lip turned outwards")),
            ("areola", lazy("More areola seen above than below")),
        ),
    ),
)


def place_of(field: str) -> str:
    """Name a field: 'Birth weight', or with several babies 'Baby 2, birth weight'."""
    found = re.fullmatch(r"babies\.(\d+)\.(.+)", field)
    name = found[2] if found else field
    label = _(FIELDS[name]) if name in FIELDS else name
    return _("Baby %(n)s: %(what)s", n=int(found[1]) + 1, what=label) if found else label


def words_of(fault: Fault) -> str:
    """Say what is wrong with which field, in the language of the screen."""
    values = {name: _(value) if isinstance(value, str) else value for name, value in fault.values.items()}
    return f"{place_of(fault.field)}: {_(fault.words, **values)}"

"""The fixed words of a case: its states, the reasons that can be chosen, and the facts about a pair."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from bot.core.follow.events import CLOSED_REASONS
from bot.core.pair import Baby, Pair
from bot.core.states import EnrolmentState, Texting
from bot.web.enrol_form import MADE_UP
from bot.web.formats import moment, number
from bot.web.language_names import tag_words
from bot.web.story import baby_name
from bot.web.words import _, lazy

STATES = {
    EnrolmentState.following: "",
    EnrolmentState.away: lazy(
        "Away: she is asked only about herself and her milk; looked at again on the day below."
    ),
    EnrolmentState.held: lazy("Held: nothing is sent until somebody decides."),
    EnrolmentState.closed: lazy("Closed: nobody follows this pair any more."),
}
TEXTING = {
    Texting.unverified: lazy("The number has not answered yet: no texts go out but the practice text."),
    Texting.on: "",
    Texting.stopped: lazy("She wants no texts: call or visit."),
    Texting.unreachable: lazy("Texts do not reach this number: call or visit."),
    Texting.none: lazy("No number to text: call or visit."),
}
ENDS = {
    "finished": lazy("The schedule is over and nothing is open"),
    "moved": lazy("Followed by another facility, which agreed"),
    "declined": lazy("The mother wants no follow-up at all"),
    "baby_died": lazy("The baby died"),
    "mother_died": lazy("The mother died"),
    "admitted": lazy("Under the care of a hospital"),
    "duplicate": lazy("Enrolled twice"),
    "error": lazy("Enrolled by mistake"),
}
assert ENDS.keys() == CLOSED_REASONS.keys()

# Reasons are chosen, not written: they go into the audit, which holds nobody's words.
REASONS: Mapping[str, tuple[tuple[str, str], ...]] = {
    "withdraw": (
        ("misread", lazy("The program misread her words")),
        ("other_baby", lazy("It is about another baby, or somebody else")),
        ("corrected", lazy("She corrected it on the phone")),
        ("entered_wrongly", lazy("It was entered by mistake")),
    ),
    "urgency": (
        ("milder_on_phone", lazy("Milder than it reads: she was spoken to")),
        ("graver_on_phone", lazy("Graver than it reads")),
        ("seen_already", lazy("They were seen already")),
        ("protocol", lazy("Our protocol says so")),
    ),
    "put-off": (
        ("call_again", lazy("She did not answer: I call again")),
        ("time_agreed", lazy("She was spoken to, and a time is agreed")),
        ("visit_planned", lazy("Somebody visits her")),
    ),
    "hold": (
        ("death_feared", lazy("A death, or fear of one")),
        ("number_doubted", lazy("The number is doubted")),
        ("family_asked", lazy("The family asked for it")),
    ),
    "stop": (
        ("she_asked", lazy("She asked for it")),
        ("not_private", lazy("Her phone is not private")),
    ),
    "away": (
        ("in_hospital", lazy("Mother or baby is in hospital")),
        ("baby_elsewhere", lazy("The baby is not with her")),
    ),
}

_SEX = {"female": lazy("girl"), "male": lazy("boy")}
_PLACES = {
    "with_mother": lazy("with her"),
    "neonatal_unit": lazy("in the neonatal unit"),
    "elsewhere": lazy("elsewhere"),
}
_BIRTHS = {
    "vaginal": lazy("vaginal"),
    "assisted": lazy("assisted"),
    "caesarean": lazy("caesarean"),
}
_EXTRA = {
    "lives_at": lazy("Lives at"),
    "nearest_facility": lazy("Nearest facility"),
    "second_contact_name": lazy("Second contact"),
    "second_contact_phone": lazy("Phone of the second contact"),
}


def facts(pair: Pair) -> list[tuple[str, str]]:
    """Give what was written at discharge; what nobody knows is left out."""
    return [(name, value) for name, value in _facts(pair) if value]


def _facts(pair: Pair) -> Iterator[tuple[str, str]]:
    mother = pair.mother
    for baby in pair.babies:
        yield baby_name(pair, baby.ordinal), ", ".join(_of_baby(baby))
    yield _("Mother's age"), str(mother.age or "")
    yield _("Births before and with this one"), str(mother.parity or "")
    yield _("Birth"), _(_BIRTHS.get(mother.birth_mode, mother.birth_mode)) if mother.birth_mode else ""
    yield _("Discharged"), moment(pair.discharged_at, pair.tz)
    yield _("Site"), pair.site.name
    yield _("Her language"), tag_words(mother.language)
    yield _("What her phone shows"), _("Latin letters only") if mother.latin else ""
    yield _("She agreed to"), ", ".join(_consent(pair))
    for key, name in _EXTRA.items():
        yield _(name), str(pair.extra.get(key, ""))
    of_ward = "" if pair.external_id.startswith(MADE_UP) else pair.external_id
    yield _("Number on the ward's form"), of_ward


def _of_baby(baby: Baby) -> Iterator[str]:
    if baby.sex:
        yield _(_SEX.get(baby.sex, baby.sex))
    if baby.birth_weight_g:
        yield _("%(g)s g at birth", g=baby.birth_weight_g)
    if baby.gestation_weeks:
        yield _("born at %(n)s weeks", n=number(baby.gestation_weeks))
    if baby.place != "with_mother":
        yield _(_PLACES.get(baby.place, baby.place))
    if baby.feeding_plan:
        yield baby.feeding_plan


def _consent(pair: Pair) -> Iterator[str]:
    consent = pair.consent
    agreed = (
        (consent.texts, _("texts")),
        (consent.calls, _("calls")),
        (consent.second_contact, _("a second contact")),
        (consent.home_visit, _("a visit at home")),
        (consent.research, _("use for research")),
    )
    yield from (words for given, words in agreed if given)

"""What an enrolment holds and what is wrong with it: the input and the sites come in, a pair ready for the
event `Enrolled` goes out, or every fault at once.

Impossible facts are refused; unusual ones pass when `confirmed` names their field; unknown ones say so by
being null, and a birth date alone says that the hour is unknown.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from bot.core.cover import lacks
from bot.core.enrolment.babies import read_babies
from bot.core.enrolment.fields import Fault, Notes, Part, wording
from bot.core.enrolment.stay import Stay
from bot.core.pair import Consent, Mother, Pair, Site
from bot.core.phone import Standing, read_phone
from bot.core.states import EnrolmentState, Texting

# Impossible below and above. Common practice, no source.
AGE_YEARS = (10, 65)
PARITY = (0, 25)

FOLLOW_UP_BY = ("text", "call", "visit")
NO_NUMBER = wording("give her number; without one, say whether she is followed by call or visit")
PHONE_IN_USE = wording(
    "is the number of another mother under follow-up; check it, and confirm it if both use this phone"
)
BIRTH_MODES = ("vaginal", "assisted", "caesarean")


@dataclass(frozen=True, slots=True)
class Terms:
    """What the service knows when it examines: the sites by code, the languages it can text in, the name of
    the schedule for new pairs, whether this is a demo (numbers reserved for fiction pass there)."""

    sites: Mapping[str, Site]
    languages: tuple[str, ...]
    schedule: str = "standard"
    demo: bool = False
    approved: bool = True  # a clinical lead has signed the content as it stands
    no_latin: frozenset[str] = frozenset()  # languages in another script, without texts in Latin letters


@dataclass(frozen=True, slots=True)
class Examined:
    """`pair` is None while anything is wrong. `facts` is what was understood, by dotted name, whether or not
    the whole was accepted; it is what a repeated enrolment is compared by."""

    site: Site | None
    external_id: str
    facts: Mapping[str, Any]
    confirmed: frozenset[str]
    faults: tuple[Fault, ...]
    pair: Pair | None

    def asking(self, field: str, words: str) -> Examined:
        """Give this with one more fact that is unusual, unless it was confirmed."""
        if field in self.confirmed:
            return self
        return replace(self, faults=(*self.faults, Fault(field, words, words, {}, confirm=True)), pair=None)


def examine(raw: object, terms: Terms, now: datetime) -> Examined:
    """Read the discharge details of one mother. Never raises; `raw` may be anything that JSON can hold."""
    notes = Notes()
    root = Part(raw, notes)
    notes.confirmed = root.words("confirmed", most=60)
    notes.facts.clear()
    return _Examination(root, terms, now).result()


class _Examination:
    """One reading of one input: the parts in the order of a discharge talk, then what holds between them."""

    def __init__(self, root: Part, terms: Terms, now: datetime) -> None:
        self.root, self.terms, self.now, self.notes = root, terms, now, root.notes
        site = self._site()
        name = root.text("external_id", 64, needed=wording("give the ward's number or name for this stay"))
        self.site = site
        self.stay = Stay(site, name, self._discharged_at(), now)

    def result(self) -> Examined:
        root, stay = self.root, self.stay
        consent = self._consent()
        follow_up_by = root.choice("follow_up_by", FOLLOW_UP_BY, "text") or "text"
        mother = self._mother(follow_up_by, consent)
        babies = read_babies(root, stay, consent.taken_by)
        extra = self._extra(consent)
        preferred_hour = root.whole("preferred_hour", 0, 23, "o'clock")
        root.refuse_the_rest()
        pair = None
        if not self.notes.faults and stay.site and stay.discharged_at and mother:
            pair = Pair(
                id=stay.an_id("enrolment"),
                external_id=stay.external_id,
                site=stay.site,
                mother=mother,
                babies=tuple(baby for baby, _ in babies),
                discharged_at=stay.discharged_at,
                enrolled_at=self.now,
                consent=consent,
                preferred_hour=preferred_hour,
                follow_up_by=follow_up_by,
                schedule=self.terms.schedule,
                state=EnrolmentState.following,
                wake_at=None,  # the transition sets it
                assessments=tuple(seen for _, seen in babies if seen),
                extra=extra,
            )
        notes = self.notes
        return Examined(stay.site, stay.external_id, notes.facts, notes.confirmed, tuple(notes.faults), pair)

    # ---- the stay

    def _site(self) -> Site | None:
        code = self.root.text("site", 64, needed=wording("give the code of the site"))
        found = self.terms.sites.get(code)
        if code and found is None:
            known = ", ".join(sorted(self.terms.sites))
            self.root.refuse("site", "is not the code of one of your sites: %(known)s", known=known)
        elif found is not None and not self.terms.demo and lacks(found):
            self.root.refuse("site", "can't follow mothers yet: ask whoever runs the service to complete it")
        return found

    def _discharged_at(self) -> datetime | None:
        at = self.root.moment(
            "discharged_at",
            self.site.tz if self.site else None,
            self.now,
            needed=wording("give the date and hour at which they leave"),
        )
        if at is not None and at > self.now:
            self.root.refuse("discharged_at", "lies in the future; enrol them when they leave")
        return at

    def _consent(self) -> Consent:
        given = self.root.given("consent")
        if given is None or given is False or (isinstance(given, str) and given.lower() in ("no", "false")):
            self.root.refuse("consent", "is missing: without her agreement she can't be followed")
            return Consent(texts=True, calls=True)
        if given is True or isinstance(given, str):
            agreed = self.root.flag("consent", False)
            self.notes.facts.pop("consent", None)
            given = {"texts": agreed, "calls": agreed}
        part = Part(given, self.notes, "consent")
        consent = Consent(
            texts=part.flag("texts", False),
            calls=part.flag("calls", False),
            second_contact=part.flag("second_contact", False),
            home_visit=part.flag("home_visit", False),
            research=part.flag("research", False),
            taken_by=part.text("taken_by", 100),
            language=part.text("language", 40),
        )
        part.refuse_the_rest()
        return consent

    def _extra(self, consent: Consent) -> Mapping[str, str]:
        extra = {name: self.root.text(name) for name in ("lives_at", "nearest_facility")}
        given = self.root.given("second_contact")
        part = Part(given, self.notes, "second_contact")
        if given:
            if not consent.second_contact:
                part.refuse("", "needs her agreement: consent.second_contact must be yes")
            extra["second_contact_name"] = part.text(
                "name", 100, needed=wording("give the name of this person")
            )
            extra["second_contact_phone"] = self._phone(part, wording("give this person's number")) or ""
            extra["second_contact_may_know"] = "yes" if part.flag("may_know", False) else "no"
        part.refuse_the_rest()
        if self.notes.confirmed:
            extra["confirmed"] = ", ".join(sorted(self.notes.confirmed))
        return {name: value for name, value in extra.items() if value}

    # ---- the mother

    def _mother(self, follow_up_by: str, consent: Consent) -> Mother | None:
        part = self.root.part("mother")
        name = part.text("name", 100, needed=wording("give her name"))
        phone = self._phone(part, NO_NUMBER, follow_up_by)
        language = part.choice("language", self.terms.languages)
        if part.given("language") is None:
            known = ", ".join(self.terms.languages)
            part.refuse("language", "give the language of her texts: %(known)s", known=known)
        latin = part.flag("latin", False)
        if latin and language in self.terms.no_latin:
            part.refuse("latin", "no texts exist in Latin letters in this language; choose another, or calls")
        # Not said to be hers alone: texts name nobody and nothing.
        shared = part.flag("phone_shared", phone is not None)
        age = part.whole("age", *AGE_YEARS, "years")
        parity = part.whole("parity", *PARITY, "births")
        birth_mode = part.choice("birth_mode", BIRTH_MODES) or ""
        risks = part.words("risks")
        part.refuse_the_rest()
        self._agreed(follow_up_by, consent)
        if self.site is None or language is None:
            return None
        return Mother(
            id=self.stay.an_id("mother"),
            name=name,
            phone=phone,
            language=language,
            phone_shared=shared,
            texting=_texting(phone, follow_up_by, consent),
            age=age,
            parity=parity,
            birth_mode=birth_mode,
            risks=risks,
            latin=latin,
        )

    def _agreed(self, follow_up_by: str, consent: Consent) -> None:
        if follow_up_by == "text" and not consent.texts:
            self.root.refuse("follow_up_by", "she did not agree to texts: give call or visit")
        if follow_up_by == "call" and not consent.calls:
            self.root.refuse("follow_up_by", "she did not agree to calls: give text or visit")

    def _phone(self, part: Part, needed: str, follow_up_by: str = "text") -> str | None:
        text = part.text("phone", 40)
        part.keep("phone", None)
        if not text:
            if follow_up_by == "text":
                part.refuse("phone", needed)
            return None
        read = read_phone(text, self.site.region if self.site else None)
        if read.standing is Standing.impossible and (self.site or text.startswith("+")):
            part.refuse("phone", "is no possible number; check its digits and, from abroad, its +code")
        elif read.standing is Standing.reserved and not self.terms.demo:
            part.refuse("phone", "is a number kept free for fiction; it reaches nobody")
        elif not self.terms.demo and not self.terms.approved:
            part.refuse("phone", "is refused until a clinical lead has signed the content as it stands")
        elif read.standing is Standing.unusual:
            part.ask("phone", "has the right length, but no such numbers are known; check and confirm it")
        part.keep("phone", read.e164 or None)
        return read.e164 or None


def _texting(phone: str | None, follow_up_by: str, consent: Consent) -> Texting:
    """A number that may be texted is tried first; one that may not stays for calls."""
    if phone is None:
        return Texting.none
    return Texting.unverified if follow_up_by == "text" and consent.texts else Texting.stopped

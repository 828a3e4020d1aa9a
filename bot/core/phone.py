"""A phone number as somebody wrote it and the region it was written in come in; E.164 and how far it can be
trusted go out.

Whether a number is valid follows the numbering plans of the installed release of `phonenumbers`, which age;
whether it is possible follows from its length alone. So a possible number that is not valid is asked about,
not refused.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

import phonenumbers
from phonenumbers import NumberParseException, PhoneNumberFormat, ValidationResult

E164_MOST_DIGITS = 15  # ITU-T E.164, country code included (restatements of it; the clause was not seen)

# Ranges that reach nobody, kept free for stories, tests and teaching, by who keeps them so. In E.164.
RESERVED: Mapping[str, re.Pattern[str]] = {
    "Ofcom, numbers for drama: mobile, London, no area": re.compile(
        r"\+44(7700900\d{3}|2079460\d{3}|1632960\d{3})"
    ),
    "North American Numbering Plan, 555-0100 to 555-0199": re.compile(r"\+1[2-9]\d{2}55501\d{2}"),
    "ACMA, numbers for radio, film and television": re.compile(
        r"\+61(491570(006|110|15[6-9]|313|737)|491571266|[2378](5550|7010)\d{4})"
    ),
    "Arcep, numbers for audiovisual works": re.compile(r"\+33(19900|26191|35301|46571|53649|63998)\d{4}"),
    "ComReg, numbers for drama": re.compile(r"\+3532091\d{5}"),
    "PTS, fictitious numbers": re.compile(r"\+46701740(60[5-9]|6[1-9]\d)"),
}


class Standing(StrEnum):
    valid = "valid"  # the numbering plan knows it
    unusual = "unusual"  # its length is right, but the plan does not know it
    reserved = "reserved"  # kept free for fiction: reaches nobody
    impossible = "impossible"  # no number there looks like this


@dataclass(frozen=True, slots=True)
class Phone:
    """A number read; `e164` is empty when it is impossible."""

    e164: str
    standing: Standing


NO_PHONE = Phone("", Standing.impossible)


def read_phone(text: str, region: str | None) -> Phone:
    """Read a number in national or international form, in digits of any script. Never raises.

    region  ISO 3166-1 alpha-2; None reads only numbers that begin with + and a country code
    """
    if any(sign.isalpha() for sign in text):  # words for digits and extensions are no mobile numbers
        return NO_PHONE
    try:
        number = phonenumbers.parse(text, region)
    except NumberParseException:
        return NO_PHONE
    e164 = phonenumbers.format_number(number, PhoneNumberFormat.E164)
    if number.extension or len(e164) > 1 + E164_MOST_DIGITS:
        return NO_PHONE
    return Phone(e164, _standing(number, e164))


def is_reserved(e164: str) -> bool:
    """Tell whether a number lies in a range kept free for fiction."""
    return any(pattern.fullmatch(e164) for pattern in RESERVED.values())


def _standing(number: phonenumbers.PhoneNumber, e164: str) -> Standing:
    if is_reserved(e164):
        return Standing.reserved
    if phonenumbers.is_valid_number(number):
        return Standing.valid
    if phonenumbers.is_possible_number_with_reason(number) == ValidationResult.IS_POSSIBLE:
        return Standing.unusual
    return Standing.impossible

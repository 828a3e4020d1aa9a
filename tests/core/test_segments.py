"""Texts are counted as the network counts them (3GPP TS 23.038, 6.2.1; 3GPP TS 23.040, 9.2.3.24.1)."""

from __future__ import annotations

import codecs
from unicodedata import normalize

import gsm0338
import pytest
import smsutil
from hypothesis import given
from hypothesis import strategies as st

from bot.core.segments import count, sendable

# Units counted by hand; segments agree with two independent splitters.
WORKED = [
    ("a" * 160, "GSM-7", 160, 1),
    ("a" * 161, "GSM-7", 161, 2),
    ("a" * 306, "GSM-7", 306, 2),
    ("a" * 307, "GSM-7", 307, 3),
    ("€" * 80, "GSM-7", 160, 1),
    ("€" * 81, "GSM-7", 162, 2),
    ("a" * 152 + "€" + "a" * 152, "GSM-7", 306, 3),
    ("a" * 159 + "[", "GSM-7", 161, 2),
    ("a" * 159 + "\u2019", "UCS-2", 160, 3),
    ("Bébé tète à 7 h, très bien", "GSM-7", 26, 1),
    ("Ça va ? Reçu", "UCS-2", 12, 1),
    ("Tête", "UCS-2", 4, 1),
    ("Não", "UCS-2", 3, 1),
    ("¿Cuántos pañales?", "UCS-2", 17, 1),
    ("¿Tiene dolor hoy, señora?", "GSM-7", 25, 1),
    ("Mtoto amenyonya mara ngapi leo?", "GSM-7", 31, 1),
    ("Berapa kali bayi menyusu hari ini?", "GSM-7", 34, 1),
    ("Jariri ya sha nono sau nawa?", "GSM-7", 28, 1),
    ("Lafiya ƙwarai", "UCS-2", 13, 1),
    ("आज बच्चे ने कितनी बार दूध पिया?", "UCS-2", 31, 1),
    ("আজ কতবার দুধ খেয\u09bcেছে?", "UCS-2", 21, 1),
    ("আজ কতবার দুধ খে\u09dfেছে?", "UCS-2", 20, 1),
    ("كم مرة رضع اليوم؟", "UCS-2", 17, 1),
    ("آج کتنی بار دودھ پیا؟", "UCS-2", 21, 1),
    ("ዛሬ ስንት ጊዜ ጠባ?", "UCS-2", 13, 1),
    ("ا" * 70, "UCS-2", 70, 1),
    ("ا" * 71, "UCS-2", 71, 2),
    ("ا" * 134, "UCS-2", 134, 2),
    ("ا" * 135, "UCS-2", 135, 3),
    ("ا" * 66 + "👶" + "ا" * 66, "UCS-2", 134, 3),
    ("👶" * 35, "UCS-2", 70, 1),
    ("👶" * 36, "UCS-2", 72, 2),
    ("Ok 👶", "UCS-2", 5, 1),
    ("👩\u200d👧", "UCS-2", 5, 1),
    ("3\ufe0f\u20e3", "UCS-2", 3, 1),
    ("8\th", "UCS-2", 3, 1),
    ("8\u00a0h", "UCS-2", 3, 1),
    ("`8`", "UCS-2", 3, 1),
    ("cafe\u0301", "UCS-2", 5, 1),
    ("8 feeds\n6 wet", "GSM-7", 13, 1),
    ("8 feeds\r\n6 wet", "GSM-7", 14, 1),
    ("A{1}~", "GSM-7", 8, 1),
    ("", "GSM-7", 0, 1),
]

# Mostly letters of the alphabet at stake, so that long texts often stay inside it.
gsm_texts = st.text(st.sampled_from("abc €[]{}^~|\\\n@£Δé0"), max_size=400)
any_texts = st.one_of(gsm_texts, st.text(st.sampled_from("aا👶ç€"), max_size=250), st.text(max_size=250))


@pytest.mark.parametrize(("text", "encoding", "units", "segments"), WORKED)
def test_worked_examples_are_counted_to_the_unit(text, encoding, units, segments):
    counted = count(text)
    assert (counted.encoding, counted.units, counted.segments) == (encoding, units, segments)


def test_every_character_of_the_basic_plane_counts_as_in_an_independent_codec():
    codec = gsm0338.Codec()
    for point in range(0x10000):
        if 0xD800 <= point < 0xE000 or point == 0x1B:  # half a pair is no text; ESC is no character
            continue
        try:
            septets = len(codec.encode(chr(point))[0])
        except UnicodeError:
            assert count(chr(point)).encoding == "UCS-2", hex(point)
        else:
            assert (count(chr(point)).encoding, count(chr(point)).units) == ("GSM-7", septets), hex(point)


@given(any_texts.filter(lambda text: "\x1b" not in text))
def test_any_text_splits_as_in_an_independent_splitter(text):
    theirs = smsutil.split(text)
    ours = count(text)
    assert ours.segments == max(1, len(theirs.parts))
    assert ours.units == sum(_units(part.content, ours.encoding) for part in theirs.parts)


def _units(text: str, encoding: str) -> int:
    if encoding == "UCS-2":
        return len(codecs.encode(text, "utf-16-be")) // 2
    return len(gsm0338.Codec().encode(text)[0])


@pytest.mark.parametrize(
    ("written", "sent"),
    [
        ("Don\u2019t wait \u2013 call", "Don't wait - call"),
        ("\u201c8\u201d feeds\u2026", '"8" feeds...'),
        ("8\u00a0feeds", "8 feeds"),
        ("Be\u0301be\u0301", "Bébé"),  # composed, it is in the alphabet
        ("Reçu \u2013 merci", "Reçu \u2013 merci"),  # the ç decides; the dash costs nothing more
        ("Lafiya ƙwarai", "Lafiya ƙwarai"),
        ("رضع \u2013 نعم", "رضع \u2013 نعم"),
    ],
)
def test_only_signs_that_cost_are_made_plain(written, sent):
    assert sendable(written) == sent


@given(any_texts)
def test_making_a_text_sendable_never_costs_more_and_changes_no_letter(text):
    sent = sendable(text)
    assert count(sent).segments <= count(normalize("NFC", text)).segments
    assert sendable(sent) == sent
    letters = [char for char in normalize("NFC", text) if char.isalnum()]
    assert [char for char in sent if char.isalnum()] == letters

"""Signed languages: until a named clinician has approved the words, a person reads every reply."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from bot.content.factory import load_factory
from bot.core.errors import Invalid
from bot.core.follow import follow
from bot.core.follow.events import ReplyRead
from bot.core.reader import read
from bot.core.states import Urgency
from bot.steps.languages import sign, signature_of, unsigned
from bot.store.engine import Store
from bot.store.values import sign_language
from tests.support.life import Life, a_life, standard_content
from tests.support.pairs import an_id

ON = date(2026, 3, 1)


def replies_unsigned(life: Life, text: str, n: int) -> Life:
    """She writes while nobody has signed English."""
    content = replace(standard_content(), unsigned=frozenset({"en"}))
    question = life.pair.open_check_in.questions[0] if life.pair.open_check_in else None
    reading = read(text, [question.key] if question else [], 5, load_factory().lexicons["en"])
    event = ReplyRead(an_id("inbound", n), life.now, reading, question.id if question else None)
    life.pair, life.last = follow(life.pair, event, content, life.now)
    life.effects += life.last
    return life


def test_an_ordinary_reply_goes_to_a_person_too_and_the_check_in_goes_on():
    life = replies_unsigned(a_life().wake_until("day-3"), "no", 801)
    assert life.rules == {"language_unsigned"}
    assert life.item is not None
    assert life.item.urgency is Urgency.routine
    assert life.new_texts[0] == "person-reads"  # it carries the caution
    assert life.open_question is not None  # and the next question is asked all the same


def test_a_danger_needs_no_second_reason():
    life = replies_unsigned(a_life().wake_until("day-3"), "the baby has fits", 802)
    assert "language_unsigned" not in life.rules
    assert life.item is not None
    assert life.item.urgency is Urgency.go_now


def test_the_caution_comes_once_a_day():
    life = replies_unsigned(a_life().wake_until("day-3"), "no", 803)
    first = [e.once_key for e in life.last if getattr(e, "text_key", "") == "person-reads"]
    replies_unsigned(life, "thank you", 804)
    again = [e.once_key for e in life.last if getattr(e, "text_key", "") == "person-reads"]
    assert first == again  # the store makes a text of one key once


def test_a_signature_holds_until_anything_that_was_signed_changes(store: Store):
    with store.write() as conn:
        assert unsigned(conn, ["en", "ar"]) == {"en", "ar"}
        signed = sign(conn, "ar", "Dr Layla Invented", "paediatrician", "R-1", ON)
        assert signature_of(conn, "ar") == (signed, True)
        assert unsigned(conn, ["en", "ar"]) == {"en"}
        sign_language(conn, "ar", signature(signed, sha256="0" * 64))
        assert unsigned(conn, ["en", "ar"]) == {"en", "ar"}


def signature(signed: object, **changes: str) -> dict[str, str]:
    fields = ("by", "role", "registration", "on", "sha256")
    return {name: str(getattr(signed, name)) for name in fields} | changes


def test_nobody_signs_without_name_role_and_registration(store: Store):
    with store.write() as conn, pytest.raises(Invalid) as refused:
        sign(conn, "ar", " ", "", "", ON)
    assert {problem.field for problem in refused.value.problems} == {"name", "role", "registration"}

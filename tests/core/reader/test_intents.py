"""Wishes: to stop, to start again, to be called; wrong number; a death; thanks.

Keywords: common practice of text-message services (STOP, START, HELP); local words await review by speakers.
"""

from __future__ import annotations

import pytest

from bot.core.reader import Intent, Reason
from tests.support.reading import reading_of

INTENTS = [
    ("en", "STOP", Intent.OPT_OUT),
    ("en", "stop.", Intent.OPT_OUT),
    ("en", "Stop please", Intent.OPT_OUT),
    ("en", "UNSUBSCRIBE", Intent.OPT_OUT),
    ("en", "please stop these texts", Intent.OPT_OUT),
    ("en", "no more sms", Intent.OPT_OUT),
    ("ar", "STOP", Intent.OPT_OUT),
    ("ar", "الغاء الاشتراك", Intent.OPT_OUT),
    ("ar", "وقفوا الرسائل", Intent.OPT_OUT),
    ("en", "START", Intent.OPT_IN),
    ("ar", "ابدأ", Intent.OPT_IN),
    ("en", "call me", Intent.CALL_ME),
    ("en", "HELP", Intent.CALL_ME),
    ("en", "can someone phone me please", Intent.CALL_ME),
    ("ar", "اتصلوا بي لو سمحتوا", Intent.CALL_ME),
    ("ar", "محتاجة اتكلم مع حد", Intent.CALL_ME),
    ("en", "wrong number", Intent.WRONG_NUMBER),
    ("en", "i dont have any baby", Intent.WRONG_NUMBER),
    ("ar", "الرقم غلط", Intent.WRONG_NUMBER),
    ("en", "my baby passed away", Intent.BEREAVED),
    ("en", "we lost her last night", Intent.BEREAVED),
    ("ar", "توفي طفلي يوم الاحد", Intent.BEREAVED),
    ("ar", "الله يرحمه راح لربه امبارح", Intent.BEREAVED),
    ("en", "thank you", Intent.THANKS),
    ("ar", "جزاكم الله خير", Intent.THANKS),
]

NO_OPT_OUT = [
    ("en", "he won't stop crying"),
    ("en", "bleeding did not stop"),
    ("en", "should I stop feeding?"),
    ("en", "don't stop the messages"),
    ("en", "he stopped feeding"),
    ("ar", "الدم ما وقف"),
    ("ar", "توقف عن الرضاعة"),
]


@pytest.mark.parametrize(("language", "text", "intent"), INTENTS)
def test_a_wish_is_heard_with_no_question_open(language: str, text: str, intent: Intent) -> None:
    reading = reading_of(text, language=language)
    assert reading.intent is intent
    heard_by_program = {Intent.OPT_OUT, Intent.OPT_IN, Intent.THANKS}
    assert reading.needs_person is (intent not in heard_by_program)


@pytest.mark.parametrize("asking", ["", "feeds", "worry"])
@pytest.mark.parametrize(("language", "text"), NO_OPT_OUT)
def test_stop_inside_a_sentence_is_no_opt_out(language: str, text: str, asking: str) -> None:
    reading = reading_of(text, *asking.split(), language=language)
    assert reading.intent is not Intent.OPT_OUT
    assert reading.needs_person


def test_a_bare_local_stop_after_a_feeding_question_is_asked_about() -> None:
    doubtful = reading_of("توقف", "feeds", language="ar")
    assert doubtful.intent is Intent.UNCLEAR
    assert Reason.OPT_OUT_UNSURE in doubtful.reasons
    assert reading_of("توقف", language="ar").intent is Intent.OPT_OUT
    assert reading_of("STOP", "feeds", language="ar").intent is Intent.OPT_OUT


@pytest.mark.parametrize("text", ["he passed urine", "my phone died", "i thought he had died but he is ok"])
def test_dying_and_passing_in_another_sense_is_no_bereavement(text: str) -> None:
    assert reading_of(text).intent is not Intent.BEREAVED


def test_the_gravest_intent_leads_and_the_danger_still_counts() -> None:
    assert reading_of("baby died yesterday. please call me", "feeds").intent is Intent.BEREAVED
    both = reading_of("wrong number. my baby is hot", "feeds")
    assert both.intent is Intent.WRONG_NUMBER
    assert both.danger_signs == ("baby_hot",)
    assert reading_of("she is very hot", "feeds").intent is Intent.CALL_ME
    assert reading_of("8 and she is very hot", "feeds").intent is Intent.ANSWER


@pytest.mark.parametrize("intent_text", ["baby died, he fed 8 times before", "wrong number, 8"])
def test_a_death_or_a_wrong_number_answers_nothing(intent_text: str) -> None:
    assert reading_of(intent_text, "feeds").answers == {}


def test_no_need_for_them_again_is_no_wish_to_have_them_back() -> None:
    assert reading_of("no need for these messages again thanks").intent is Intent.OPT_OUT
    assert reading_of("i want the messages again").intent is Intent.OPT_IN
    assert reading_of("i dont want the messages again").intent is not Intent.OPT_IN

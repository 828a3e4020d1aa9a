"""How people answer numbers by text. Common practice, no source; the words of the Arabic are not reviewed."""

from __future__ import annotations

import pytest

from bot.core.reader import RETRIABLE, Amount, Reason
from tests.support.reading import bounds_of, reading_of

ENGLISH = {
    "8": (8, 8), "8.": (8, 8), "8times": (8, 8), "8x": (8, 8), "eight": (8, 8), "EIGHT": (8, 8), "８": (8, 8),
    "3️⃣": (3, 3), "٨": (8, 8), "८": (8, 8), "৮": (8, 8), "፰": (8, 8),
    "8-10": (8, 10), "8 to 10": (8, 10), "8 or 9": (8, 9), "between 8 and 10": (8, 10),
    "about 8": (8, 8), "8ish": (8, 8), "~8": (8, 8),
    "8+": (8, None), "more than 8": (9, None), "at least 8": (8, None), "less than 6": (None, 5),
    "every 3 hours": (8, 8), "every 2-3 hours": (8, 12),
    "4 in the morning 3 at night": (7, 7), "five in the day and four at night": (9, 9),
    "twice": (2, 2), "a dozen": (12, 12), "none": (0, 0), "0": (0, 0), "no": (0, 0), "not yet": (0, 0),
    "5 times maybe 6": (5, 6), "five, maybe six": (5, 6), "5 feeds or 6 feeds": (5, 6),
    "in 24 hours 8 times": (8, 8),
    "20 minutes, 8 times": (8, 8),
    "5+4=9": (9, 9), "(4 + 3) 7 times": (7, 7),
    "3 in the morning, 2 after lunch and 4 in the night so 9": (9, 9),
    "6 feeds in the day then 4 at night": (10, 10), "8 feeds n 6 wees": (8, 8), "feed8": (8, 8),
    "8. soaking a pad every hour": (8, 8), "8 can he have water": (8, 8),
    "10, no, 11": (11, 11), "ten. no, eleven": (11, 11), "on a scale of 1-10 8": (8, 8),
    "left 5 right 4": (9, 9),
    "between 6 & 8": (6, 8), "seven/eight": (7, 8), "was 6 now 2": (2, 2),
    "never more than 5": (None, 5), "nothing less than 8": (8, None), "8 at the most": (None, 8),
    "not 8, 6": (6, 6), "6 no sorry 7": (7, 7), "> How many feeds? 8": (8, 8), "sevn": (7, 7),
}  # fmt: skip
ARABIC = {
    "٨": (8, 8), "٨ مرات": (8, 8), "تمن مرات": (8, 8), "ثمانية": (8, 8), "tamanya": (8, 8),
    "كل ثلاث ساعات": (8, 8), "حوالي تسعة": (9, 9), "خمسة بالنهار وأربعة بالليل": (9, 9),
    "خمس مرات يمكن ست": (5, 6),
    "كل ساعتين تلاتة": (8, 12), "٨ مرات آخر مرة الساعة ٩": (8, 8),
    "٨-١٠": (8, 10), "eight": (8, 8), "8": (8, 8), "لا": (0, 0),
}  # fmt: skip

HINDI = {
    "5 baar shayad 6": (5, 6),
    "do teen baar": (2, 3), "saat aath": (7, 8), "सात आठ बार": (7, 8), "aath dus": (8, 10),
    "हर बार 15 मिनट, कुल 8 बार": (8, 8),
    "to teen baar": (3, 3), "teen baar": (3, 3), "24 ghante me 8 baar": (8, 8),
}  # fmt: skip
SIGNS = {
    ("en", "9 or +"): (9, None), ("fr", "9 ou +"): (9, None), ("pt", "8 ou -"): (None, 8),
    ("fr", "+ de 8"): (9, None), ("pt", "- de 5"): (None, 4), ("es", "- de 5"): (None, 4),
    ("es", "- de 8 a 10 veces"): (8, 10), ("pt", "- de 3 em 3 horas"): (8, 8),
}  # fmt: skip
SPANISH = {"c/3 horas": (8, 8), "toma pecho c/3 horas": (8, 8), "c/2 hrs": (12, 12), "cada 3 horas": (8, 8)}


@pytest.mark.parametrize(("text", "expected"), ENGLISH.items())
def test_a_number_of_feeds_is_read(text: str, expected: tuple[float, float]) -> None:
    assert bounds_of(reading_of(text, "feeds"), "feeds") == expected


@pytest.mark.parametrize(("text", "expected"), ARABIC.items())
def test_a_number_of_feeds_is_read_in_arabic(text: str, expected: tuple[float, float]) -> None:
    assert bounds_of(reading_of(text, "feeds", language="ar"), "feeds") == expected


@pytest.mark.parametrize(
    ("language", "text", "expected"),
    [("hi", *each) for each in HINDI.items()] + [("es", *each) for each in SPANISH.items()],
)
def test_a_number_of_feeds_is_read_in_other_languages(
    language: str, text: str, expected: tuple[float, float]
) -> None:
    assert bounds_of(reading_of(text, "feeds", language=language), "feeds") == expected


@pytest.mark.parametrize(("said", "expected"), SIGNS.items())
def test_a_sign_may_stand_for_more_or_less(
    said: tuple[str, str], expected: tuple[float | None, float | None]
) -> None:
    language, text = said
    reading = reading_of(text, "feeds", language=language)
    assert (bounds_of(reading, "feeds"), reading.needs_person) == (expected, False)


@pytest.mark.parametrize(
    ("language", "text", "asked"),
    [
        ("pt", "não os peitos um pouco pesados", "mother_danger"),
        ("en", "no breast is ok", "mother_danger"),
        ("en", "no feeds", "baby_danger"),
    ],
)
def test_a_bare_no_beside_the_feeds_of_another_question_counts_none(
    language: str, text: str, asked: str
) -> None:
    reading = reading_of(text, asked, language=language)
    assert "feeds" not in reading.answers
    assert reading.needs_person


def test_words_that_only_look_english_are_read_in_their_own_language() -> None:
    both = reading_of("8 veces y 6 pañales mojados", "feeds", language="es")
    assert (bounds_of(both, "feeds"), bounds_of(both, "wet_nappies")) == ((8, 8), (6, 6))
    in_order = reading_of("no y 9", "baby_danger", "feeds", language="es")
    assert bounds_of(in_order, "baby_danger") is False
    assert bounds_of(in_order, "feeds") == (9, 9)
    assert reading_of("y", "worry", language="es").answers == {}
    assert not reading_of("8 baar doodh pee raha he", "feeds", language="hi").needs_person


@pytest.mark.parametrize(("text", "intent"), [("call me", "call_me"), ("please call me now", "call_me")])
def test_english_still_stands_behind_a_language_with_such_words(text: str, intent: str) -> None:
    assert reading_of(text, "worry", language="hi").intent.value == intent
    assert "self_harm" in reading_of("bahut pareshan i want to die", "worry", language="hi").danger_signs


def test_two_numbers_said_together_are_two_answers_where_two_are_asked() -> None:
    reading = reading_of("saat aath", "feeds", "wet_nappies", language="hi")
    assert (bounds_of(reading, "feeds"), bounds_of(reading, "wet_nappies")) == ((7, 7), (8, 8))


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("en", "7 breast 2 cup"),
        ("en", "7 breast 1 formula"),
        ("en", "10 times yesterday, 3 today"),
        ("es", "7 pecho y 2 de formula"),
        ("ar", "7 صدر 2 كوب"),
        ("hi", "7 baar doodh 2 bottle"),
        ("am", "7 ጡት 2 ኩባያ"),
        ("es", "10 veces ayer, 3 hoy"),
        ("ar", "امبارح 10 مرات، اليوم 3"),
        ("hi", "kal 10 baar, aaj 3"),
        ("am", "ትናንት 10 ዛሬ 3"),
        ("en", "seven eight"),
        ("en", "two two hours"),
        ("en", "3 5 8"),
        ("hi", "aath chhe"),
        ("hi", "paanch das"),
        ("hi", "10 ghante me 8 baar"),
        ("es", "perdón es 8 no 18"),
        ("es", "son 8 no 18"),
        ("en", "sorry its 8 no 18"),
        ("bn", "8 na 9 bar"),
        ("pt", "2 em 2"),
        ("pt", "antes eram 6, agora 2"),
        ("fr", "il a pas tété 8 mais 6 fois"),
        ("en", "10 last week 4 this week"),
    ],
)
def test_what_may_mean_two_amounts_is_asked_about(language: str, text: str) -> None:
    assert Reason.SEVERAL_READINGS in reading_of(text, "feeds", language=language).reasons


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("80", Reason.IMPOSSIBLE),
        ("-3", Reason.IMPOSSIBLE),
        ("many", Reason.VAGUE),
        ("dont know", Reason.DONT_KNOW),
        ("ok", Reason.NO_VALUE),
        ("yes", Reason.NO_VALUE),
        ("no, all is well", Reason.NO_VALUE),
        ("he is 5 days old", Reason.NO_VALUE),
        ("I fed him 20 minutes", Reason.NO_VALUE),
    ],
)
def test_what_holds_no_number_of_feeds_is_no_answer_and_may_be_asked_again(text: str, reason: Reason) -> None:
    reading = reading_of(text, "feeds")
    assert "feeds" not in reading.answers
    assert reason in reading.reasons
    assert reason in RETRIABLE


@pytest.mark.parametrize(
    "text", ["8 and I also gave him water", "8 can he have water", "9. grandma gave tea"]
)
def test_food_that_was_not_asked_about_is_seen_by_a_person(text: str) -> None:
    assert Reason.OTHER_CONTENT in reading_of(text, "feeds").reasons


@pytest.mark.parametrize("text", ["- 8 feeds\n- 6 wet", "8 no water", "9, nothing but milk no formula"])
def test_dashes_of_a_list_and_food_denied_are_no_reason_to_look(text: str) -> None:
    assert not reading_of(text, "feeds").needs_person


def test_what_is_said_of_each_feed_counts_no_feeds() -> None:
    reading = reading_of("one after each feed so around 8", "dirty_nappies")
    assert {key: bounds_of(reading, key) for key in reading.answers} == {"dirty_nappies": (8, 8)}


def test_several_answers_in_one_reply_go_by_noun_then_by_order() -> None:
    by_noun = reading_of("feeds 7 wet 4 poo 2", "feeds")
    assert {key: bounds_of(by_noun, key) for key in by_noun.answers} == {
        "feeds": (7, 7),
        "wet_nappies": (4, 4),
        "dirty_nappies": (2, 2),
    }
    by_order = reading_of("8 6", "feeds", "wet_nappies")
    assert (bounds_of(by_order, "feeds"), bounds_of(by_order, "wet_nappies")) == ((8, 8), (6, 6))


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("no pain", (0, 0)),
        ("no", (0, 0)),
        ("not painful", (0, 0)),
        ("2.5", (2.5, 2.5)),
        ("8/10", (8, 8)),
    ],
)
def test_pain_is_a_place_on_a_scale(text: str, expected: tuple[float, float]) -> None:
    assert bounds_of(reading_of(text, "pain"), "pain") == expected


@pytest.mark.parametrize(("asked", "text", "language"), [("worry", "no", "en"), ("other_food", "لا", "ar")])
def test_no_is_no(asked: str, text: str, language: str) -> None:
    assert bounds_of(reading_of(text, asked, language=language), asked) is False


@pytest.mark.parametrize(
    ("asking", "text", "answers"),
    [
        ("feeds", "8 no pain", {"feeds": (8, 8), "pain": (0, 0)}),
        ("feeds", "no pain 8", {"feeds": (8, 8), "pain": (0, 0)}),
        ("feeds", "pain no 8 feeds", {"feeds": (8, 8), "pain": (0, 0)}),
        ("wet_nappies", "no wet 2 dirty", {"wet_nappies": (0, 0), "dirty_nappies": (2, 2)}),
        ("feeds", "no feeds", {"feeds": (0, 0)}),
    ],
)
def test_a_no_belongs_to_the_noun_beside_it_and_not_to_the_number(asking, text, answers):
    found = reading_of(text, asking)
    assert {key: bounds_of(found, key) for key in found.answers} == answers


def test_a_no_before_a_new_clause_is_an_answer_of_its_own():
    assert reading_of("no he feeds well", "baby_danger").answers == {"baby_danger": False}


@pytest.mark.parametrize(
    ("asking", "text", "answers"),
    [
        (["feeds"], "8 but it hurts when she feeds", {"feeds": (8, 8)}),
        (["feeds", "wet_nappies"], "6, maybe 7", {"feeds": (6, 6), "wet_nappies": (7, 7)}),
        (
            ["wet_nappies", "dirty_nappies"],
            "nappies 6 poo 4",
            {"wet_nappies": (6, 6), "dirty_nappies": (4, 4)},
        ),
        (["feeds"], "8 but no pain", {"feeds": (8, 8), "pain": (0, 0)}),
        (["feeds", "wet_nappies"], "9 feeds but i didnt count nappies", {"feeds": (9, 9)}),
    ],
)
def test_each_statement_has_its_own_answer(asking, text, answers):
    found = reading_of(text, *asking)
    assert {key: bounds_of(found, key) for key in found.answers} == answers


@pytest.mark.parametrize(
    ("language", "text", "expected"),
    [
        ("en", "day 6, night 3. total 9", (9, 9)),
        ("es", "de dia 5 y de noche 3", (8, 8)),
        ("fr", "jour 6 nuit 3 donc 9", (9, 9)),
        ("pt", "3/3h", (8, 8)),
        ("sw", "kila masaa 3", (8, 8)),
        ("ha", "bayan kowace awa 3", (8, 8)),
        ("pt", "mama 3/3 h", (8, 8)),
        ("es", "no 6 sino 8", (8, 8)),
        ("fr", "8 non attendez 9", (9, 9)),
    ],
)
def test_days_nights_and_corrections_are_read_in_other_languages(
    language: str, text: str, expected: tuple[float, float]
) -> None:
    assert bounds_of(reading_of(text, "feeds", language=language), "feeds") == expected


@pytest.mark.parametrize(
    ("language", "text"), [("en", "is 6 enough?"), ("fr", "6 c'est assez ?"), ("pt", "6 chega?")]
)
def test_a_question_about_a_number_is_seen_by_a_person(language: str, text: str) -> None:
    assert reading_of(text, "feeds", language=language).needs_person


@pytest.mark.parametrize("text", ["8?", "8 times?", "about 8 feeds?"])
def test_a_number_said_with_doubt_is_still_an_answer(text: str) -> None:
    assert not reading_of(text, "feeds").needs_person


def test_a_bare_figure_answers_what_was_asked_not_what_is_told_beside() -> None:
    pain = reading_of("the milk came in, 2", "pain")
    assert {key: bounds_of(pain, key) for key in pain.answers} == {"pain": (2, 2)}
    told = reading_of("0 he spits a little milk after feeds only", "other_food")
    assert {key: bounds_of(told, key) for key in told.answers} == {"other_food": False}


@pytest.mark.parametrize(
    ("asked", "text", "expected"),
    [
        ("feeds", "ate times", (8, 8)),
        ("feeds", "for or five", (4, 5)),
        ("feeds", "day 6 night i dont know", (6, 6)),
    ],
)
def test_what_was_misheard_or_half_known_is_an_answer_that_a_person_sees(asked, text, expected) -> None:
    reading = reading_of(text, asked)
    assert (bounds_of(reading, asked), reading.needs_person) == (expected, True)


@pytest.mark.parametrize(
    ("language", "asked", "text", "expected"),
    [
        ("en", "pain", "on a scale of 1 to 10 id say 6", (6, 6)),
        ("en", "pain", "out of ten. six", (6, 6)),
        ("en", "pain", "6 out of 10", (6, 6)),
        ("en", "wet_nappies", "changed 8 nappies but 6 were wet", (6, 6)),
        ("en", "wet_nappies", "6 nappies, all wet", (6, 6)),
        ("id", "wet_nappies", "ganti popok 8x tp yg basah cuma 6", (6, 6)),
        ("en", "dirty_nappies", "none today, one yesterday", (0, 0)),
        ("id", "feeds", "kmrn 6 hari ini 9", (9, 9)),
        ("ha", "feeds", "ba 6 ba, 8 ne", (8, 8)),
    ],
)
def test_a_number_that_is_not_what_was_asked_gives_way(language, asked, text, expected) -> None:
    assert bounds_of(reading_of(text, asked, language=language), asked) == expected


def test_a_word_of_the_language_is_no_english_number_misheard() -> None:
    assert bounds_of(reading_of("to", "feeds", language="ha"), "feeds") is None
    assert bounds_of(reading_of("to", "feeds"), "feeds") == (2, 2)


def test_an_ending_of_i_will_is_no_illness() -> None:
    assert not reading_of("i'll be there", "review_coming").needs_person
    assert reading_of("8 she is ill", "feeds").needs_person


@pytest.mark.parametrize(
    ("language", "asked", "text", "expected"),
    [
        ("en", "dirty_nappies", "she has not pooed today", (0, 0)),
        ("ar", "dirty_nappies", "ما تبرز اليوم", (0, 0)),
        ("en", "feeds", "8 times, my older son eats 3 times", (8, 8)),
        ("ar", "feeds", "رضع8مرات", (8, 8)),
        ("en", "feeds", "7 *8", (8, 8)),
        ("en", "wet_nappies", "8 nappies 5 wet 3 dirty", (5, 5)),
    ],
)
def test_what_is_denied_corrected_or_another_childs_is_told_apart(language, asked, text, expected) -> None:
    assert bounds_of(reading_of(text, asked, language=language), asked) == expected


def test_nappies_told_beside_wet_ones_may_be_more_of_them() -> None:
    assert reading_of("peed twice and 4 nappies", "wet_nappies").needs_person


def test_a_figure_on_a_scale_is_no_count_of_what_stands_apart_from_it() -> None:
    assert reading_of("about a four when he sucks", "pain").answers == {"pain": Amount(4, 4)}
    assert reading_of("8 feeds", "pain").answers == {"feeds": Amount(8, 8)}


@pytest.mark.parametrize("text", ["8, could be 9", "8, 9 maybe", "eight. maybe nine"])
def test_a_second_thought_is_the_other_end_of_a_guess(text: str) -> None:
    assert bounds_of(reading_of(text, "feeds"), "feeds") == (8, 9)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("left 5 right 2", (5, 5)),
        ("4 in the morning, 6 in the evening", (4, 6)),
        ("was 8 now 2", (2, 2)),
        ("9/10", (9, 9)),
    ],
)
def test_pains_of_several_sides_or_times_do_not_add_up(text: str, expected: tuple[float, float]) -> None:
    assert bounds_of(reading_of(text, "pain"), "pain") == expected


def test_two_pains_one_after_the_other_are_asked_about() -> None:
    reading = reading_of("5 then 3", "pain")
    assert "pain" not in reading.answers
    assert reading.needs_person

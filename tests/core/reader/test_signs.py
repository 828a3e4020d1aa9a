"""Danger signs in mothers' own words. Invented replies; no clinician who speaks it reviewed the Arabic."""

from __future__ import annotations

import pytest

from bot.content.lexicon import load_signs
from bot.content.source import content_root
from bot.core.reader import Reason
from tests.support.reading import bounds_of, reading_of

MOTHERS = {
    sign for sign, entry in load_signs(content_root() / "messages").items() if entry.subject == "mother"
}
NAMED = [
    line.split(" | ")
    for line in """
en | not_feeding | baby wont latch at all since last nite
en | not_feeding | she refuses the breast and just cries
en | convulsions | his body started jerking and eyes went up
en | convulsions | 5 wet. also sister says she saw him fitting in his sleep
en | fast_breathing | he is panting
en | chest_indrawing | her ribs suck in when she breathes
en | baby_hot | temp is 38.4
en | baby_hot | forehead feels like fire
en | baby_cold | hands and feet and chest very cold
en | lethargic | she just sleeps and sleeps i cant wake her
en | lethargic | he will not wake up
en | jaundice | her eyes are yellow
en | cord_infected | there is pus coming from the belly button
en | vomiting_all | he threw up green stuff
en | blood_in_stool | blood in the nappy poo
en | no_urine | hasnt weed all day
en | heavy_bleeding | I am bleeding a lot, soaking pads
en | heavy_bleeding | the bleeding did not stop
en | mother_fits | i had a seizure
en | severe_headache | terrible headache wont go away and blurry eyes
en | mother_fever | i have high fever and chills
en | belly_pain | bad pain in my lower belly
en | mother_breathing | cant breathe properly my chest hurts
en | breast_infection | my breast is hard red and hot
en | leg_pain | my left leg is swollen and painful
en | self_harm | they would be better off without me
en | foul_discharge | discharge smells terrible
ar | not_feeding | ابني مش عايز يرضع خالص
ar | not_feeding | mesh 3ayez yerda3
ar | convulsions | جاتله تشنجات
ar | fast_breathing | بيتنفس بسرعة قوي
ar | chest_indrawing | صدره بينسحب لجوه وهو بيتنفس
ar | baby_hot | حرارته ٣٨ ونص
ar | baby_cold | البيبي برد جدا
ar | lethargic | نايم ومو راضي يصحى
ar | jaundice | جسمه اصفر وعيونه صفرا
ar | cord_infected | السرة ريحتها وحشة وفيها صديد
ar | vomiting_all | بيستفرغ كل حاجة
ar | blood_in_stool | دم في البراز
ar | no_urine | ما تبول من امس
ar | heavy_bleeding | بنزف كتير والفوط غرقانة
ar | severe_headache | صداع شديد وزغللة
ar | mother_fever | عندي حمى وقشعريرة
ar | belly_pain | بطني بتوجعني جامد
ar | mother_breathing | مش قادرة اتنفس
ar | breast_infection | صدري احمر وسخن ووارم
ar | leg_pain | رجلي وارمة وبتوجعني
ar | self_harm | مش عايزة اعيش
ar | foul_discharge | افرازات ريحتها وحشة
""".strip().splitlines()
]


@pytest.mark.parametrize(("language", "sign", "text"), NAMED)
def test_a_danger_is_named_whatever_question_is_open(language: str, sign: str, text: str) -> None:
    about_mother = sign in MOTHERS
    for asked in ("worry", "pain" if about_mother else "feeds"):
        reading = reading_of(text, asked, language=language)
        assert sign in reading.danger_signs
        assert reading.needs_person
        assert all(0 <= m.start < m.end <= len(text) for m in reading.matches)


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("en", "baby slept well and is not hot"),
        ("en", "no fever no vomiting all good"),
        ("en", "her poo is yellow and seedy"),
        ("en", "i am dead tired"),
        ("en", "weather here is burning hot but we are fine"),
        ("en", "3 loose yellow ones"),
        ("ar", "مش سخن الحمد لله"),
        ("ar", "بيصحى للرضاعة"),
        ("ar", "نام كويس"),
        ("ar", "البراز اصفر"),
    ],
)
def test_what_is_denied_or_harmless_is_no_danger(language: str, text: str) -> None:
    assert reading_of(text, "feeds", language=language).danger_signs == ()


def test_a_denial_of_what_is_well_is_a_danger() -> None:
    assert "lethargic" in reading_of("ما بيصحى للرضاعة", "feeds", language="ar").danger_signs


@pytest.mark.parametrize(
    "text",
    ["is it normal if baby gets hot?", "my neighbours baby had fits", "last week she was yellow but now ok"],
)
def test_a_question_another_baby_or_last_week_is_for_a_person_and_no_sign(text: str) -> None:
    reading = reading_of(text, "worry")
    assert reading.danger_signs == ()
    assert Reason.DANGER_UNSURE in reading.reasons


# language, signs ('-' for none), text
TURNED = [
    line.split(" | ")
    for line in """
en | - | colour is good not yellow
en | - | he isnt hot, yellow or vomiting
en | - | does not have fever, fits or vomiting
en | jaundice | not hot, yellow
en | baby_hot | Not fine, he is hot
en | convulsions | no fever he has fits
en | jaundice | yellow no?
es | - | no tiene fiebre ni convulsiones
es | baby_cold | no tiene fiebre esta helado
es | convulsions | no tiene fiebre tiene convulsiones
es | jaundice | amarillo no?
es | baby_hot | 38.2 no?
ar | jaundice | مش سخن، اصفر
ar | convulsions | ما عنده حرارة عنده تشنج
ar | - | ما عنده حرارة ولا عنده تشنج
hi | - | bukhar, daura nahi
hi | - | bukhar aur daura nahi hai
hi | baby_hot | bukhar hai, daura nahi
hi | baby_hot | bukhar hua to hai
hi | baby_hot | bukhar hai, nahla du kya
hi | baby_hot | bukhar nahi utar raha
""".strip().splitlines()
]


@pytest.mark.parametrize(("language", "signs", "text"), TURNED)
def test_a_denial_reaches_as_far_as_it_is_meant(language: str, signs: str, text: str) -> None:
    reading = reading_of(text, "baby_danger", language=language)
    assert reading.danger_signs == (() if signs == "-" else (signs,))
    assert bounds_of(reading, "baby_danger") is (signs != "-")


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("hi", "bukhar hai kya"),
        ("hi", "bukhar hai ya nahi"),
        ("hi", "बुखार हो तो क्या करें"),
        ("am", "ትኩሳት አለው ወይ?"),
        ("am", "ትኩሳት ካለው ምን ላድርግ"),
    ],
)
def test_a_question_or_condition_behind_the_danger_is_for_a_person_and_no_sign(
    language: str, text: str
) -> None:
    reading = reading_of(text, "worry", language=language)
    assert reading.danger_signs == ()
    assert reading.needs_person


@pytest.mark.parametrize(
    ("language", "sign", "text"),
    [
        ("en", "baby_hot", "my mother says he has a fever"),
        ("en", "baby_hot", "my mother says fever"),
        ("es", "baby_hot", "mi mama dice que tiene fiebre"),
        ("es", "baby_hot", "mi mama esta bien pero tiene fiebre"),
        ("ar", "baby_hot", "امي تقول عنده حرارة"),
        ("am", "baby_hot", "እናቴ ትኩሳት አለው አለች"),
        ("hi", "baby_hot", "meri maa keh rahi hai bukhar hai"),
        ("en", "baby_hot", "my mother is here but fever"),
        ("en", "-", "my mother has fever"),
    ],
)
def test_who_tells_of_a_danger_need_not_have_it(language: str, sign: str, text: str) -> None:
    reading = reading_of(text, "worry", language=language)
    assert reading.danger_signs == (() if sign == "-" else (sign,))
    assert reading.needs_person


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("en", "8 he is sick"),
        ("en", "8 he looks unwell"),
        ("en", "8 not doing well"),
        ("es", "8 está enfermo"),
        ("es", "8 no está bien"),
        ("hi", "8 theek nahi hai"),
        ("ar", "8 هو مريض"),
        ("am", "8 ታሟል"),
    ],
)
def test_to_be_unwell_reaches_a_person_whatever_was_asked(language: str, text: str) -> None:
    reading = reading_of(text, "feeds", language=language)
    assert bounds_of(reading, "feeds") == (8, 8)
    assert Reason.DANGER_UNSURE in reading.reasons


@pytest.mark.parametrize("text", ["8 he is well", "8 all is well", "8 feeding well, not sick"])
def test_to_be_well_needs_nobody(text: str) -> None:
    assert Reason.DANGER_UNSURE not in reading_of(text, "feeds").reasons


def test_a_fever_without_a_subject_belongs_to_the_baby_and_to_a_person() -> None:
    reading = reading_of("burning up", "worry")
    assert reading.danger_signs == ("baby_hot",)
    assert Reason.FEVER_NO_SUBJECT in reading.reasons


@pytest.mark.parametrize(
    ("text", "signs", "needs_person"),
    [
        ("no fever, not waking", ["lethargic"], True),
        ("no fever, vomits everything", [], True),  # may be a list of what is not there: a person reads
        ("no fever, fits or vomiting", [], False),
        ("no fever, no fits", [], False),
        ("no fever or fits", [], False),
    ],
)
def test_a_comma_alone_carries_no_denial_past_a_persons_eyes(text, signs, needs_person):
    found = reading_of(text, "baby_danger")
    assert (list(found.danger_signs), found.needs_person) == (signs, needs_person)


@pytest.mark.parametrize(
    ("text", "answer", "person"),
    [
        ("fever, fits, yellow: none", False, False),
        ("hot, cold, yellow, fits: no", False, False),
        ("fever no, fits no, yellow no", False, False),
        ("he does not vomit or have fever", False, False),
        ("fever fits yellow not", None, True),
        ("fever, convulsion, fast breathing, no", None, True),
    ],
)
def test_a_no_behind_a_list_of_dangers_denies_all_or_is_asked_about(
    text: str, answer: bool | None, person: bool
) -> None:
    reading = reading_of(text, "baby_danger")
    assert (reading.danger_signs, reading.needs_person) == ((), person)
    assert bounds_of(reading, "baby_danger") is answer


@pytest.mark.parametrize("text", ["2 with blood", "blood in it, 3", "3, bloody"])
def test_blood_is_in_the_stool_when_stools_were_asked_about(text: str) -> None:
    assert reading_of(text, "dirty_nappies").danger_signs == ("blood_in_stool",)


def test_a_breast_that_is_hot_is_no_fever_but_a_fever_beside_it_is() -> None:
    assert reading_of("left breast is hard, red n hot", "mother_danger").danger_signs == ("breast_infection",)
    both = reading_of("left breast is hard and red, I am hot", "mother_danger")
    assert both.danger_signs == ("breast_infection", "mother_fever")


def test_a_phrase_that_explains_one_danger_away_hides_no_other() -> None:
    reading = reading_of("2 com sangue", "dirty_nappies", language="pt")
    assert reading.needs_person


@pytest.mark.parametrize(
    ("language", "text"),
    [("fr", "3 dont une avec du sang"), ("es", "3, una con sangre"), ("pt", "2 com sangue")],
)
def test_blood_is_in_the_stool_in_other_languages_too(language: str, text: str) -> None:
    reading = reading_of(text, "dirty_nappies", language=language)
    assert reading.danger_signs == ("blood_in_stool",)
    assert "dirty_nappies" in reading.answers


@pytest.mark.parametrize(
    "text", ["I counted 72 breaths in one minute", "his arms are jerking when i hold him"]
)
def test_what_a_mother_does_for_the_baby_is_not_her_own_trouble(text: str) -> None:
    assert reading_of(text, "worry").danger_signs[0] in ("convulsions", "fast_breathing")


def test_well_behind_a_not_is_not_well() -> None:
    assert reading_of("8 feeds, I can't breathe well since morning", "feeds").danger_signs == (
        "mother_breathing",
    )


OWN_NOT = """
en | lethargic | no fever not waking
en | not_feeding | no fever doesnt feed
en | not_feeding | no fever nor does he feed
en | not_feeding | no fever or not feeding
es | not_feeding | no tiene fiebre no mama
es | not_feeding | no tiene fiebre ni quiere mamar
pt | not_feeding | nao tem febre nao mama
ar | not_feeding | ما عنده حرارة ولا يرضع
id | not_feeding | gak demam gak mau nyusu
sw | not_feeding | hana homa hanyonyi
ha | lethargic | bashi da zazzabi baya motsi
"""


@pytest.mark.parametrize(
    ("language", "sign", "text"), [line.split(" | ") for line in OWN_NOT.strip().splitlines()]
)
def test_what_is_said_with_a_not_of_its_own_is_not_denied_by_the_no_before(language, sign, text) -> None:
    reading = reading_of(text, "baby_danger", language=language)
    assert (reading.danger_signs, reading.needs_person) == ((sign,), True)


def test_a_not_within_the_words_of_a_danger_that_denies_another_carries_nothing() -> None:
    assert not reading_of("لا حرارة ولا تشنج ويرضع كويس", "baby_danger", language="ar").needs_person


def test_a_fear_of_what_she_might_do_is_a_danger_and_no_condition() -> None:
    assert reading_of("im scared of what i will do to her", "worry").danger_signs == ("self_harm",)
    assert reading_of("scared of fever", "worry").danger_signs == ()


@pytest.mark.parametrize("text", ["hot and yellow", "he is now yellow", "he is all yellow", "1 he is yellow"])
def test_yellow_is_jaundice_where_no_stool_is_meant(text: str) -> None:
    assert "jaundice" in reading_of(text, "baby_danger").danger_signs


@pytest.mark.parametrize("text", ["3 all yellow", "3 and yellow", "2 loose yellow", "3, soft and yellow"])
def test_yellow_stools_are_no_jaundice(text: str) -> None:
    reading = reading_of(text, "dirty_nappies")
    assert (reading.danger_signs, reading.needs_person) == ((), False)


@pytest.mark.parametrize(
    ("language", "sign", "text"),
    [
        ("en", "severe_headache", "bleeding has stopped but i have a terrible headache"),
        ("en", "heavy_bleeding", "baby is fine but heavy bleeding"),
        ("en", "heavy_bleeding", "baby is fine, heavy bleeding"),
        ("ha", "heavy_bleeding", "jariri lafiya, jini na zuba sosai"),
    ],
)
def test_what_is_over_or_well_in_one_clause_hides_nothing_in_the_next(language, sign, text) -> None:
    assert reading_of(text, "mother_danger", language=language).danger_signs == (sign,)


def test_a_denial_reaches_over_no_but_within_the_words_of_a_danger() -> None:
    reading = reading_of("no trouble breathing but breathes fast", "baby_danger")
    assert reading.danger_signs == ("fast_breathing",)


def test_a_fever_that_is_gone_by_now_is_for_a_person_and_no_sign() -> None:
    reading = reading_of("he had fever but its gone now", "baby_danger")
    assert (reading.danger_signs, reading.needs_person) == ((), True)


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("en", "no he is hot"),
        ("en", "no, he has a fever"),
        ("pt", "não ele está quente"),
        ("pt", "não o bebê está quente"),
        ("es", "no ella esta caliente"),
        ("fr", "non il est chaud"),
        ("ar", "لا هو سخن"),
        ("id", "tidak dia panas"),
        ("sw", "hapana mtoto ana homa"),
        ("hi", "nahi woh garam hai"),
    ],
)
def test_a_no_that_answers_denies_nothing_in_the_sentence_after_it(language: str, text: str) -> None:
    reading = reading_of(text, "baby_danger", language=language)
    assert (reading.danger_signs, reading.needs_person) == (("baby_hot",), True)


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("pt", "ele não está quente"),
        ("ar", "ما هو سخن"),
        ("id", "dia tidak panas"),
        ("en", "no shaking"),
        ("en", "dont see any yellow"),
    ],
)
def test_a_not_within_the_sentence_denies(language: str, text: str) -> None:
    reading = reading_of(text, "baby_danger", language=language)
    assert (reading.danger_signs, reading.answers) == ((), {"baby_danger": False})


def test_no_he_is_shaking_reaches_a_person() -> None:
    assert reading_of("no he is shaking and stiff", "baby_danger").danger_signs == ("convulsions",)


@pytest.mark.parametrize("text", ["why is he so hot?", "is it normal that he is hot?"])
def test_a_question_that_takes_the_danger_for_granted_names_it(text: str) -> None:
    assert reading_of(text, "worry").danger_signs == ("baby_hot",)


@pytest.mark.parametrize(
    "text",
    [
        "no cant keep anything down",
        "no every feed comes back up",
        "no fever head feels like exploding",
        "no fever but redness around the belly button",
        "no he wont even take the bottle",
    ],
)
def test_a_bare_no_denies_no_sentence_and_reaches_over_no_but(text: str) -> None:
    assert reading_of(text, "baby_danger").danger_signs != ()


@pytest.mark.parametrize("text", ["no fever chest pain", "no temperature 39.2", "no fever short of breath"])
def test_what_a_no_may_or_may_not_reach_is_for_a_person(text: str) -> None:
    assert reading_of(text, "worry").needs_person


@pytest.mark.parametrize("text", ["no fever or chest pain", "no fever no chest pain", "no fever and no fits"])
def test_a_list_of_what_is_not_there_needs_nobody(text: str) -> None:
    assert not reading_of(text, "worry").needs_person


@pytest.mark.parametrize(
    ("text", "sign"),
    [
        ("no i want to die", "self_harm"),
        ("no i might hurt my baby", "self_harm"),
        ("no nobody would miss me", "self_harm"),
        ("no i fainted", "mother_breathing"),
        ("no i see double", "severe_headache"),
    ],
)
def test_what_a_mother_says_of_herself_behind_a_no_is_heard(text: str, sign: str) -> None:
    assert reading_of(text, "mother_danger").danger_signs == (sign,)


def test_no_pain_explains_no_other_danger_away() -> None:
    assert reading_of("no pain he cant swallow", "pain").danger_signs == ("not_feeding",)

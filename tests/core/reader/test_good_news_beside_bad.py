"""'No fever, but he does not wake': one danger denied must not take the next one with it.

Each pair is put together of a denial, a joint and a danger. Invented; no clinician who speaks the
languages reviewed it.
"""

from __future__ import annotations

from itertools import product

import pytest

from tests.support.reading import reading_of

Pairs = tuple[tuple[str, ...], tuple[str, ...], tuple[tuple[str, str], ...]]

# language: what is denied; joints behind which a danger is told; dangers, each with its sign
PAIRS: dict[str, Pairs] = {
    "sw": (
        ("hana homa", "hana degedege", "hana manjano", "hana shida ya kupumua"),
        (" lakini ", " ila ", ". ", ", lakini "),
        (
            ("hanyonyi", "not_feeding"),
            ("haamki", "lethargic"),
            ("anapumua haraka", "fast_breathing"),
            ("macho ya njano", "jaundice"),
            ("kitovu kinanuka", "cord_infected"),
            ("anatapika kila kitu", "vomiting_all"),
            ("mwili baridi", "baby_cold"),
            ("choo kina damu", "blood_in_stool"),
        ),
    ),
    "ha": (
        ("ba zazzabi", "bashi da zazzabi", "babu zazzabi", "bai yi amai ba"),
        (" amma ", " sai dai ", ". ", ", amma "),
        (
            ("baya sha nono", "not_feeding"),
            ("baya farkawa", "lethargic"),
            ("yana numfashi da sauri", "fast_breathing"),
            ("idonsa yalo", "jaundice"),
            ("cibiyarsa tana wari", "cord_infected"),
            ("yana amai duk abin da ya sha", "vomiting_all"),
            ("jikinsa sanyi", "baby_cold"),
            ("kashinsa da jini", "blood_in_stool"),
        ),
    ),
    "id": (
        ("gak demam", "tidak kejang", "ga kuning", "tidak ada demam"),
        (" tapi ", " tp ", ". ", ", tapi "),
        (
            ("gak mau nyusu", "not_feeding"),
            ("gak bisa dibangunin", "lethargic"),
            ("napasnya cepat", "fast_breathing"),
            ("matanya kuning", "jaundice"),
            ("pusarnya bau", "cord_infected"),
            ("muntah semua", "vomiting_all"),
            ("badannya dingin", "baby_cold"),
            ("pupnya berdarah", "blood_in_stool"),
        ),
    ),
}
# A danger that holds its own 'not' is told, not denied, behind 'and', 'nor' or nothing too.
WITH_ITS_OWN_NOT: dict[str, Pairs] = {
    "sw": (
        ("hana homa", "hakuna homa"),
        (" ", ", ", " na ", " wala "),
        (("hanyonyi", "not_feeding"), ("haamki", "lethargic"), ("hajakojoa tangu jana", "no_urine")),
    ),
    "ha": (
        ("bashi da zazzabi", "babu zazzabi"),
        (" ", ", ", " kuma "),
        (("baya sha nono", "not_feeding"), ("baya farkawa", "lethargic"), ("bai yi fitsari ba", "no_urine")),
    ),
    "id": (
        ("gak demam", "tidak ada demam"),
        (" ", ", ", " dan "),
        (("gak mau nyusu", "not_feeding"), ("gak bisa dibangunin", "lethargic"), ("belum pipis", "no_urine")),
    ),
}
# The same joints carry a denial on where the next danger is denied too.
ALL_WELL = {
    "sw": ("hana homa wala degedege", "hana homa, hana manjano", "hana homa hana degedege"),
    "ha": ("babu zazzabi babu farfadiya", "ba zazzabi, ba farfadiya", "bashi da zazzabi, baya amai"),
    "id": ("gak demam gak kejang", "tidak demam dan tidak kuning", "gak kuning, gak demam"),
}


@pytest.mark.parametrize("language", sorted(PAIRS))
@pytest.mark.parametrize("table", [PAIRS, WITH_ITS_OWN_NOT], ids=["but", "own not"])
def test_a_danger_behind_a_denied_one_is_named(table: dict[str, Pairs], language: str) -> None:
    missed = [
        denied + joint + danger
        for denied, joint, (danger, sign) in product(*table[language])
        if sign not in reading_of(denied + joint + danger, "baby_danger", language=language).danger_signs
    ]
    assert missed == []


@pytest.mark.parametrize(
    ("language", "text"), [(language, text) for language, texts in ALL_WELL.items() for text in texts]
)
def test_a_list_of_denied_dangers_names_none(language: str, text: str) -> None:
    reading = reading_of(text, "baby_danger", language=language)
    assert (reading.danger_signs, reading.answers["baby_danger"]) == ((), False)


@pytest.mark.parametrize(
    ("language", "asking", "text", "sign"),
    [
        ("sw", "baby_danger", "kitovu kimekauka lakini kinanuka", "cord_infected"),
        ("sw", "feeds", "8 kitovu kimekatika lakini kuna usaha", "cord_infected"),
        ("ha", "baby_danger", "cibiya ta fadi amma tana wari", "cord_infected"),
        ("ha", "feeds", "8 cibiyarsa bata bushe ba tana wari", "cord_infected"),
        ("ha", "feeds", "8 jini bai tsaya ba", "heavy_bleeding"),
        ("id", "baby_danger", "puser kering tapi merah", "cord_infected"),
        ("id", "baby_danger", "pusar udah puput tapi bau", "cord_infected"),
    ],
)
def test_what_is_well_hides_nothing_that_is_not(language: str, asking: str, text: str, sign: str) -> None:
    assert sign in reading_of(text, asking, language=language).danger_signs


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("en", "he does not cry"), ("en", "not playing"), ("fr", "il ne pleure pas"), ("fr", "ne joue pas"),
        ("es", "no juega"), ("pt", "nao brinca"), ("id", "tidak main"), ("hi", "rota nahi"),
        ("hi", "khel nahi raha"), ("bn", "khele na"), ("ar", "لا ينام"), ("ur", "rota nahi"),
        ("sw", "halii"), ("ha", "ba ya kuka"), ("am", "አያለቅስም"),
    ],
)  # fmt: skip
def test_what_a_baby_does_not_do_is_never_a_plain_no_to_danger(language: str, text: str) -> None:
    reading = reading_of(text, "baby_danger", language=language)
    assert reading.needs_person
    assert reading.answers.get("baby_danger") is not False


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("en", "8 cord fell off but it smells"),
        ("en", "8, the cord is dry but red and pus"),
        ("es", "8, se le cayó el ombligo pero huele mal"),
        ("fr", "8, le cordon est tombé mais il sent mauvais"),
        ("pt", "8, o umbigo caiu mas cheira mal"),
        ("ar", "8 السرة وقعت بس ريحتها وحشة"),
        ("ur", "8 naaf gir gayi magar badbu aa rahi hai"),
        ("bn", "8 nabhi pore geche kintu gondho"),
        ("am", "8 እትብቱ ወደቀ ግን ይሸታል"),
        ("id", "8, tali pusat sudah lepas tapi bau"),
        ("sw", "8, kitovu kimekauka lakini kinanuka"),
        ("ha", "8 cibiya ta fadi amma tana wari"),
    ],
)
def test_a_cord_that_fell_off_hides_no_smell(language: str, text: str) -> None:
    assert "cord_infected" in reading_of(text, "feeds", language=language).danger_signs


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("en", "8, like a hot water bottle"),
        ("es", "8 está como agua caliente"),
        ("pt", "8, está como água quente"),
        ("id", "8, badannya kayak air panas"),
        ("ha", "8, jikinsa kamar ruwan zafi"),
        ("hi", "8, badan garam pani jaisa"),
        ("ur", "8, jism garam pani jaisa"),
        ("am", "8 ሰውነቱ እንደ ሙቅ ውሃ"),
    ],
)
def test_hot_as_what_is_harmless_is_hot(language: str, text: str) -> None:
    assert "baby_hot" in reading_of(text, "feeds", language=language).danger_signs


@pytest.mark.parametrize("asked", ["baby_danger", "feeds"])
def test_no_denial_reaches_over_a_but_in_french(asked: str) -> None:
    reading = reading_of("8 pas de fièvre mais il ne tète pas", asked, language="fr")
    assert "not_feeding" in reading.danger_signs
    assert "baby_hot" not in reading.danger_signs


@pytest.mark.parametrize(
    ("language", "text", "sign"),
    [
        ("en", "8 cord is dry and red", "cord_infected"),
        ("ar", "8 السرة وقعت وريحتها وحشة", "cord_infected"),
        ("ur", "8 naaf gir gayi aur badbu hai", "cord_infected"),
        ("en", "8 breathing ok and fast", "fast_breathing"),
        ("fr", "8 il respire bien mais vite", "fast_breathing"),
        ("sw", "8 anapumua vizuri ila haraka", "fast_breathing"),
    ],
)
def test_what_is_well_of_a_part_hides_no_bad_news_of_it(language: str, text: str, sign: str) -> None:
    assert sign in reading_of(text, "feeds", language=language).danger_signs


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("en", "8, no bleeding but clots"),
        ("es", "8 no sangro pero coágulos"),
        ("fr", "8 pas de saignement mais des caillots"),
        ("pt", "8 sem sangue mas coágulos"),
    ],
)
def test_no_denial_reaches_over_the_but_within_a_danger(language: str, text: str) -> None:
    assert "heavy_bleeding" in reading_of(text, "feeds", language=language).danger_signs


@pytest.mark.parametrize(
    "text", ["no breathing really fast", "No. breathing really fast", "no, breathing very fast"]
)
def test_a_stressed_danger_behind_a_no_is_seen_by_a_person(text: str) -> None:
    assert reading_of(text, "baby_danger").needs_person


@pytest.mark.parametrize("text", ["no fast breathing", "no fever", "no fits"])
def test_a_no_straight_before_a_plain_danger_denies(text: str) -> None:
    reading = reading_of(text, "baby_danger")
    assert reading.answers == {"baby_danger": False}
    assert not reading.needs_person

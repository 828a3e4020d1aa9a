"""Local words: compiled beside a language file, written for it, refused where they would make it worse."""

from __future__ import annotations

import shutil
import tomllib
from collections.abc import Mapping
from pathlib import Path
from string import ascii_lowercase

import pytest

from bot.content.check_words import check_word
from bot.content.factory import load_factory
from bot.content.lexicon import load_lexicons, raw_language
from bot.content.local_words import MEANINGS, LocalWord, toml_of
from bot.content.source import content_root
from bot.core.reader import Intent, Lexicon, Reading, Reason, read

WORDS = (
    LocalWord("kichwamoto", "sign.baby_hot"),
    LocalWord("nyungunyungu", "illness"),
    LocalWord("mwarobaini", "remedy"),
    LocalWord("tuachane", "opt_out"),
    LocalWord("sabini na sabaa", "thanks"),
    LocalWord("sabawasaba", "number.7"),
)


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """English and Swahili alone: other languages change nothing here and take their time."""
    copy = tmp_path_factory.mktemp("content")
    (copy / "messages/lexicons").mkdir(parents=True)
    for name in ("questions.toml", "signs.toml", "lexicons/en.toml", "lexicons/sw.toml"):
        shutil.copy(content_root() / "messages" / name, copy / "messages" / name)
    return copy


@pytest.fixture(scope="module")
def added(root: Path) -> Mapping[str, Lexicon]:
    english = (LocalWord("burny", "sign.baby_hot"),)
    return load_lexicons(root / "messages", local={"sw": WORDS, "en": english})


def reading(text: str, added: Mapping[str, Lexicon], *asking: str) -> Reading:
    return read(text, asking, 5, added["sw"])


def test_a_danger_named_in_a_local_word_is_heard_denied_and_named(added: Mapping[str, Lexicon]) -> None:
    assert reading("mtoto ana kichwamoto", added).danger_signs == ("baby_hot",)
    assert reading("6, mtoto hana kichwamoto", added, "feeds").danger_signs == ()
    assert reading("mtoto ni burny sana", added).danger_signs == ("baby_hot",)  # English, behind Swahili


def test_a_local_illness_is_read_by_a_person_whatever_else_is_said(added: Mapping[str, Lexicon]) -> None:
    assert Reason.DANGER_UNSURE in reading("6, ana nyungunyungu", added, "feeds").reasons


def test_a_local_remedy_counts_as_other_food_and_brings_a_person(added: Mapping[str, Lexicon]) -> None:
    assert reading("6, nimempa mwarobaini", added, "feeds").needs_person
    assert reading("nimempa mwarobaini", added, "other_food").answers.get("other_food") is True


def test_number_words_and_wishes_are_read(added: Mapping[str, Lexicon]) -> None:
    found = reading("sabawasaba", added, "feeds")
    assert (found.answers["feeds"].low, found.needs_person) == (7, False)  # type: ignore[union-attr]
    assert reading("tuachane", added).intent is Intent.OPT_OUT


def test_without_local_words_nothing_differs_from_the_file(root: Path) -> None:
    plain, shipped = load_lexicons(root / "messages"), load_factory().lexicons["sw"]
    for text in ("mtoto ana kichwamoto", "6", "ana nyungunyungu", "acha"):
        assert read(text, ("feeds",), 5, plain["sw"]) == read(text, ("feeds",), 5, shipped)


def test_the_toml_for_the_file_says_the_same(root: Path) -> None:
    english = raw_language(root / "messages", "en")
    written = tomllib.loads(toml_of("sw", WORDS, {"baby_hot": "baby"}, english))
    hot = {"about": {"baby": "baby_hot"}, "name": "local baby_hot", "say": ["kichwamoto"]}
    assert written["sign"] == [hot]
    assert written["local"] == {"illness": ["nyungunyungu"], "remedy": ["mwarobaini"]}
    assert written["numbers"]["words"] == {"7": ["sabawasaba"]}
    assert written["intents"]["opt_out"] == ["tuachane"]


def test_a_sign_that_lasts_lasts_in_local_words_too(root: Path) -> None:
    english = raw_language(root / "messages", "en")
    written = tomllib.loads(
        toml_of("sw", [LocalWord("degede", "sign.convulsions")], {"convulsions": "baby"}, english)
    )
    assert written["sign"][0]["lasting"] is True


def test_every_meaning_names_a_list_that_language_files_have(root: Path) -> None:
    words = [
        LocalWord(f"neno {letter}", means) for letter, means in zip(ascii_lowercase, MEANINGS, strict=False)
    ]
    assert len(words) == len(MEANINGS)
    assert load_lexicons(root / "messages", local={"sw": words})


@pytest.mark.parametrize(
    ("word", "fault"),
    [
        (LocalWord("kichwamoto", "sign.baby_hot"), None),
        (LocalWord("(kichwa|mwili) mwako", "sign.baby_hot"), None),
        (LocalWord("hapana", "opt_out"), "hapana asante: would be read otherwise than now"),
        (LocalWord("saba", "number.8"), "'saba' stands for 7 and 8"),
        (LocalWord("kichwamoto", "number.99"), "99: is no number"),
        (LocalWord("joto", "ordinary"), "joto: stands among the words of danger"),
        (LocalWord("(kichwamoto", "sign.baby_hot"), "a bracket is not closed"),
        (LocalWord("tano", "number.5"), "tano: is read as that already"),
        (LocalWord("sijui", "yes"), "sijui: is not read as that, even when added"),
        (LocalWord("kichwamoto 5", "illness"), "holds a figure"),
        (LocalWord("k" * 90, "illness"), "is too long"),
        (LocalWord("kichwamoto", "sign.nothing"), "Choose what it means."),
        (LocalWord("kichwamoto", "baby_hot"), "Choose what it means."),
        (LocalWord(" ", "illness"), "Write the words."),
        (LocalWord("sitisha ujumbe", "bereaved"), "sitisha ujumbe: is read as something else already"),
        (LocalWord("kumi", "illness"), "kumi: is read as something else already"),
    ],
    ids=str,
)
def test_a_word_that_would_make_the_reader_worse_is_refused_with_the_reason(
    root: Path, word: LocalWord, fault: str | None
) -> None:
    found = "\n".join(map(str, check_word(root, load_factory().texts, {}, "sw", word)))
    assert fault in found if fault else found == ""


def test_a_word_that_makes_a_shown_answer_misread_is_refused(root: Path) -> None:
    assert "SITISHA UJUMBE" in load_factory().texts.words("opt-out-ask", "sw")[0]
    word = LocalWord("sitisha ujumbe", "bereaved")
    found = [str(problem) for problem in check_word(root, load_factory().texts, {}, "sw", word)]
    assert "sw: opt-out-ask: shows no words that end the texts in this language" in found


def test_a_word_that_stands_already_is_refused(root: Path) -> None:
    word = LocalWord("kichwamoto", "sign.baby_hot")
    found = check_word(root, load_factory().texts, {"sw": [word]}, "sw", LocalWord("Kichwamoto", "illness"))
    assert "is approved already" in str(found[0])

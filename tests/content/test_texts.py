"""What mothers receive: every text in every language, and what renders and checks them."""

from __future__ import annotations

import tomllib
from datetime import date, time
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.content.check_texts import check_texts, sample_values
from bot.content.languages import Clock, Manner, is_latin
from bot.content.source import content_root
from bot.content.text_files import load_texts, read_texts
from bot.content.texts import Status, Texts, goes_to_her_phone
from bot.core.errors import Invalid, NotFound
from bot.core.segments import count, sendable
from bot.core.triage_rules import NOTHING

LANGUAGES = ("en", "ar")
NEVER_SAID = (
    "do not worry", "don't worry", "normal", "tablet", "paracetamol", "infection", "jaundice", "hiv",
    "has read", "have read", "you forgot", "you did not",
)  # fmt: skip
QUESTIONS = (
    "worry", "feeds", "wet_nappies", "dirty_nappies", "pain", "other_food", "review_coming",
    "baby_danger", "mother_danger",
)  # fmt: skip
YES_OR_NO = ("worry", "other_food", "review_coming", "baby_danger", "mother_danger")
SENT = (
    "practice", "welcome", "practise-attach",
    *(f"{again}-{key}" for key in QUESTIONS for again in ("ask", "again")),
    *(f"{again}-{key}-twins" for key in QUESTIONS[1:4] for again in ("ask", "again")),
    "thanks-fine", "thanks-person",
    "advice-go-now", "advice-go-now-mother", "advice-same-day", "advice-routine", "advice-call-you",
    "call-coming", "person-reads", "advice-week-2",
    "opt-out-ask", "opt-out-done", "opt-in-done", "wrong-number-done", "sorry-for-loss", "finished",
    "review-booked", "review-evening", "review-morning", "review-missed", "review-moved", "review-next",
    "visit-reminder-week-1", "visit-reminder-week-6",
)  # fmt: skip
VALUES = {
    "mother": "Amina", "baby": "Khadija", "site": "Rosewater", "call": "+447700900123", "hours": "8:00-17:00",
    "place": "Rosewater Hospital", "place_call": "+447700900145", "text": "+447700900100",
    "day": "2026-11-27", "at": "09:30",
}  # fmt: skip


@cache
def texts() -> Texts:
    return load_texts(content_root())


def one_text(body: str, *, arabic: str = "") -> Texts:
    """Texts with one key, `greeting`, and the pieces that stand in for values."""
    words = (content_root() / "messages/texts/words.toml").read_text("utf-8")
    catalog = f'msgid ""\nmsgstr ""\n"Content-Type: text/plain; charset=utf-8\\n"\n\n{arabic}'
    return read_texts({"a.toml": body, "words.toml": words}, {"ar": catalog.encode()} if arabic else {})


# The texts themselves


def test_every_text_in_every_language_is_without_fault() -> None:
    assert check_texts(texts(), LANGUAGES, {"the program": SENT}) == []
    assert set(texts().languages) >= set(LANGUAGES)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("neutral", [False, True], ids=["private", "shared"])
@pytest.mark.parametrize("key", SENT)
def test_a_text_is_whole_once_its_values_are_in(key: str, neutral: bool, language: str) -> None:
    text = texts().render(key, language, sample_values(language), neutral=neutral)
    assert text
    assert "{" not in text
    assert "  " not in text
    assert text == text.strip()


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("key", [key for key in SENT if key not in ("practice", "welcome")])
def test_a_text_for_a_shared_phone_names_nobody(key: str, language: str) -> None:
    values = sample_values(language)
    text = texts().render(key, language, values, neutral=True)
    assert values["mother"] not in text
    assert values["baby"] not in text


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("key", [f"{again}-{key}" for key in YES_OR_NO for again in ("ask", "again")])
@pytest.mark.parametrize("neutral", [False, True], ids=["private", "shared"])
def test_zero_is_no_and_one_is_yes_in_every_yes_or_no_question(
    key: str, neutral: bool, language: str
) -> None:
    words, _ = texts().words(key, language, neutral=neutral)
    no, yes = {"en": ("0 for no", "1 for yes"), "ar": ("0 (لا)", "1 (نعم)")}[language]
    assert no in words
    assert yes in words


@pytest.mark.parametrize("key", ["advice-go-now", "advice-go-now-mother"])
@pytest.mark.parametrize("neutral", [False, True], ids=["private", "shared"])
@pytest.mark.parametrize(("language", "action"), [("en", "Go now to "), ("ar", "اذهبي الآن إلى ")])
def test_danger_advice_begins_with_the_action_and_gives_a_number(
    key: str, neutral: bool, language: str, action: str
) -> None:
    text = texts().render(key, language, VALUES, neutral=neutral)
    assert text.startswith(action + VALUES["place"])
    assert VALUES["place_call"] in text


@pytest.mark.parametrize("key", SENT)
def test_no_text_diagnoses_reassures_names_a_drug_or_claims_to_have_been_read(key: str) -> None:
    for neutral in (False, True):
        words = texts().words(key, "en", neutral=neutral)[0].lower()
        assert [said for said in NEVER_SAID if said in words] == []


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("key", [key for key in SENT if key.startswith(("ask-", "again-"))])
def test_no_question_about_a_count_shows_a_count_to_copy(key: str, language: str) -> None:
    words, _ = texts().words(key, language)
    if key.removesuffix("-twins").endswith(("feeds", "nappies")):
        assert not any(sign.isdigit() and sign != "0" for sign in words)


def _named(rows: object, field: str) -> list[str]:
    """Every value of `field` in the tables of a file."""
    if isinstance(rows, list):
        return [found for row in rows for found in _named(row, field)]
    if isinstance(rows, dict):
        below = [found for row in rows.values() for found in _named(row, field)]
        return [rows[field], *below] if isinstance(rows.get(field), str) else below
    return []


def test_every_text_that_schedules_rules_and_questions_name_can_be_sent() -> None:
    messages = content_root() / "messages"
    used: dict[str, list[str]] = {}
    for folder, field in (("schedules", "text"), ("rules", "advice")):
        for path in sorted((messages / folder).glob("*.toml")):
            named = _named(tomllib.loads(path.read_text("utf-8")), field)
            used[f"{folder}/{path.name}"] = [name for name in named if name != NOTHING]
    asked = tomllib.loads((messages / "questions.toml").read_text("utf-8"))["question"]
    used["questions.toml"] = [
        key
        for question in asked
        for key in (f"ask-{question['id']}", f"again-{question['id']}")
        # Asked in words of their own: at the bedside, and by the texts that tell her to go.
        if question["id"] not in ("practice", "going", "going_why")
    ]
    assert all(used[name] for name in ("schedules/standard.toml", "rules/feeds.toml", "questions.toml"))
    assert [str(problem) for problem in check_texts(texts(), ("en",), used)] == []


# Rendering


def test_dates_and_times_may_come_as_values_or_as_iso_text() -> None:
    stored = texts().render("review-booked", "en", VALUES)
    given = texts().render("review-booked", "en", VALUES | {"day": date(2026, 11, 27), "at": time(9, 30)})
    assert "Friday 27 November at 09:30" in stored
    assert given == stored


def test_arabic_dates_name_the_weekday_and_no_month_that_differs_between_countries() -> None:
    assert "يوم الجمعة 27/11 الساعة 09:30" in texts().render("review-booked", "ar", VALUES)


@pytest.mark.parametrize(
    ("baby", "neutral", "expected"),
    [
        ({"baby": "Khadija"}, False, "Khadija"),
        ({"baby": ""}, False, "your baby"),
        ({}, False, "your baby"),
        ({"baby": "Khadija"}, True, "your baby"),
        ({"baby": "Khadija", "n": "1"}, False, "Khadija"),
        ({"baby": "Khadija + Idris", "n": "2"}, False, "Khadija and Idris"),
        ({"baby": "Khadija + Idris", "n": "2"}, True, "your babies"),
        ({"baby": "Khadija", "n": "2"}, False, "your babies"),
        ({"baby": "", "n": "0"}, False, "your baby"),
        ({"baby": "", "n": "2"}, False, "your babies"),
    ],
)
def test_a_baby_is_named_unless_it_has_no_name_or_the_phone_is_shared(
    baby: dict[str, object], neutral: bool, expected: str
) -> None:
    text = texts().render("ask-feeds", "en", baby, neutral=neutral)
    assert text.startswith(f"Since this time yesterday, how many feeds has {expected} had?")


def test_without_a_named_place_she_is_sent_to_the_nearest_hospital() -> None:
    text = texts().render("advice-go-now", "en", {"baby": "Khadija", "call": "+447700900123", "place": ""})
    assert text.startswith("Go now to the nearest hospital with Khadija")
    assert "call +447700900123" in text


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("key", ["advice-go-now", "advice-go-now-mother", "advice-same-day"])
@pytest.mark.parametrize("neutral", [False, True], ids=["private", "shared"])
def test_advice_in_danger_needs_no_value_at_all(key: str, neutral: bool, language: str) -> None:
    text = texts().render(key, language, {}, neutral=neutral)
    assert texts().words("word-place", language)[0] in text
    assert "{" not in text


def test_a_missing_value_is_refused_by_name_and_nothing_half_made_comes_out() -> None:
    with pytest.raises(Invalid) as refused:
        texts().render("review-booked", "en", {"mother": "Amina", "call": "+447700900123", "day": ""})
    missing = [problem.field for problem in refused.value.problems]
    assert missing == ["review-booked.at", "review-booked.day", "review-booked.site"]


def test_a_text_tells_which_values_it_needs() -> None:
    assert texts().needs("again-review_coming") == {"baby", "day", "at"}
    assert texts().needs("again-review_coming", neutral=True) == {"day", "at"}


def test_an_unknown_key_is_not_found() -> None:
    with pytest.raises(NotFound, match="ask-nothing"):
        texts().render("ask-nothing", "en", VALUES)


def test_what_is_not_translated_is_said_in_english() -> None:
    assert texts().render("ask-feeds", "de", VALUES) == texts().render("ask-feeds", "en", VALUES)
    assert texts().status("ask-feeds", "de") is Status.missing


@given(st.text(min_size=1).filter(str.strip), st.sampled_from(LANGUAGES))
def test_a_name_of_any_signs_stands_in_the_text_as_it_is(name: str, language: str) -> None:
    # Marks of direction may be put before figures in a name; nothing else may change.
    text = texts().render("practice", language, VALUES | {"mother": name})
    unmarked = text.replace("\u200e", "").replace("\u200f", "")
    assert name.replace("\u200e", "").replace("\u200f", "") in unmarked


# Unicode Standard Annex 9: without a mark a right-to-left line shows '+4477' as '4477+' and '8-17' as '17-8'.
@pytest.mark.parametrize(
    ("call", "hours", "shown"),
    [
        ("+447700900123", "8:00-17:00", "\u200e+447700900123\u200f، \u200e8:00-17:00."),
        ("01632 960 123", "24", "\u200e01632 960 123، 24."),
        ("115", "8:00", "115، 8:00."),
    ],
)
def test_numbers_keep_their_order_in_a_right_to_left_text(call: str, hours: str, shown: str) -> None:
    values = VALUES | {"call": call, "hours": hours}
    assert shown in texts().render("thanks-fine", "ar", values)
    assert "\u200e" not in texts().render("thanks-fine", "en", values)


# Reading


def test_every_fault_of_every_file_is_named_at_once() -> None:
    with pytest.raises(Invalid) as refused:
        read_texts(
            {
                "a.toml": '[one]\ntext = "Hello {mom}"\nnote = "x"\n[two]\ntext = ""\n',
                "b.toml": "[one\n",
                "c.toml": '[three]\ntext = "x"\nnote = "x"\nsegments = 2\n',
            },
            {"ar": b'msgid "a"\nmsgstrr "b"\n'},
        )
    named = "\n".join(str(problem) for problem in refused.value.problems)
    for fault in ("two.text", "two.note", "b.toml", "c.toml: three.segments", "ar/texts.po"):
        assert fault in named


def test_a_value_texts_cannot_hold_is_refused_when_the_texts_are_read() -> None:
    with pytest.raises(Invalid, match=r"\{mom\} is not a value"):
        one_text('[greeting]\ntext = "Hello {mom}"\nnote = "x"\n')


def test_a_translation_with_a_value_the_english_lacks_is_refused_when_it_is_read() -> None:
    with pytest.raises(Invalid, match=r"ar: greeting: holds \{day\}, the English does not"):
        one_text(GREETING, arabic=ENTRY.replace("مرحبا", "مرحبا {day}"))


def test_a_catalog_of_no_known_language_is_refused() -> None:
    with pytest.raises(Invalid, match=r"xx/texts\.po: cannot be read"):
        read_texts({"a.toml": GREETING}, {"xx": b""})


def test_a_key_in_two_files_is_refused() -> None:
    body = '[one]\ntext = "x"\nnote = "x"\n'
    with pytest.raises(Invalid, match="stands in two files"):
        read_texts({"a.toml": body, "b.toml": body}, {})


GREETING = '[greeting]\ntext = "Hello {baby}"\nnote = "x"\nmax_segments = { gsm7 = 1, ucs2 = 1 }\n'
ENTRY = 'msgctxt "greeting"\nmsgid "Hello {baby}"\nmsgstr "مرحبا {baby}"\n'


@pytest.mark.parametrize(
    ("arabic", "status", "sent"),
    [
        (ENTRY, Status.unreviewed, "مرحبا طفلك"),
        ("# reviewed: N. Example, midwife, 2026-11-01\n" + ENTRY, Status.reviewed, "مرحبا طفلك"),
        (ENTRY.replace("Hello {", "Hi {"), Status.stale, "مرحبا طفلك"),
        ("#, fuzzy\n" + ENTRY, Status.stale, "مرحبا طفلك"),
        ("# reviewed: N. Example, midwife, 2026-11-01\n#, fuzzy\n" + ENTRY, Status.stale, "مرحبا طفلك"),
        (ENTRY.replace("Hello", "Hi {day}").replace('}"\n', '} {day}"\n'), Status.missing, "Hello your baby"),
        (ENTRY.replace("مرحبا {baby}", ""), Status.missing, "Hello your baby"),
        (ENTRY.replace("greeting", "another"), Status.missing, "Hello your baby"),
    ],
    ids=[
        "unreviewed",
        "reviewed",
        "english changed",
        "fuzzy",
        "reviewed, then changed",
        "older value",
        "empty",
        "no entry",
    ],
)
def test_a_translation_is_reviewed_only_when_signed_and_current(
    arabic: str, status: Status, sent: str
) -> None:
    words = 'msgctxt "word-baby"\nmsgid "your baby"\nmsgstr "طفلك"\n\n'
    read = one_text(GREETING, arabic=words + arabic)
    assert read.status("greeting", "ar") is status
    assert read.render("greeting", "ar", {}) == sent


# Checking: each line plants one fault


@pytest.mark.parametrize(
    ("english", "arabic", "fault"),
    [
        (GREETING, ENTRY, None),
        (GREETING, ENTRY.replace("مرحبا {baby}", "مرحبا"), "holds no values, the English {baby}"),
        (GREETING, ENTRY.replace("مرحبا {baby}", ""), "is not translated"),
        (GREETING, ENTRY.replace("Hello", "Hi"), "the English has changed"),
        (GREETING, ENTRY.replace("مرحبا", "مرحبا " * 20), "at most 1"),
        (GREETING, ENTRY.replace("مرحبا", "مرحبا\u2019"), "U+2019"),
        (GREETING, ENTRY.replace("مرحبا", "مرحبا\u200e"), "U+200E"),
        (GREETING.replace("Hello", "Hello" * 40), None, "at most 1"),
        (GREETING.replace("Hello", "Hello \u2014"), None, "U+2014"),
        (GREETING.replace("Hello", "Hello }"), None, "has a brace"),
        (GREETING.replace("{baby}", "{mother}"), None, "no neutral words"),
        (GREETING + 'neutral = "Hello {mother}"\n', None, "which a neutral text must not"),
        (GREETING + "caution = true\n", None, "must say where to go"),
        (GREETING + "caution = true\n", None, "must give a number"),
        (GREETING.replace("greeting", "ask-x"), None, "must ask one question"),
        (GREETING.replace("greeting", "ask-x").replace("Hello", "A? B?"), None, "must ask one question"),
    ],
)
def test_the_check_names_a_planted_fault(english: str, arabic: str | None, fault: str | None) -> None:
    words = 'msgctxt "word-baby"\nmsgid "your baby"\nmsgstr "طفلك"\n\n'
    read = one_text(english, arabic=words + arabic if arabic else "")
    languages = ("en", "ar") if arabic else ("en",)
    problems = [str(problem) for problem in check_texts(read, languages)]
    own = [problem for problem in problems if "word-" not in problem and "format-" not in problem]
    assert any(fault in problem for problem in own) if fault else own == []


def test_the_check_names_texts_that_are_sent_but_do_not_exist_or_are_only_pieces() -> None:
    problems = check_texts(texts(), ("en",), {"schedule standard": ("ask-nothing", "word-baby", "welcome")})
    assert [problem.field for problem in problems] == ["schedule standard"] * 2
    assert "ask-nothing" in problems[0].message
    assert "only a piece" in problems[1].message


# In Latin letters

LATIN = [tag for tag in texts().tags if is_latin(tag)]


def test_hindi_and_urdu_can_be_read_on_a_phone_with_latin_letters_only() -> None:
    assert LATIN == ["hi-Latn", "ur-Latn"]
    assert [str(problem) for problem in check_texts(texts(), LATIN)] == []


@pytest.mark.parametrize("tag", LATIN)
@pytest.mark.parametrize("neutral", [False, True], ids=["private", "shared"])
def test_no_text_in_latin_letters_costs_more_than_gsm_7_letters(tag: str, neutral: bool) -> None:
    for key in texts().keys_of(tag):
        assert count(texts().render(key, tag, sample_values(tag), neutral=neutral)).encoding == "GSM-7", key


def test_what_a_catalog_in_latin_letters_lacks_is_said_in_the_language_s_own_script() -> None:
    assert texts().render("slip-title", "hi-Latn", VALUES) == texts().render("slip-title", "hi", VALUES)
    assert texts().render("ask-feeds", "sw-Latn", VALUES) == texts().render("ask-feeds", "sw", VALUES)
    assert texts().render("ask-feeds", "am-Latn", VALUES) == texts().render("ask-feeds", "am", VALUES)
    assert texts().render("ask-feeds", "de-Latn", VALUES) == texts().render("ask-feeds", "en", VALUES)


def test_which_languages_have_no_texts_in_latin_letters() -> None:
    assert texts().no_latin == {"am", "ar", "bn"}


@pytest.mark.parametrize(
    ("tag", "day"),
    [("hi-Latn", "Shukrawaar 27 November ko 09:30"), ("ur-Latn", "Juma 27/11 ko 09:30")],
)
def test_days_are_named_in_latin_letters(tag: str, day: str) -> None:
    assert day in texts().render("review-booked", tag, VALUES)


@pytest.mark.parametrize("names", [{"mother": "अमीना"}, {"baby": "خدیجہ"}])
def test_a_name_that_the_phone_can_t_show_is_left_out(names: dict[str, str]) -> None:
    neutral = texts().render("ask-worry", "hi-Latn", VALUES, neutral=True)
    assert texts().render("ask-worry", "hi-Latn", VALUES | names) == neutral


def test_a_text_in_latin_letters_with_another_sign_in_it_is_a_fault() -> None:
    body = 'msgctxt "greeting"\nmsgid "Hello {baby}"\nmsgstr "Namaste न {baby}"\n'
    words = (content_root() / "messages/texts/words.toml").read_text("utf-8")
    head = 'msgid ""\nmsgstr ""\n"Content-Type: text/plain; charset=utf-8\\n"\n\n'
    read = read_texts({"a.toml": GREETING, "words.toml": words}, {"hi-Latn": (head + body).encode()})
    assert any("a letter outside GSM-7" in str(each) for each in check_texts(read, ["hi-Latn"]))


def test_a_clock_that_counts_from_six_needs_its_words_in_latin_letters_too() -> None:
    clock = Clock(form="{at} ({local})", parts={0: "x"})
    words = (content_root() / "messages/texts/words.toml").read_text("utf-8")
    catalogs = {"am": b"", "am-Latn": b""}
    read = read_texts({"a.toml": GREETING, "words.toml": words}, catalogs, {"am": Manner(clock=clock)})
    assert "has a clock, and none for its texts" in "\n".join(map(str, check_texts(read, ["am-Latn"])))


@pytest.mark.parametrize("day", [date(2026, 1, n) for n in range(1, 8)])
def test_no_day_of_the_week_costs_spanish_or_hausa_more(day: date) -> None:
    for tag in ("es", "ha"):
        said = sendable(texts().render("again-review_coming", tag, VALUES | {"day": day}))
        assert count(said).encoding == "GSM-7"


def test_a_language_in_gsm_7_is_checked_for_every_letter_and_day() -> None:
    words = (content_root() / "messages/texts/words.toml").read_text("utf-8")
    head = 'msgid ""\nmsgstr ""\n"Content-Type: text/plain; charset=utf-8\\n"\n\n'
    body = (
        ENTRY.replace("مرحبا", "Hola así") + '\nmsgctxt "format-day"\nmsgid "EEEE d MMMM"\nmsgstr "EEEE d"\n'
    )
    sources = {"a.toml": GREETING, "words.toml": words}
    for manner, faults in ((Manner(gsm7=True), 2), (Manner(), 0)):
        read = read_texts(sources, {"es": (head + body).encode()}, {"es": manner})
        found = [str(each) for each in check_texts(read, ["es"]) if "outside GSM-7" in str(each)]
        assert len(found) == faults, found


# Clocks that count from six, where a time stands: in reminders and on the slip


@pytest.mark.parametrize("key", ["review-evening", "review-morning", "ask-review_coming", "slip-review"])
@pytest.mark.parametrize("neutral", [False, True], ids=["private", "shared"])
@pytest.mark.parametrize(
    ("language", "weekday", "at"),
    [("sw", "Ijumaa 27 Novemba", "09:30 (saa 3:30 asubuhi)"), ("am", "ዓርብ 27", "09:30 (ከጠዋቱ 3:30 ሰዓት)")],
)
def test_a_time_stands_with_weekday_date_and_both_counts(
    key: str, neutral: bool, language: str, weekday: str, at: str
) -> None:
    text = texts().render(key, language, VALUES, neutral=neutral)
    assert weekday in text
    assert at in text


# Signatures of single texts


def test_a_digest_changes_with_the_words_the_english_and_the_neutral_variant_only() -> None:
    neutral = GREETING.replace("note", 'neutral = "Hello"\nnote')
    one = one_text(GREETING, arabic=ENTRY)
    assert one.digest("greeting", "ar") == one_text(GREETING, arabic=ENTRY).digest("greeting", "ar")
    others = (
        one_text(GREETING, arabic=ENTRY.replace("مرحبا", "أهلا")),
        one_text(GREETING.replace("Hello", "Hi"), arabic=ENTRY.replace("Hello", "Hi")),
        one_text(neutral, arabic=ENTRY),
    )
    assert one.digest("greeting", "ar") not in {other.digest("greeting", "ar") for other in others}
    assert one.digest("greeting", "ar") != one.digest("greeting", "en")
    noted = one_text(GREETING.replace('"x"', '"another note"'), arabic=ENTRY)
    assert one.digest("greeting", "ar") == noted.digest("greeting", "ar")
    signed = one_text(GREETING, arabic="# reviewed: N. Example, midwife, 2026-11-01\n" + ENTRY)
    assert signed.review("greeting", "ar") == (Status.reviewed, "N. Example, midwife, 2026-11-01")


# What holds in every language, and in Latin letters


@pytest.mark.parametrize("tag", texts().tags)
def test_every_language_is_without_fault(tag: str) -> None:
    assert [str(problem) for problem in check_texts(texts(), [tag], {"the program": SENT})] == []


@pytest.mark.parametrize("tag", texts().tags)
def test_every_yes_or_no_question_can_be_answered_by_one_digit(tag: str) -> None:
    for key in (f"{again}-{key}" for key in YES_OR_NO for again in ("ask", "again")):
        for neutral in (False, True):
            words, _ = texts().words(key, tag, neutral=neutral)
            assert {"0", "1"} <= set(words), f"{tag}: {key}: {words}"


@pytest.mark.parametrize("tag", texts().tags)
def test_a_neutral_text_names_nobody_and_no_condition_that_the_english_leaves_out(tag: str) -> None:
    values = sample_values(tag)
    for key in texts().keys_of(tag):
        if not goes_to_her_phone(key, texts().entry(key)) or key in ("practice", "welcome"):
            continue
        said = texts().render(key, tag, values, neutral=True)
        assert values["mother"] not in said, key
        assert values["baby"] not in said, key


@pytest.mark.parametrize("tag", texts().tags)
def test_wet_nappies_are_asked_in_words_that_hold_for_cloths_and_none(tag: str) -> None:
    # English names cloths and none; the others name both in words of their own. From memory, no source.
    cloths = {
        "en": "cloths", "am": "ጨርቅ", "ar": "القماش", "bn": "কাঁথা", "es": "trapos", "fr": "linges",
        "ha": "kunzugu",
        "hi": "कपड़ा", "hi-Latn": "Kapda", "id": "kain", "pt": "pano", "sw": "vitambaa", "ur": "کپڑا",
        "ur-Latn": "Kapra",
    }  # fmt: skip
    for key in ("ask-wet_nappies", "ask-wet_nappies-twins"):
        assert cloths[tag].casefold() in texts().words(key, tag)[0].casefold()


@pytest.mark.parametrize("language", LANGUAGES)
def test_what_is_told_to_a_mother_without_her_baby_names_no_baby(language: str) -> None:
    alone = [key for key in texts().keys if key.endswith("-alone")]
    assert len(alone) == 9
    for key in [*alone, "thanks-away", "advice-express"]:
        assert VALUES["baby"] not in texts().render(key, language, VALUES), key

"""The catalogs of the screens: up to date, whole where a counsellor works, with every placeholder kept."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from babel.messages.catalog import Message
from babel.messages.pofile import read_po

from bot.content.source import content_root
from bot.content.staff_catalogs import files, updated
from bot.content.staff_words import LANGUAGES, SOURCE, staff_words

OTHERS = sorted(set(LANGUAGES) - {SOURCE})
# What a counsellor needs while somebody is in danger: never half in another language.
COUNSELLOR = re.compile(
    r"bot/web/(inbox|stranger|case|case_acts|case_words|chart\w*|errors|fact_words|formats|judged|labels|login|said"
    r"|language_names|meanings|proposals|read_back|review_words|story|shift|way|way_words|on_call)\.py"
    r"|bot/web/templates/(base|case|stranger|inbox|kept|login|error|_case_\w+|_inbox_list|_read_back|words/propose|words/_fields|_chart|_counted|_forms|_said)\.html"
    r"|messages/(guides|rules|languages)"
)
PLACEHOLDER = re.compile(r"%\(\w+\)s")
COUNTS = {"%(n)s", "%(num)s"}


def messages(language: str) -> Iterator[Message]:
    path = content_root() / "locales" / language / "LC_MESSAGES" / "staff.po"
    with path.open("rb") as file:
        yield from (message for message in read_po(file, locale=language) if message.id)


def forms(text: object) -> tuple[str, ...]:
    return (text,) if isinstance(text, str) else tuple(text)  # type: ignore[arg-type]


def test_the_catalogs_hold_what_the_screens_say() -> None:
    stale = [path.name for path, body in files(content_root()).items() if path.read_bytes() != body]
    assert stale == [], "run `python -m bot.content.staff_catalogs`"


@pytest.mark.parametrize("language", OTHERS)
def test_a_counsellor_never_meets_another_language(language: str) -> None:
    missing = [
        message.id
        for message in messages(language)
        if any(COUNSELLOR.match(place) for place, _line in message.locations)
        and not all(forms(message.string))
    ]
    assert missing == []


@pytest.mark.parametrize("language", OTHERS)
def test_translations_keep_every_placeholder(language: str) -> None:
    broken = []
    for message in messages(language):
        wanted = set(PLACEHOLDER.findall(forms(message.id)[-1]))
        said = [form for form in forms(message.string) if form]
        # 'One day', 'two days': a plural form may say its number in a word.
        spare = COUNTS if message.pluralizable else set()
        broken += [
            (message.id, form)
            for form in said
            if not wanted - spare <= set(PLACEHOLDER.findall(form)) <= wanted
        ]
    assert broken == []


@pytest.mark.parametrize(
    ("n", "words"), [(1, "عمره يوم (1)"), (2, "عمره يومان (2)"), (5, "عمره 5 أيام"), (11, "عمره 11 يومًا")]
)
def test_arabic_counts_in_its_own_plural_forms(n: int, words: str) -> None:
    assert staff_words("ar").ngettext("%(n)s day old", "%(n)s days old", n) % {"n": n} == words


@pytest.mark.parametrize(
    ("n", "words"), [(1, "1 día de vida"), (5, "5 días de vida"), (1_000_000, "1000000 días de vida")]
)
def test_spanish_counts_in_every_plural_form_of_cldr(n: int, words: str) -> None:
    assert staff_words("es").ngettext("%(n)s day old", "%(n)s days old", n) % {"n": n} == words


def test_a_language_without_a_catalog_is_said_in_english() -> None:
    assert staff_words("xx").gettext("Inbox") == "Inbox"


@pytest.mark.parametrize(
    ("n", "words"),
    [(0, "0 jour"), (1, "1 jour"), (2, "2 jours"), (11, "11 jours"), (1_000_000, "1000000 jours")],
)
def test_french_counts_nought_as_one_and_has_every_form_of_cldr(n: int, words: str) -> None:
    assert staff_words("fr").ngettext("%(n)s day", "%(n)s days", n) % {"n": n} == words


@pytest.mark.parametrize(
    ("n", "words"),
    [(0, "0 नंबर से अभी जवाब नहीं आया"), (1, "1 नंबर से अभी जवाब नहीं आया"), (2, "2 नंबरों से अभी जवाब नहीं आया")],
)
def test_hindi_counts_nought_as_one(n: int, words: str) -> None:
    """Unicode CLDR plural rules, hi: one is i = 0 or n = 1."""
    one, other = "%(num)s number has not answered yet", "%(num)s numbers have not answered yet"
    assert staff_words("hi").ngettext(one, other, n) % {"num": n} == words


def test_words_that_changed_lose_their_translation() -> None:
    from babel.messages.catalog import Catalog

    wanted = Catalog()
    wanted.add("Take it")
    body = 'msgid ""\nmsgstr "Content-Type: text/plain; charset=utf-8\\n"\n\nmsgid "Take"\nmsgstr "أخذ"\n'
    assert [m.string for m in updated("ar", body.encode(), wanted) if m.id] == [""]

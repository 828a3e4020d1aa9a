"""The catalogs of the screens: pages, forms, guides and rules come in, locales/staff.pot and staff.po go out.

`python -m bot.content.staff_catalogs` rewrites them in a checkout. A translation belongs to its English
words: when those change, the translator starts anew, and until then the page shows the English.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from babel import Locale
from babel.messages.catalog import Catalog
from babel.messages.extract import extract
from babel.messages.pofile import read_po

from bot.content.catalogs import PLURAL_FORMS, written
from bot.content.counselling import load_counselling
from bot.content.guides import load_guides
from bot.content.languages import load_languages
from bot.content.rules import load_occasions, load_rules
from bot.content.source import content_root

Words = str | tuple[str, str]  # one form, or singular and plural

_PAGES = {"_": None, "_n": (1, 2), "lazy": None, "ngettext": (1, 2)}
# What the core refuses with, shown as it stands.
_REFUSALS = {"Conflict": None, "NotFound": None, "NotAllowed": None, "Problem": (2,)}
# What an enrolment is refused with: said by its field, `bot.core.enrolment.fields`.
_FAULTS = {"refuse": (2,), "ask": (2,), "wording": None}
_HEADER = "# What staff see on the screens. Made by `python -m bot.content.staff_catalogs`."
_UNREVIEWED = """\
# {language}: what staff see on the screens.
#
# Not yet reviewed by a health worker who speaks the language.
# Names in %(brackets)s stay as they are."""


def words(root: Path) -> Iterator[tuple[Words, str]]:
    """Give every string of the screens, with the file it stands in."""
    for pages in (root / "bot/web", root / "bot/demo"):
        for path in sorted(pages.rglob("*.py")):
            yield from _extracted(root, path, "python", _PAGES)
        for path in sorted((pages / "templates").rglob("*.html")):
            yield from _extracted(root, path, "jinja2.ext:babel_extract", _PAGES)
    yield from _extracted(root, root / "bot/cohort/figures.py", "python", {"marked": None})
    refusing = [
        *(root / "bot/core").rglob("*.py"),
        *(root / "bot/steps").glob("*.py"),
        *(root / "bot/store").glob("*.py"),
        root / "bot/content/check_words.py",
    ]
    for path in sorted(refusing):
        yield from _extracted(root, path, "python", _REFUSALS)
    for path in sorted((root / "bot/core/enrolment").glob("*.py")):
        yield from _extracted(root, path, "python", _FAULTS)
    yield from (
        (each.english, "messages/languages.toml") for each in load_languages(root / "messages").values()
    )
    yield from ((each, "messages/guides") for each in load_guides(root / "messages").words())
    yield from ((step.do, "messages/counselling.toml") for step in load_counselling(root / "messages"))
    for rule in load_rules(root).rules:
        yield from ((each, "messages/rules") for each in (rule.why, rule.ask) if each)
    for occasion in load_occasions(root).values():
        yield from ((each, "messages/rules/occasions.toml") for each in (occasion.why, occasion.ask) if each)


def _extracted(
    root: Path, path: Path, method: str, keywords: Mapping[str, tuple[int, ...] | None]
) -> Iterator[tuple[Words, str]]:
    options = {"newstyle_gettext": "true", "trimmed": "true"}
    with path.open("rb") as file:
        for _line, found, _comments, _context in extract(method, file, keywords, (), options):
            place = path.relative_to(root).as_posix()
            yield (found if isinstance(found, str) else (found[0], found[1])), place


def template(found: Iterable[tuple[Words, str]]) -> Catalog:
    """Put the strings into a template, each once, in order."""
    catalog = Catalog(charset="utf-8")
    catalog.header_comment = _HEADER
    for text, place in found:
        catalog.add(text, locations=[(place, None)])  # type: ignore[list-item]
    return catalog


def updated(language: str, body: bytes, wanted: Catalog) -> Catalog:
    """Give a language's catalog with the template's strings, in its order, each with the words it had."""
    locale = Locale.parse(language)
    had = {message.id: message for message in read_po(io.BytesIO(body), locale=locale)}
    catalog = Catalog(locale=locale, charset="utf-8")
    if language in PLURAL_FORMS:  # Babel writes no more forms than it knows of, for some languages too few.
        catalog.mime_headers = [("Plural-Forms", PLURAL_FORMS[language])]
    catalog.header_comment = _UNREVIEWED.format(language=locale.english_name)
    for message in wanted:
        if message.id:
            known = had.get(message.id)
            catalog.add(message.id, known.string if known else "", locations=message.locations)
    return catalog


def files(root: Path) -> Mapping[Path, bytes]:
    """Give every catalog file of a checkout as it should stand."""
    wanted = template(words(root))
    current = {root / "locales/staff.pot": written(wanted)}
    for path in sorted((root / "locales").glob("*/LC_MESSAGES/staff.po")):
        language = path.parts[-3]
        current[path] = written(updated(language, path.read_bytes(), wanted), language)
    return current


def main() -> None:
    for path, body in files(content_root()).items():
        path.write_bytes(body)


if __name__ == "__main__":
    main()

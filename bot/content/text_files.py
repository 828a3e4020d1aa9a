"""The files of the texts: messages/texts/*.toml and locales/*/LC_MESSAGES/texts.po come in, Texts go out.

Nothing is compiled: catalogs are read once. A folder of locales/ is named by a BCP 47 tag; one such as
`hi-Latn` holds the texts of a language in Latin letters, for phones that show no others.
"""

from __future__ import annotations

import io
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from types import MappingProxyType

from babel import Locale, UnknownLocaleError
from babel.messages.catalog import Message
from babel.messages.pofile import PoFileError, read_po
from pydantic import TypeAdapter, ValidationError

from bot.content.languages import Manner, load_languages, manners
from bot.content.texts import REVIEWED, VALUES, Catalog, Entry, Status, Texts, Translation, fields_of
from bot.core.errors import Invalid, Problem


def load_texts(root: Path) -> Texts:
    """Read every text under a folder that holds messages/ and locales/.

    Invalid  names every file, key and fault
    """
    sources = sorted((root / "messages/texts").glob("*.toml"))
    catalogs = sorted((root / "locales").glob("*/LC_MESSAGES/texts.po"))
    languages = load_languages(root / "messages")
    return read_texts(
        {path.name: path.read_text("utf-8") for path in sources},
        {path.parts[-3]: path.read_bytes() for path in catalogs},
        manners(languages),
    )


def read_texts(
    sources: Mapping[str, str],
    catalogs: Mapping[str, bytes],
    manners: Mapping[str, Manner] = MappingProxyType({}),
) -> Texts:
    """Read texts from the bodies of TOML files by name and of PO files by tag; else as `load_texts`."""
    problems: list[Problem] = []
    entries: dict[str, Entry] = {}
    for name, body in sources.items():
        for key, entry in _read_source(name, body, problems).items():
            if key in entries:
                problems.append(Problem(f"{name}: {key}", "this key stands in two files; rename one"))
            entries[key] = entry
    read = {language: _read_catalog(language, body, entries, problems) for language, body in catalogs.items()}
    problems += _unknown_fields(entries)
    if problems:
        raise Invalid(problems)
    return Texts(entries, read, manners)


def _read_source(name: str, body: str, problems: list[Problem]) -> Mapping[str, Entry]:
    try:
        return TypeAdapter(dict[str, Entry]).validate_python(tomllib.loads(body))
    except tomllib.TOMLDecodeError as error:
        problems.append(Problem(name, f"not TOML: {error}"))
    except ValidationError as error:
        problems += [Problem(f"{name}: {'.'.join(map(str, e['loc']))}", e["msg"]) for e in error.errors()]
    return {}


def _read_catalog(
    language: str, body: bytes, entries: Mapping[str, Entry], problems: list[Problem]
) -> Catalog:
    english = dict(_english(entries))
    try:
        messages = read_po(io.BytesIO(body), locale=Locale.parse(language, sep="-"), abort_invalid=True)
    except (PoFileError, UnknownLocaleError, ValueError) as error:
        problems.append(Problem(f"{language}/texts.po", f"cannot be read: {error}"))
        return {}
    catalog = {}
    for message in messages:
        if message.context in english and isinstance(message.string, str) and message.string:
            status = _status(message, english[message.context])
            found = Translation(message.string, status, _reviewed(message))
            extra = fields_of(found.words) - fields_of(english[message.context])
            if not extra:
                catalog[message.context] = found
            # Older words may hold a value that nobody gives any more: English is sent instead of failing.
            elif found.status is not Status.stale:
                names = ", ".join(f"{{{name}}}" for name in sorted(extra))
                problems.append(
                    Problem(f"{language}: {message.context}", f"holds {names}, the English does not")
                )
    return catalog


def _status(message: Message, english: str) -> Status:
    if message.id != english or message.fuzzy:
        return Status.stale
    return Status.reviewed if _reviewed(message) else Status.unreviewed


def _reviewed(message: Message) -> str:
    """Who signed a translation in its file, and when; empty where nobody has."""
    signed = (line for line in message.user_comments if line.startswith(REVIEWED))
    return next((line.removeprefix(REVIEWED).strip() for line in signed), "")


def _english(entries: Mapping[str, Entry]) -> Iterator[tuple[str, str]]:
    for key, entry in entries.items():
        for variant, words in entry.variants().items():
            yield key + variant, words


def _unknown_fields(entries: Mapping[str, Entry]) -> list[Problem]:
    known = ", ".join(sorted(VALUES))
    return [
        Problem(key, f"{{{name}}} is not a value texts can hold; use one of {known}")
        for key, words in _english(entries)
        for name in sorted(fields_of(words) - VALUES)
    ]

"""The catalogs of the texts: messages/texts/*.toml come in, locales/texts.pot and up-to-date texts.po go out.

`python -m bot.content.catalogs` rewrites them in a checkout. Babel's own update is not used: it looks for
similar English and would carry one text's translation to another. Here a translation belongs to its key; when
the English of the key changes, the old words stay and are marked fuzzy, until a translator has been there.
"""

from __future__ import annotations

import io
import re
import tomllib
from collections.abc import Collection, Iterator, Mapping
from pathlib import Path
from typing import IO, Any

from babel import Locale
from babel.messages.catalog import Catalog, Message
from babel.messages.pofile import read_po, write_po

from bot.content.languages import is_latin, native
from bot.content.source import content_root
from bot.content.texts import NEUTRAL, REVIEWED, Entry, goes_to_her_phone

_HEADER = re.compile(r'^\[(?:"(?P<quoted>[^"]+)"|(?P<bare>[\w-]+))\]')
_WORDS = re.compile(r"^(text|neutral)\s*=")

# Babel's headers disagree with Unicode CLDR in places: Arabic has its last two forms the other way round.
PLURAL_FORMS = {
    "am": "nplurals=2; plural=(n > 1);",
    "ar": "nplurals=6; plural=(n==0 ? 0 : n==1 ? 1 : n==2 ? 2 : "
    "n%100>=3 && n%100<=10 ? 3 : n%100>=11 ? 4 : 5);",
    "bn": "nplurals=2; plural=(n > 1);",
    "es": "nplurals=3; plural=(n==1 ? 0 : n!=0 && n%1000000==0 ? 1 : 2);",  # many: whole millions
    "fr": "nplurals=3; plural=(n==0 || n==1 ? 0 : n!=0 && n%1000000==0 ? 1 : 2);",
    "ha": "nplurals=2; plural=(n != 1);",
    "hi": "nplurals=2; plural=(n > 1);",
    "id": "nplurals=1; plural=0;",
    "pt": "nplurals=3; plural=(n==0 || n==1 ? 0 : n!=0 && n%1000000==0 ? 1 : 2);",
    "sw": "nplurals=2; plural=(n != 1);",
    "ur": "nplurals=2; plural=(n != 1);",
}
_MADE = "What mothers receive, in English. Made by `python -m bot.content.catalogs`."
_UNREVIEWED = """\
{language}: what mothers receive.

Not yet reviewed by a clinician who speaks the language. A text counts as reviewed when a line
'# reviewed: NAME, ROLE, DATE' stands above it; all others are sent, and marked wherever staff see them.
Women are addressed in the feminine form. {{names}} in braces stay as they are."""


def extract(
    fileobj: IO[bytes], keywords: Collection[str], comment_tags: Collection[str], options: Mapping[str, Any]
) -> Iterator[tuple[int, str, tuple[str, str], list[str]]]:
    """Give every text of a TOML file to Babel: key or `key.neutral` as context, the English, the note."""
    body = fileobj.read().decode("utf-8")
    entries, key = tomllib.loads(body), ""
    for number, line in enumerate(body.splitlines(), start=1):
        if header := _HEADER.match(line):
            key = header["quoted"] or header["bare"]
        elif (field := _WORDS.match(line)) and key in entries:
            variant = NEUTRAL if field[1] == "neutral" else ""
            yield number, "pgettext", (key + variant, entries[key][field[1]]), [entries[key].get("note", "")]


def template(root: Path) -> Catalog:
    """Read the texts of a checkout into a template."""
    catalog = Catalog(charset="utf-8")
    catalog.header_comment = _comment(_MADE)
    for path in sorted((root / "messages/texts").glob("*.toml")):
        place = path.relative_to(root).as_posix()
        with path.open("rb") as source:
            for number, _, (key, words), notes in extract(source, (), (), {}):
                catalog.add(words, locations=[(place, number)], auto_comments=notes, context=key)
    return catalog


def updated(tag: str, body: bytes | None, wanted: Catalog, phone: Collection[str] = ()) -> Catalog:
    """Give a language's catalog with the template's texts, in its order, each with the words it had.

    body   the language's texts.po as it stands, or None for a new language
    phone  the keys that phones must show: a catalog in Latin letters holds no others
    """
    locale = Locale.parse(tag, sep="-")
    had = _by_key(read_po(io.BytesIO(body), locale=locale)) if body else {}
    catalog = Catalog(locale=locale, charset="utf-8")
    name = Locale.parse(native(tag)).english_name
    named = f"{name} in Latin letters" if is_latin(tag) else name
    catalog.header_comment = _comment(_UNREVIEWED.format(language=named))
    for message in wanted:
        if message.id and (not is_latin(tag) or str(message.context).removesuffix(NEUTRAL) in phone):
            _carry(catalog, message, had.get(message.context))
    return catalog


def _carry(catalog: Catalog, wanted: Message, had: Message | None) -> None:
    changed = had is not None and bool(had.string) and had.id != wanted.id
    comments = [] if had is None else [line for line in had.user_comments if not line.startswith("|")]
    catalog.add(
        wanted.id,
        had.string if had else "",
        locations=wanted.locations,
        flags={"fuzzy"} if changed or (had is not None and had.fuzzy) else (),
        auto_comments=wanted.auto_comments,
        user_comments=[line for line in comments if not (changed and line.startswith(REVIEWED))],
        previous_id=had.id if changed and had else (),
        context=wanted.context,
    )


def written(catalog: Catalog, language: str | None = None) -> bytes:
    """Give a catalog as the bytes of its file. A header that changes by itself would hide real changes, so
    dates and tools are left out."""
    buffer = io.BytesIO()
    write_po(buffer, catalog, width=100, include_previous=True, omit_header=True)
    plurals = PLURAL_FORMS.get(native(language or ""), catalog.plural_forms)
    lines = [f"Language: {language}", f"Plural-Forms: {plurals}"] if language else []
    lines += ["MIME-Version: 1.0", "Content-Type: text/plain; charset=utf-8"]
    lines += ["Content-Transfer-Encoding: 8bit"]
    quoted = "\n".join(f'"{line}\\n"' for line in lines)
    header = f'{catalog.header_comment}\nmsgid ""\nmsgstr ""\n{quoted}\n\n'
    return header.encode() + buffer.getvalue()


def _comment(text: str) -> str:
    return "\n".join(f"# {line}".rstrip() for line in text.splitlines())


def _by_key(catalog: Catalog) -> Mapping[str | None, Message]:
    return {message.context: message for message in catalog if message.id}


def files(root: Path) -> Mapping[Path, bytes]:
    """Give every catalog file of a checkout as it should stand."""
    wanted, phone = template(root), _on_phones(root)
    current = {root / "locales/texts.pot": written(wanted)}
    for path in sorted((root / "locales").glob("*/LC_MESSAGES/texts.po")):
        language = path.parts[-3]
        current[path] = written(updated(language, path.read_bytes(), wanted, phone), language)
    return current


def reviewed_catalog(root: Path, tag: str, signed: Mapping[str, str]) -> bytes:
    """Give a language's catalog with who signed each text above it.

    signed  key -> who, as what, when; empty where nobody has
    """
    body = (root / "locales" / tag / "LC_MESSAGES" / "texts.po").read_bytes()
    catalog = updated(tag, body, template(root), _on_phones(root))
    for message in catalog:
        by = signed.get(str(message.context).removesuffix(NEUTRAL), "") if message.id else ""
        if by and not any(line.startswith(REVIEWED) for line in message.user_comments):
            message.user_comments.append(f"{REVIEWED} {by}")
    return written(catalog, tag)


def _on_phones(root: Path) -> frozenset[str]:
    """The keys of what a mother's phone must show."""
    bodies = (tomllib.loads(path.read_text("utf-8")) for path in (root / "messages/texts").glob("*.toml"))
    entries = {key: Entry.model_validate(entry) for body in bodies for key, entry in body.items()}
    return frozenset(key for key, entry in entries.items() if goes_to_her_phone(key, entry))


def main() -> None:
    for path, body in files(content_root()).items():
        path.write_bytes(body)


if __name__ == "__main__":
    main()

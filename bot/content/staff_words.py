"""The words of the screens: a language comes in, its catalog comes out.

English is written in the pages and forms themselves; every other language stands in
locales/<language>/LC_MESSAGES/staff.po. Nothing is compiled on disk: a catalog is read once and kept.
"""

from __future__ import annotations

import gettext
import io
from collections.abc import Mapping
from functools import cache

from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

from bot.content.source import content_root

SOURCE = "en"
LANGUAGES: Mapping[str, str] = {  # each by its own name
    "en": "English",
    "ar": "العربية",
    "es": "español",
    "fr": "français",
    "hi": "हिन्दी",
    "sw": "Kiswahili",
}

Words = gettext.NullTranslations


@cache
def staff_words(language: str) -> Words:
    """Give the catalog of `language`; what it lacks, and a language we do not have, is said in English."""
    path = content_root() / "locales" / language / "LC_MESSAGES" / "staff.po"
    if language not in LANGUAGES or not path.is_file():
        return gettext.NullTranslations()
    with path.open("rb") as file:
        catalog = read_po(file, locale=language, domain="staff")
    compiled = io.BytesIO()
    write_mo(compiled, catalog)
    compiled.seek(0)
    return gettext.GNUTranslations(compiled)

"""The names of the languages that mothers are texted in, in the words of the screens or by themselves."""

from __future__ import annotations

from bot.content.factory import load_factory
from bot.content.languages import is_latin, native
from bot.web.words import _, lazy

LANGUAGES = {
    "am": lazy("Amharic"),
    "ar": lazy("Arabic"),
    "bn": lazy("Bengali"),
    "en": lazy("English"),
    "es": lazy("Spanish"),
    "fr": lazy("French"),
    "ha": lazy("Hausa"),
    "hi": lazy("Hindi"),
    "id": lazy("Indonesian"),
    "pt": lazy("Portuguese"),
    "sw": lazy("Swahili"),
    "ur": lazy("Urdu"),
}


def languages() -> dict[str, str]:
    """Give the languages that a mother's texts can be in, by code, in words."""
    return {code: _(LANGUAGES[code]) for code in load_factory().texts.languages}


def own_names() -> list[tuple[str, str]]:
    """Give the same languages, each by the name its speakers call it."""
    factory = load_factory()
    return [(code, factory.languages[code].name) for code in factory.texts.languages]


def tag_words(tag: str) -> str:
    """Name a language, and that it stands in Latin letters."""
    name = _(LANGUAGES.get(native(tag), native(tag)))
    return _("%(language)s, in Latin letters", language=name) if is_latin(tag) else name


def tags() -> dict[str, str]:
    """Give all that a mother's texts can be in, by tag, in words."""
    return {tag: tag_words(tag) for tag in load_factory().texts.tags}


def own_tags() -> list[tuple[str, str]]:
    """Give the same, each language by the name its speakers call it."""
    factory = load_factory()
    names = [(tag, factory.languages[native(tag)].name) for tag in factory.texts.tags]
    return [(tag, f"{name} (abc)" if is_latin(tag) else name) for tag, name in names]


def latin_languages() -> list[str]:
    """Name the languages that have texts in Latin letters beside their own script."""
    return [_(LANGUAGES[native(tag)]) for tag in load_factory().texts.tags if is_latin(tag)]

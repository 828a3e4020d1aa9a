"""The names of the languages that mothers are texted in, in the words of the screens or by themselves."""

from __future__ import annotations

from bot.content.factory import load_factory
from bot.content.languages import is_latin, native
from bot.web.words import _


def languages() -> dict[str, str]:
    """Give the languages that a mother's texts can be in, by code, in words."""
    return {code: tag_words(code) for code in load_factory().texts.languages}


def own_names() -> list[tuple[str, str]]:
    """Give the same languages, each by the name its speakers call it."""
    factory = load_factory()
    return [(code, factory.languages[code].name) for code in factory.texts.languages]


def tag_words(tag: str) -> str:
    """Name a language, and that it stands in Latin letters."""
    known = load_factory().languages.get(native(tag))
    name = _(known.english) if known else native(tag)
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
    return [tag_words(native(tag)) for tag in load_factory().texts.tags if is_latin(tag)]

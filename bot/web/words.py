"""The words of the screens in the language of the person who looks.

Every visible string passes `_` (or `_n` where a number decides); `lazy` marks one that is translated later,
when it is shown. Numbers keep Western digits in every language, as on the forms of the wards.
"""

from __future__ import annotations

from typing import Any

from flask import Flask, g, has_request_context, request

from bot.content.staff_words import LANGUAGES, SOURCE, Words, staff_words

RIGHT_TO_LEFT = frozenset({"ar", "ur", "fa", "he"})


def words() -> Words:
    """Give the catalog of this request: the account's language, else what the browser asks for."""
    if not has_request_context():
        return staff_words(SOURCE)
    if "words" not in g:
        g.words = staff_words(language())
    found: Words = g.words
    return found


def language() -> str:
    """Give the language of this request's screens."""
    person = g.get("person")
    if person is not None and person.language in LANGUAGES:
        chosen: str = person.language
        return chosen
    return request.accept_languages.best_match(LANGUAGES, SOURCE) or SOURCE


def direction(code: str) -> str:
    """Give the writing direction of a language, as HTML's dir."""
    return "rtl" if code in RIGHT_TO_LEFT else "ltr"


def _(text: str, **values: Any) -> str:
    """Translate, then fill in `%(name)s`."""
    said = words().gettext(text) if text else ""  # the empty string stands for a catalog's own header
    return said % values if values else said


def _n(one: str, many: str, n: int, **values: Any) -> str:
    """Translate for `n` things; `%(n)s` is filled in with the number."""
    return words().ngettext(one, many, n) % ({"n": n} | values)


def lazy(text: str) -> str:
    """Mark a string for the catalogs; it is translated where it is shown."""
    return text


def say_in_templates(app: Flask) -> None:
    """Give the templates `_`, `ngettext` and the language of the page."""
    app.jinja_env.add_extension("jinja2.ext.i18n")
    app.jinja_env.install_gettext_callables(  # type: ignore[attr-defined]
        _,
        lambda one, many, n: words().ngettext(one, many, n),
        newstyle=True,
    )

    @app.context_processor
    def _language() -> dict[str, Any]:
        code = language()
        return {"lang": code, "dir": direction(code), "languages": LANGUAGES}

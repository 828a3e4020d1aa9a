"""Commands about languages: how far each is, and signing one."""

from __future__ import annotations

from collections import Counter

import click

from bot import settings, wiring
from bot.content.catalogs import reviewed_catalog
from bot.content.languages import is_latin, native
from bot.content.source import content_root
from bot.content.texts import SOURCE
from bot.core.errors import Invalid, Problem
from bot.steps.languages import sign, signature_of, signed
from bot.steps.text_reviews import sign_texts, text_reviews
from bot.steps.words import as_toml, in_force


@click.group("language")
def language_group() -> None:
    """The languages of mothers: which are signed by a clinician who speaks them."""


@language_group.command("list")
def list_command() -> None:
    """Say of each language who signed its words and texts. Until somebody has, a person reads every reply."""
    program = wiring.build(settings.load())
    texts = program.factory.texts
    with program.store.read() as conn:
        review = text_reviews(conn, texts)
        local = Counter(each.language for each in in_force(conn, program.clock.now()))
        for code, language in program.factory.languages.items():
            if code not in program.factory.lexicons:
                continue
            signature, current = signature_of(conn, code)
            if signature is None:
                state = "not signed: a person reads every reply"
            elif not current:
                state = f"changed since {signature.by} signed on {signature.on}: a person reads every reply"
            else:
                state = (
                    f"signed by {signature.by}, {signature.role}, {signature.registration}, {signature.on}"
                )
            click.echo(f"{code}  {language.english:12} {state}")
            if local[code]:
                click.echo(f"    words approved here: {local[code]}")
            for tag in (tag for tag in texts.tags if native(tag) == code):
                keys = texts.keys_of(tag)
                signed_texts = sum(review(key, tag).is_signed for key in keys)
                click.echo(f"    texts {tag}: {signed_texts} of {len(keys)} signed")


@language_group.command("sign")
@click.argument("code")
@click.option("--name", required=True, help="The clinician who speaks the language and has read all of it.")
@click.option("--role", required=True)
@click.option("--registration", required=True, help="Number in the register of the profession.")
def sign_command(code: str, name: str, role: str, registration: str) -> None:
    """Record that a clinician who speaks CODE approved its words and each of its texts as they stand. A later
    change of any word makes the signature stale, a later change of a text that of the text. A CODE such as
    hi-Latn signs the texts in Latin letters."""
    program = wiring.build(settings.load())
    texts, now = program.factory.texts, program.clock.machine()
    if native(code) not in program.factory.lexicons or (is_latin(code) and code not in texts.tags):
        known = ", ".join(sorted({*program.factory.lexicons, *texts.tags}))
        raise Invalid([Problem("CODE", f"there are no words for '{code}'. Known: {known}.")])
    with program.store.write() as conn:
        signature = signed(name, role, registration, now.date(), "")
        if not is_latin(code):
            signature = sign(conn, code, name, role, registration, now.date())
            click.echo(f"{code} is signed by {signature.by} over {signature.sha256[:12]}.")
        n = sign_texts(conn, texts, code, signature.by, signature.role, signature.registration, now)
    click.echo(f"{n} of {len(texts.keys_of(code))} texts are signed.")


@language_group.command("words")
@click.argument("code")
def words_command(code: str) -> None:
    """Write the words that leads approved for CODE as TOML, for whoever keeps messages/lexicons/CODE.toml."""
    program = wiring.build(settings.load())
    _known(program, code)
    with program.store.read() as conn:
        written = as_toml(conn, code, program.clock.now())
    click.echo(written.rstrip() if written else f"# No words were approved here for {code}.")


@language_group.command("texts")
@click.argument("tag")
def texts_command(tag: str) -> None:
    """Write the catalog of TAG with a line '# reviewed:' above each text that was signed here, for whoever
    keeps locales/TAG/LC_MESSAGES/texts.po."""
    program = wiring.build(settings.load())
    texts = program.factory.texts
    if tag not in texts.tags or tag == SOURCE:
        raise Invalid([Problem("TAG", f"there is no catalog '{tag}'. Known: {', '.join(texts.tags[1:])}.")])
    with program.store.read() as conn:
        review = text_reviews(conn, texts)
    signed_by = {key: review(key, tag).by for key in texts.keys_of(tag)}
    click.echo(reviewed_catalog(content_root(), tag, signed_by).decode().rstrip())


def _known(program: wiring.Program, code: str) -> None:
    if code not in program.factory.lexicons:
        known = ", ".join(sorted(program.factory.lexicons))
        raise Invalid([Problem("CODE", f"there are no words for '{code}'. Known: {known}.")])


COMMANDS = (language_group,)

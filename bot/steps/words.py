"""Words that one installation adds to the reader: proposed from real replies, approved or refused by a lead,
in force as editions that stay.

Editions of the kind `words` are named by the language; their body lists every word in force there.
"""

from __future__ import annotations

import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

from sqlalchemy import Connection

from bot.clock import Clock
from bot.content.check_words import check_word
from bot.content.factory import Factory, load_factory
from bot.content.lexicon import load_lexicons, load_signs, raw_language
from bot.content.local_words import LocalWord, toml_of
from bot.content.source import content_root
from bot.core.errors import Conflict, Invalid, NotFound, Problem
from bot.core.pair import Pair
from bot.core.reader import Lexicon
from bot.core.reader.text import fold_words
from bot.store import editions
from bot.store import words as kept
from bot.store.editions import Edition
from bot.store.engine import Store
from bot.store.viewer import Role, Viewer
from bot.store.views_case import Received, case_file
from bot.store.words import Proposal

WORDS = "words"
log = logging.getLogger(__name__)
_FRESH = timedelta(seconds=1)


@dataclass(frozen=True, slots=True)
class InForce:
    """A word that holds now, who approved it and since which edition."""

    language: str
    word: LocalWord
    by: UUID | None
    edition: int
    at: datetime


def reply_to_propose_from(conn: Connection, viewer: Viewer, pair: UUID, reply: UUID) -> tuple[Pair, Received]:
    """Give a pair of the viewer's sites and one of its replies. Raises NotFound."""
    case = case_file(conn, viewer, pair)
    found = next((each for each in case.received if each.id == reply), None)
    if found is None:
        raise NotFound("There is no such reply of this pair.")
    return case.pair, found


def propose(
    store: Store, viewer: Viewer, pair: UUID, reply: UUID, language: str, word: LocalWord, now: datetime
) -> UUID:
    """Propose words that stand in a reply. Raises Invalid with every fault, NotFound for a foreign reply."""
    with store.write() as conn:
        whose, said = reply_to_propose_from(conn, viewer, pair, reply)
        problems = _faults(whose, language, word)
        if fold_words(word.phrase) not in fold_words(said.text):
            problems.append(Problem("phrase", "Take the words as they stand in her text."))
        if problems:
            raise Invalid(problems)
        return kept.add_proposal(conn, viewer, reply, language, word.phrase, word.means, now)


def approve(store: Store, viewer: Viewer, proposal: UUID, word: LocalWord, now: datetime) -> Edition:
    """Let a word hold from now on, perhaps written otherwise than it was proposed.

    Raises NotAllowed below a lead or for who proposed it, Conflict where somebody decided already, Invalid
    with every reason why the word would break the language or make another reply misread.
    """
    with store.read() as conn:
        found, standing = _looked_at(conn, viewer, proposal, word, now)
    _check(found.language, word, standing)  # takes seconds: nothing waits for it
    with store.write() as conn:
        found, again = _looked_at(conn, viewer, proposal, word, now)
        if _numbers(again) != _numbers(standing):
            raise Conflict("Other words were approved meanwhile. Please try again.")
        entry = {
            "phrase": word.phrase,
            "means": word.means,
            "by": str(viewer.person_id),
            "at": now.isoformat(),
            "proposal": str(found.id),
        }
        body = {"words": [*_entries(standing.get(found.language)), entry]}
        made = _publish(conn, found.language, body, viewer.person_id, "approved", now)
        decided = replace(found, means=word.means)
        kept.decide(conn, viewer, decided, approved=True, why="", edition=made.number, now=now)
    return made


def _looked_at(
    conn: Connection, viewer: Viewer, proposal: UUID, word: LocalWord, now: datetime
) -> tuple[Proposal, dict[str, Edition]]:
    """A proposal that this viewer may approve with these words, and what is in force."""
    found = kept.proposal_of(conn, viewer, proposal)
    if found.by == viewer.person_id:
        raise Conflict("Somebody else must approve what you proposed.")
    faults = _faults(case_file(conn, viewer, found.enrolment).pair, found.language, word)
    if faults:
        raise Invalid(faults)
    return found, _standing(conn, now)


def _check(language: str, word: LocalWord, standing: Mapping[str, Edition]) -> None:
    words = {code: _words(edition) for code, edition in standing.items()}
    faults = check_word(content_root(), load_factory().texts, words, language, word)
    if faults:
        raise Invalid(faults)


def refuse(store: Store, viewer: Viewer, proposal: UUID, why: str, now: datetime) -> None:
    """Turn a proposal down, saying why to who made it. Raises as `approve`."""
    if not why.strip():
        raise Invalid([Problem("why", "Say in a few words why not.")])
    with store.write() as conn:
        found = kept.proposal_of(conn, viewer, proposal)
        kept.decide(conn, viewer, found, approved=False, why=why.strip(), edition=0, now=now)


def take_out(store: Store, viewer: Viewer, language: str, phrase: str, now: datetime) -> None:
    """Let a word no longer hold. Raises NotFound where it does not."""
    viewer.needs(Role.lead)
    with store.write() as conn:
        standing = _standing(conn, now).get(language)
        entries = _entries(standing)
        rest = [each for each in entries if each["phrase"] != phrase]
        gone = next((each for each in entries if each["phrase"] == phrase), None)
        if gone is None:
            raise NotFound("This word does not hold any more.")
        made = _publish(conn, language, {"words": rest}, viewer.person_id, "taken out", now)
        subject = UUID(gone["proposal"])
        kept.note_word(conn, viewer, subject, "taken out", gone["means"], language, now, made.number)


def in_force(conn: Connection, now: datetime) -> list[InForce]:
    """Give every word that holds now, by language."""
    return [
        InForce(
            code,
            LocalWord(each["phrase"], each["means"]),
            UUID(each["by"]),
            edition.number,
            datetime.fromisoformat(each["at"]),
        )
        for code, edition in sorted(_standing(conn, now).items())
        for each in _entries(edition)
    ]


def as_toml(conn: Connection, language: str, now: datetime) -> str:
    """Give the words in force in a language as TOML for its file; empty where there are none."""
    edition = _standing(conn, now).get(language)
    if not _entries(edition):
        return ""
    messages = content_root() / "messages"
    subjects = {id: sign.subject for id, sign in load_signs(messages).items()}
    return toml_of(language, _words(edition), subjects, raw_language(messages, "en"))


def word_faults(conn: Connection, now: datetime) -> list[Problem]:
    """Name the words in force that the language files have outgrown: the reader works without them."""
    _, problems = _fitting({code: _words(edition) for code, edition in _standing(conn, now).items()})
    return problems


class LiveWords:
    """Gives the languages with the words in force each time it is called; they are compiled once."""

    def __init__(self, store: Store, factory: Factory, clock: Clock) -> None:
        self._store, self._factory, self._clock = store, factory, clock
        self._asked = datetime.min.replace(tzinfo=UTC)
        self._numbers: Mapping[str, int] = {}
        self._lexicons: Mapping[str, Lexicon] = factory.lexicons

    def __call__(self) -> Mapping[str, Lexicon]:
        machine = self._clock.machine()
        if machine - self._asked >= _FRESH:
            self._look()
            self._asked = machine
        return self._lexicons

    def _look(self) -> None:
        with self._store.read() as conn:
            standing = _standing(conn, self._clock.now())
        numbers = _numbers(standing)
        if numbers == self._numbers:
            return
        lexicons, problems = _fitting({code: _words(edition) for code, edition in standing.items()})
        for problem in problems:
            log.error("words approved here do not fit the language any more: %s", problem.field)
        self._lexicons = {
            code: replace(lexicon, edition=numbers.get(code, 0)) for code, lexicon in lexicons.items()
        }
        self._numbers = numbers


def _fitting(local: Mapping[str, Sequence[LocalWord]]) -> tuple[Mapping[str, Lexicon], list[Problem]]:
    """Compile with the words that fit; a language whose words do not is taken as its file stands."""
    messages = content_root() / "messages"
    try:
        return load_lexicons(messages, local=local), []
    except Invalid:
        good: dict[str, Sequence[LocalWord]] = {}
        problems: list[Problem] = []
        for code, words in local.items():
            try:
                load_lexicons(messages, local={code: words})
                good[code] = words
            except Invalid as refused:
                problems += refused.problems
        return load_lexicons(messages, local=good), problems


def _faults(pair: Pair, language: str, word: LocalWord) -> list[Problem]:
    problems = []
    if language not in load_factory().lexicons:
        problems.append(Problem("language", "Choose a language."))
    if not word.phrase.strip():
        problems.append(Problem("phrase", "Write the words."))
    if not word.means:
        problems.append(Problem("means", "Choose what it means."))
    names = {token for name in _names(pair) for token in fold_words(name).split()}
    if names & set(fold_words(word.phrase).split()):
        problems.append(Problem("phrase", "A name stands in it. Only the words that carry the meaning."))
    return problems


def _names(pair: Pair) -> list[str]:
    return [pair.mother.name, *(baby.name for baby in pair.babies if baby.name)]


def _standing(conn: Connection, now: datetime) -> dict[str, Edition]:
    return editions.in_force(conn, WORDS, now)


def _numbers(standing: Mapping[str, Edition]) -> dict[str, int]:
    return {code: edition.number for code, edition in standing.items()}


def _entries(edition: Edition | None) -> list[Mapping[str, Any]]:
    return list(edition.body["words"]) if edition else []


def _words(edition: Edition | None) -> tuple[LocalWord, ...]:
    return tuple(LocalWord(each["phrase"], each["means"]) for each in _entries(edition))


def _publish(
    conn: Connection, language: str, body: Mapping[str, Any], by: UUID, why: str, now: datetime
) -> Edition:
    return editions.publish(conn, WORDS, language, body, at=now, effective_from=now, by=by, why=why)

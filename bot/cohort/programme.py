"""What a run is about: the content that ships, or a changed schedule or rules, comes in; a world for
mothers to live in goes out."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from datetime import UTC, datetime

from bot.cohort.assumed import Assumed, read_assumed
from bot.cohort.world import World, load_words
from bot.content.factory import load_factory
from bot.content.schedule import schedule_from
from bot.content.site import site_from
from bot.core.errors import Invalid, Problem
from bot.core.follow import Content
from bot.core.pair import Hours, Site
from bot.core.schedule import Schedule

BEFORE_ALL = datetime(2026, 1, 1, tzinfo=UTC)  # the invented site is from then


def shipped() -> Content:
    """The content that ships with the program, every language taken as signed."""
    factory = load_factory()
    return Content(
        factory.schedules["standard"], factory.rules, factory.occasions, frozenset(factory.questions)
    )


def read_schedule(text: str) -> Schedule:
    """A schedule's file, as in messages/schedules. Raises Invalid with every fault."""
    factory = load_factory()
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise Invalid([Problem("", f"This is not TOML: {error}")]) from error
    return schedule_from(data, set(factory.questions), set(factory.texts.keys))


def languages() -> frozenset[str]:
    """Those in which mothers can be invented: with texts, words for the reader, and words of their own."""
    factory = load_factory()
    return frozenset(factory.lexicons) & frozenset(factory.texts.languages) & frozenset(load_words())


def _site(assumed: Assumed) -> Site:
    """The invented site; its inbox is read in the shifts."""
    cover = tuple(Hours(each.weekdays, each.start, each.until) for each in assumed.staff.shifts)
    return replace(site_from(assumed.site, BEFORE_ALL), cover=cover)


def world_of(content: Content, assume: str = "", days: int = 42, seed: int = 1) -> World:
    """A world with this content. Raises Invalid with every fault of `assume`, the changed assumptions."""
    factory = load_factory()
    signs = factory.rules.vocabulary.signs
    assumed = read_assumed(assume, languages=languages(), signs=signs)
    return World(
        replace(content, unsigned=content.unsigned | frozenset(assumed.unsigned)),
        factory.texts,
        factory.lexicons,
        assumed,
        _site(assumed),
        days,
        seed,
    )

from datetime import UTC, datetime

from bot.cohort.world import World
from bot.content.site import site_from
from bot.core.follow import Content


def world_of(factory, assumed, *, days, seed):
    content = Content(
        factory.schedules["standard"], factory.rules, factory.occasions, frozenset(factory.questions)
    )
    return World(
        content,
        factory.texts,
        factory.lexicons,
        assumed,
        site_from(assumed.site, datetime(2026, 1, 1, tzinfo=UTC)),
        days,
        seed,
    )

"""An invented mother: who she is to the programme, and the truth that the programme can only hear of."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from random import Random
from uuid import UUID

from bot.cohort.draws import between, exponential, whole
from bot.cohort.world import NAMES, World
from bot.core.pair import Assessment, Baby, Consent, Mother, Pair
from bot.core.states import EnrolmentState, Texting
from bot.core.young_infant import ATTACHMENT, POSITION, SUCKLING

GOOD_SIGNS = dict.fromkeys((*POSITION, *ATTACHMENT), "yes") | {SUCKLING: "effective"}
POOR_SIGNS = GOOD_SIGNS | {"attachment_mouth": "no", "attachment_lower_lip": "no", SUCKLING: "not_effective"}
NUMBER = "+447700900123"  # Ofcom's range for drama; lives never meet, so one number serves all
DAY = timedelta(days=1)
STILL_TRUE = DAY  # an item that comes up so long after a trouble mended is still about it


@dataclass(slots=True)
class Ill:
    """A true trouble: from `begins` to `over`. `sign` is a danger's, '' for a feeding trouble."""

    sign: str
    begins: datetime
    over: datetime
    named: bool  # she tells when she is asked
    heard_at: datetime | None = None
    heard_by: str = ""  # reply, call or review
    told: bool = False

    def is_true(self, at: datetime) -> bool:
        return self.begins <= at < self.over

    def is_behind(self, at: datetime) -> bool:
        """Tell whether what comes up at `at` may be about this."""
        return self.begins <= at < self.over + STILL_TRUE


@dataclass(slots=True)
class Woman:
    """`off` are days of life on which her phone gets nothing, as far as they were looked at."""

    pair: Pair
    born_at: datetime
    usual_feeds: int
    pain: int
    other_food: bool
    wrong_number: bool
    often_off: bool
    trouble: Ill | None
    hurts: bool
    dangers: list[Ill]
    off: dict[int, bool] = field(default_factory=dict)

    @property
    def language(self) -> str:
        return self.pair.mother.language

    def day(self, at: datetime) -> int:
        return max(0, (at.astimezone(self.pair.tz).date() - self.pair.babies[0].born_on).days)

    def ills(self) -> Iterator[Ill]:
        if self.trouble is not None:
            yield self.trouble
        yield from self.dangers

    def in_trouble(self, at: datetime) -> bool:
        return self.trouble is not None and self.trouble.is_true(at)

    def danger(self, at: datetime) -> Ill | None:
        return next((ill for ill in self.dangers if ill.is_true(at)), None)


def invent(index: int, world: World, random: Random) -> Woman:
    """Make the mother with this number. Her draws come from her own generator, so that she is the same
    whoever lives beside her."""
    assumed = world.assumed
    minutes = int(random.random() * assumed.births.over_days * 24 * 60)
    born_at = world.births + timedelta(minutes=minutes)
    left_at = born_at + timedelta(minutes=int(60 * between(random, *assumed.births.stay_hours)))
    language = world.languages.draw(random)
    babies = _babies(index, world, random, born_at, language)
    phone = random.random()
    has_phone = phone >= assumed.phones.none
    pair = Pair(
        id=UUID(int=index + 1),
        external_id=str(index + 1),
        site=world.site,
        mother=Mother(
            UUID(int=1),
            NAMES(language)["mother"],
            NUMBER if has_phone else None,
            language,
            False,
            Texting.unverified if has_phone else Texting.none,
        ),
        babies=babies,
        discharged_at=left_at,
        enrolled_at=left_at,
        consent=Consent(texts=has_phone, calls=True),
        preferred_hour=None,
        follow_up_by="text" if has_phone else "call",
        schedule=world.content.schedule.name,
        state=EnrolmentState.following,
        wake_at=left_at,
        assessments=tuple(
            Assessment(UUID(int=1), baby.ordinal, left_at, "", "discharge", GOOD_SIGNS) for baby in babies
        ),
    )
    return Woman(
        pair=pair,
        born_at=born_at,
        usual_feeds=whole(random, 9, 12),
        pain=whole(random, 0, 2),
        other_food=random.random() < assumed.reviews.other_food,
        wrong_number=has_phone and random.random() < assumed.phones.wrong,
        often_off=random.random() < assumed.phones.off_mothers,
        trouble=_trouble(world, random, born_at, left_at),
        hurts=random.random() < assumed.trouble.pain,
        dangers=_dangers(world, random, born_at, left_at, language),
    )


def _babies(index: int, world: World, random: Random, born_at: datetime, language: str) -> tuple[Baby, ...]:
    assumed = world.assumed.babies
    born_on = born_at.astimezone(world.tz).date()
    number = 2 if random.random() < assumed.twins else 1
    low, early = random.random() < assumed.low_birth_weight, random.random() < assumed.preterm
    weight = 10 * (whole(random, 190, 245) if low else whole(random, 260, 390))
    weeks = float(whole(random, 34, 36) if early else whole(random, 37, 41))
    name = NAMES(language)["baby"]
    return tuple(
        Baby(
            UUID(int=ordinal),
            ordinal,
            name,
            born_on,
            born_at,
            "female" if index % 2 else "male",
            weight,
            weeks,
        )
        for ordinal in range(1, number + 1)
    )


def _trouble(world: World, random: Random, born_at: datetime, left_at: datetime) -> Ill | None:
    assumed = world.assumed.trouble
    if random.random() >= assumed.share:
        return None
    begins = max(born_at + (world.onsets.draw(random) + random.random()) * DAY, left_at)
    over = begins + DAY * (0.5 + exponential(random, assumed.lasts_days))
    return Ill("", begins, over, random.random() < assumed.worries)


def _dangers(world: World, random: Random, born_at: datetime, left_at: datetime, language: str) -> list[Ill]:
    """At most one danger a day, and none while another lasts."""
    assumed, found = world.assumed.dangers, list[Ill]()
    for day, chance in enumerate(assumed.chances[: world.days]):
        if random.random() >= chance:
            continue
        begins = max(born_at + (day + random.random()) * DAY, left_at)
        over = begins + timedelta(hours=assumed.lasts_hours)
        sign, named = world.signs[language].draw(random), random.random() < assumed.named
        if not found or found[-1].over <= begins:
            found.append(Ill(sign, begins, over, named))
    return found

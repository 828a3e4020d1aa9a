"""What triage looks at: a baby's facts with its mother's, and the vocabulary that says what each means.

In: nothing; these are the types. `facts_read` fills `Facts` from JSON, `facts_judged` turns them into one
number per axis. An *axis* is a direction in which a fact can get worse: feeds has two (too few, too many),
most facts have one. On every axis a larger *badness* is worse, so that rules and proof need one order only.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from math import floor

from bot.core.growth import Standard


class Kind(StrEnum):
    """How a fact is written and where it comes from; messages/facts.toml explains each."""

    record = "record"
    number = "number"
    flag = "flag"
    sign = "sign"
    choice = "choice"
    worked_out = "worked_out"
    outcome = "outcome"


class AxisKind(StrEnum):
    number = "number"
    flag = "flag"
    choice = "choice"
    outcome = "outcome"


@dataclass(frozen=True, slots=True)
class Axis:
    """One direction in which a fact gets worse.

    badness of a number is `direction` x value; of a flag 1 when it stands on its worse side; of a choice
    its place among `values` counted from 1; of an outcome the urgency, or how many matters held.
    """

    id: str
    fact: str
    kind: AxisKind
    direction: int = 1  # 1: larger is worse, -1: smaller is worse
    values: tuple[str, ...] = ()  # choices, mild to grave
    worse_word: str = "yes"  # the side of a flag that is worse: yes or no
    step: float = 0  # the smallest step a person would count; 0: no "just inside"
    ask_if_open: bool = False  # an open end on this side may hide something worse


@dataclass(frozen=True, slots=True)
class FactSpec:
    """One entry of messages/facts.toml."""

    id: str
    kind: Kind
    meaning: str
    source: str
    subject: str = "baby"  # baby or mother
    unit: str = ""
    shape: str = ""  # of a record, in words
    whole: bool = False
    lowest: float | None = None
    highest: float | None = None
    values: tuple[str, ...] = ()
    axes: tuple[Axis, ...] = ()
    limits: Mapping[str, float] = field(default_factory=dict)  # numbers of a worked-out fact
    ladders: tuple[tuple[str, ...], ...] = ()  # of an outcome; those that stand together are one matter
    count: bool = False  # an outcome that counts matters instead of taking the gravest

    @property
    def every_ladder(self) -> tuple[str, ...]:
        return tuple(ladder for matter in self.ladders for ladder in matter)


@dataclass(frozen=True)
class Vocabulary:
    """Every fact by its id, every axis by its own, and the standard that weights are set beside."""

    facts: Mapping[str, FactSpec]
    standard: Standard = field(default_factory=dict)
    ids: frozenset[str] = field(init=False)
    axes: Mapping[str, Axis] = field(init=False)
    outcomes: tuple[FactSpec, ...] = field(init=False)
    worked_out: tuple[FactSpec, ...] = field(init=False)
    signs: frozenset[str] = field(init=False)  # ids that `danger_signs` may hold

    def __post_init__(self) -> None:
        specs = self.facts.values()
        object.__setattr__(self, "ids", frozenset(self.facts))
        object.__setattr__(self, "axes", {axis.id: axis for spec in specs for axis in spec.axes})
        object.__setattr__(self, "outcomes", tuple(s for s in specs if s.kind is Kind.outcome))
        object.__setattr__(self, "worked_out", tuple(s for s in specs if s.kind is Kind.worked_out))
        told = [spec for spec in specs if spec.kind in (Kind.sign, Kind.flag)]
        object.__setattr__(self, "signs", frozenset(s.id for s in told if s.axes[0].worse_word == "yes"))

    def describe(self) -> Iterator[str]:
        """Every fact, a line each: id, how it is written or worked out, which way is worse, meaning."""
        for spec in self.facts.values():
            yield f"{spec.id}: {_written(spec)}. {spec.meaning}"


def _written(spec: FactSpec) -> str:
    if spec.kind is Kind.outcome:
        return "an outcome of rules, not to be given"
    if spec.kind is Kind.worked_out:
        return f"worked out, not to be given; {_worse(spec)}"
    if spec.kind is Kind.record:
        return spec.shape
    if spec.kind is Kind.number:
        return f"{spec.lowest:g} to {spec.highest:g} {_worse(spec)}"
    if spec.kind is Kind.choice:
        return f"one of {_worse(spec)}"
    if spec.kind is Kind.sign:
        return f"danger sign of the {spec.subject}, in danger_signs or true or false, yes is worse"
    return f"true or false, {_worse(spec)}"


def _worse(spec: FactSpec) -> str:
    """Unit or values, and which way is worse."""
    kind = spec.axes[0].kind
    if kind is AxisKind.choice:
        return f"{', '.join(spec.values)}, mild to grave"
    if kind is AxisKind.flag:
        return f"{spec.axes[0].worse_word} is worse"
    worse = " and ".join("more" if axis.direction > 0 else "fewer" for axis in spec.axes)
    return f"{spec.unit}, {worse} is worse"


@dataclass(frozen=True, slots=True)
class Span:
    """A number as she gave it; an end is None when it stayed open ('less than 6' is low None, high 5),
    both when she was asked and does not know."""

    low: float | None
    high: float | None


Value = Span | bool | str


@dataclass(frozen=True, slots=True)
class Weight:
    age_days: int
    grams: float


@dataclass(frozen=True, slots=True)
class Earlier:
    """Earlier answers, by the age at which they were given."""

    age_days: int
    answers: Mapping[str, Value]


@dataclass(frozen=True, slots=True)
class Facts:
    """One baby with its mother, as triage sees them. What is not known is left out or None.

    age_days    difference of local dates, 0 on the day of birth
    age_hours   elapsed hours, None when the hour of birth is unknown
    values      fact id -> number, yes or no, or choice
    assessment  position_neck .. attachment_areola -> yes, no, not_seen; suckling -> its word
    weights     after birth, by age
    history     earlier answers, oldest first
    risks       ids of the risks recorded at discharge (`bot.core.risks`)
    """

    age_days: int
    age_hours: float | None = None
    values: Mapping[str, Value] = field(default_factory=dict)
    birth_weight_g: float | None = None
    gestation_weeks: float | None = None
    sex: str | None = None
    weights: tuple[Weight, ...] = ()
    assessment: Mapping[str, str] = field(default_factory=dict)
    history: tuple[Earlier, ...] = ()
    risks: frozenset[str] = frozenset()

    @property
    def k(self) -> int:
        """The day of life that holds most of the last 24 hours: floor(hours / 24 + 0.5), 1 is 0 to 24 h.

        Without the hour of birth, the difference of dates. Below 12 hours it is 0 and nothing is counted.
        """
        return self.age_days if self.age_hours is None else floor(self.age_hours / 24 + 0.5)

    @property
    def youngest_hours(self) -> float:
        """Hours since birth; without the hour of birth the youngest age that the two dates allow.

        A baby born late yesterday is hours old today: rules that fear a young age must see it so.
        """
        return max(0.0, 24.0 * (self.age_days - 1)) if self.age_hours is None else self.age_hours

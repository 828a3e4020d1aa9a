"""messages/facts.toml -> the `Vocabulary` of triage, or every fault of the file.

In: the parsed file. Out: each fact with the axes on which it can get worse. Unknown keys are faults.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from bot.content.growth import weight_for_age
from bot.core.errors import Problem
from bot.core.facts import Axis, AxisKind, FactSpec, Kind, Vocabulary
from bot.core.facts_judged import OPEN_ANSWER, WORKED_OUT
from bot.core.facts_read import RECORDS

Words = Annotated[str, Field(min_length=1)]
Side = Literal["low", "high"]
Entry = TypeVar("Entry", bound=BaseModel)

# What an entry of each kind must say beside meaning and source.
NEEDED: Mapping[Kind, frozenset[str]] = {
    Kind.record: frozenset({"shape"}),
    Kind.number: frozenset({"unit", "lowest", "highest", "step"}),
    Kind.flag: frozenset({"worse"}),
    Kind.sign: frozenset(),
    Kind.choice: frozenset({"values"}),
    Kind.worked_out: frozenset({"as_"}),
    Kind.outcome: frozenset({"ladders"}),
}


class FactEntry(BaseModel):
    """One table of facts.toml, as written."""

    model_config = ConfigDict(extra="forbid", strict=True)

    kind: Literal["record", "number", "flag", "sign", "choice", "worked_out", "outcome"]
    meaning: Words
    source: Words
    subject: Literal["baby", "mother"] = "baby"
    shape: str = ""
    unit: str = ""
    whole: bool = False
    lowest: float | None = None
    highest: float | None = None
    worse: Literal["low", "high", "yes", "no"] | None = None
    axes: dict[str, Side] = {}
    step: float | None = Field(default=None, gt=0)
    ask_if_open: list[Side] = []
    values: list[str] = []
    as_: Literal["number", "flag", "choice"] | None = Field(default=None, alias="as")
    limits: dict[str, float] = {}
    ladders: list[str | list[str]] = []
    count: bool = False

    def faults(self) -> Iterator[str]:
        """What is wrong with this entry as a whole."""
        for name in sorted(NEEDED[Kind(self.kind)] - self.model_fields_set):
            yield f"needs {name.rstrip('_')}."
        shape = self.axis_kind
        if shape is AxisKind.number and bool(self.axes) == (self.worse in ("low", "high")):
            yield 'needs either worse = "low" or "high", or axes with a direction each.'
        if shape is AxisKind.flag and self.kind != "sign" and self.worse not in ("yes", "no"):
            yield 'needs worse = "yes" or "no".'
        if shape is AxisKind.choice and len(set(self.values)) < 2:
            yield "needs at least two different values, from mild to grave."

    @property
    def axis_kind(self) -> AxisKind | None:
        named = self.as_ if self.kind == "worked_out" else self.kind
        if named in (None, "record"):
            return None
        return AxisKind.flag if named == "sign" else AxisKind(named)

    def build(self, id: str) -> FactSpec:
        return FactSpec(
            id=id,
            kind=Kind(self.kind),
            meaning=self.meaning,
            source=self.source,
            subject=self.subject,
            unit=self.unit,
            shape=self.shape,
            whole=self.whole,
            lowest=self.lowest,
            highest=self.highest,
            values=tuple(self.values),
            axes=tuple(self._axes(id)),
            limits=self.limits,
            ladders=tuple((one,) if isinstance(one, str) else tuple(one) for one in self.ladders),
            count=self.count,
        )

    def _axes(self, id: str) -> Iterator[Axis]:
        kind = self.axis_kind
        if kind is AxisKind.number:
            sides = self.axes or {id: "high" if self.worse == "high" else "low"}
            for axis, side in sides.items():
                direction, asked = (1 if side == "high" else -1), side in self.ask_if_open
                yield Axis(axis, id, kind, direction, step=self.step or 0, ask_if_open=asked)
        elif kind is AxisKind.choice:
            yield Axis(id, id, kind, values=tuple(self.values), step=1)
        elif kind is AxisKind.flag:
            yield Axis(id, id, kind, worse_word=self.worse or "yes")
        elif kind is AxisKind.outcome:
            yield Axis(id, id, kind)


def read_vocabulary(data: Mapping[str, Any]) -> tuple[Vocabulary, list[Problem]]:
    """Build the vocabulary from the parsed file; the problems name every fault; faulty facts are left out."""
    problems: list[Problem] = []
    facts: dict[str, FactSpec] = {}
    for id, raw in data.items():
        entry = read_entry(FactEntry, raw, f"facts.toml [{id}]", problems)
        if entry is None:
            continue
        faults = list(entry.faults())
        problems += [Problem(f"facts.toml [{id}]", fault) for fault in faults]
        if not faults:
            facts[id] = entry.build(id)
    vocabulary = Vocabulary(facts, weight_for_age())
    problems += _axes_twice(vocabulary)
    problems += _not_in_step_with_code(vocabulary)
    return vocabulary, problems


def _axes_twice(vocabulary: Vocabulary) -> Iterator[Problem]:
    seen: dict[str, str] = {}
    for spec in vocabulary.facts.values():
        for axis in spec.axes:
            if seen.setdefault(axis.id, spec.id) != spec.id:
                yield Problem(f"facts.toml [{spec.id}]", f"{axis.id} is also a direction of {seen[axis.id]}.")


def _not_in_step_with_code(vocabulary: Vocabulary) -> Iterator[Problem]:
    """Records and worked-out facts have code of their own: file and code must name the same ones."""
    for kind, known in ((Kind.record, RECORDS), (Kind.worked_out, frozenset(WORKED_OUT) | {OPEN_ANSWER})):
        listed = {spec.id for spec in vocabulary.facts.values() if spec.kind is kind}
        for id in sorted(known - listed):
            yield Problem("facts.toml", f"[{id}] is missing: the program works with it.")
        for id in sorted(listed - known):
            yield Problem(f"facts.toml [{id}]", f"is a {kind} that the program does not know.")


def read_entry(model: type[Entry], raw: object, where: str, problems: list[Problem]) -> Entry | None:
    """Check one table of a file; add its faults to `problems`, with the key in which each stands."""
    try:
        return model.model_validate(raw)
    except ValidationError as error:
        for fault in error.errors():
            key = ".".join(map(str, fault["loc"]))
            plain = {"extra_forbidden": "There is no such key.", "missing": "This is missing."}
            message = plain.get(fault["type"]) or fault["msg"].removeprefix("Value error, ")
            problems.append(Problem(" ".join(filter(None, [where, key])), message))
        return None

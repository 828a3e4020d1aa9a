"""Where a site's protocol differs: an edition's rules and the site's overlay -> the rules as they hold there.

An overlay is a TOML file with a table for each rule that differs. It may change a threshold, the urgency, or
switch a rule off, and says why and by which protocol; it can't make new rules. What comes out is read like
any rules, so a comparison that points the wrong way is refused; `bot.content.check_rules` proves the whole.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from copy import deepcopy
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from bot.content.rules import COMPARISON, rules_from
from bot.content.vocabulary import Words, read_entry
from bot.core.errors import Invalid, Problem
from bot.core.triage_rules import Rule, RuleSet

Body = Mapping[str, Any]
MARK = "site protocol"


class OverlayEntry(BaseModel):
    """One rule as the site has it.

    urgency     another one, or off
    thresholds  axis -> the number or choice that takes the place of the rule's own
    why         the reason in plain words; needed with a threshold, for the rule's own names the old number
    reason      why the site differs, `source` its protocol with section and date
    """

    model_config = ConfigDict(extra="forbid", strict=True)

    urgency: Literal["off", "routine", "same_day", "go_now"] | None = None
    thresholds: dict[str, float | str] = Field(default_factory=dict)
    why: str = ""
    advice: str = ""
    reason: Words
    source: Words


def read_overlay(text: str) -> dict[str, Any]:
    """Read an overlay's file. Raises Invalid where it is not TOML or holds nothing."""
    try:
        overlay = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise Invalid([Problem("", f"This is not TOML: {error}")]) from error
    if not overlay:
        raise Invalid([Problem("", "Write a table for at least one rule.")])
    return overlay


def overlaid(body: Body, overlay: Body) -> RuleSet:
    """Give the rules of an edition's body as they hold under an overlay. Raises Invalid with every fault."""
    problems: list[Problem] = []
    files = {name: dict(deepcopy(dict(tables))) for name, tables in body["files"].items()}
    advices = {raw["advice"] for tables in files.values() for raw in tables.values()}
    for id, written in overlay.items():
        entry = read_entry(OverlayEntry, written, f"[{id}]", problems)
        tables = next((tables for tables in files.values() if id in tables), None)
        if tables is None:
            problems.append(Problem(f"[{id}]", "There is no such rule."))
        elif entry is not None:
            problems += [Problem(f"[{id}]", fault) for fault in _faults(entry)]
            if entry.urgency == "off":
                del tables[id]
            else:
                problems += [Problem(f"[{id}]", fault) for fault in _change(tables[id], entry, advices)]
    rules, more = rules_from(body["facts"], files)
    if problems or more:
        raise Invalid([*problems, *more])
    return rules


def milder(body: Body, overlay: Body) -> list[str]:
    """Name the rules that an overlay makes milder, harder to meet, or switches off."""
    common, local = overlaid(body, {}), overlaid(body, overlay)
    return sorted(id for id in overlay if _is_milder(common.rule(id), local.rule(id)))


def _is_milder(common: Rule | None, local: Rule | None) -> bool:
    if common is None or local is None:
        return common is not None
    before, after = (*common.all, *common.any), (*local.all, *local.any)
    return local.urgency < common.urgency or any(
        later.bound > earlier.bound for earlier, later in zip(before, after, strict=True)
    )


def _faults(entry: OverlayEntry) -> list[str]:
    faults = []
    if entry.urgency is None and not entry.thresholds:
        faults.append("Give another urgency, thresholds, or both.")
    if entry.thresholds and not entry.why.strip():
        faults.append("Say why in plain words: the rule's own reason names the old threshold.")
    if entry.urgency == "off" and (entry.thresholds or entry.why or entry.advice):
        faults.append("A rule that is off needs no more than its reason and source.")
    return faults


def _change(raw: dict[str, Any], entry: OverlayEntry, advices: set[str]) -> list[str]:
    """Change a rule's table in place; gives what can't be done."""
    faults = [
        f"{axis} is not compared in this rule."
        for axis, value in entry.thresholds.items()
        if not _put(raw, axis, value)
    ]
    if entry.urgency is not None and entry.urgency != raw["urgency"]:
        raw["advice"] = _advice(raw["advice"], entry.urgency, advices)
        raw["urgency"] = entry.urgency
    raw["why"] = entry.why.strip() or raw["why"]
    raw["advice"] = entry.advice or raw["advice"]
    raw["source"] = f"{entry.source} (instead of: {raw['source']})"
    raw["mark"] = MARK
    return faults


def _put(raw: dict[str, Any], axis: str, value: float | str) -> bool:
    """Put another value into every comparison of an axis; tells whether there was one."""
    found = False
    for part in ("all", "any"):
        texts = list(raw.get(part, ()))
        for place, text in enumerate(texts):
            match = COMPARISON.match(text)
            if match is not None and match[1] == axis:
                texts[place] = (
                    f"{axis} {match[2]} {value:g}"
                    if not isinstance(value, str)
                    else (f"{axis} {match[2]} {value}")
                )
                found = True
        if texts:
            raw[part] = texts
    return found


def _advice(standing: str, urgency: str, advices: set[str]) -> str:
    """The text of the new urgency that speaks of the same person. Who must be called is called."""
    wanted = f"advice-{urgency.replace('_', '-')}"
    for key in (f"{wanted}-mother", wanted) if standing.endswith("-mother") else (wanted,):
        if key in advices and standing != "advice-call-you":
            return key
    return standing

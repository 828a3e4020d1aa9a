"""The command backtest: what a changed rule set would have made of the stored answers."""

from __future__ import annotations

import json
import sys
from collections import Counter
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import click

from bot import settings, wiring
from bot.content.check_rules import prove
from bot.content.factory import rules_of
from bot.core.backtest import Change, Tally, compare
from bot.core.errors import DunnockError
from bot.core.states import Urgency
from bot.steps.backtest import changed_rules, judged_twice

_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)
_DAY = click.DateTime(["%Y-%m-%d"])
_URGENCIES = (Urgency.go_now, Urgency.same_day, Urgency.routine)
_KINDS = ("new", "lost", "graver", "milder")
_LISTED = 40


@click.command("backtest")
@click.argument("rules", type=_FILE)
@click.option("--from", "first", type=_DAY, help="First local day; 28 days before the last if left out.")
@click.option("--to", "last", type=_DAY, help="Last local day; today if left out.")
@click.option("--without", multiple=True, metavar="RULE", help="Leave a standing rule out; repeatable.")
@click.option("--json", "as_json", is_flag=True, help="Everything, with every changed day, as JSON.")
def backtest_command(
    rules: Path, first: datetime | None, last: datetime | None, without: tuple[str, ...], as_json: bool
) -> None:
    """Run changed rules over the stored answers and print what would have been different.

    RULES is a TOML file as in messages/rules: a rule with a standing id takes its place, others are added.
    Everything is counted once a pair and local day, by the gravest. Nothing is changed or sent. Faults
    that the proof of the changed rules finds are listed, exit 1.
    """
    program = wiring.build(settings.load())
    now = program.clock.now()
    try:
        text = rules.read_text("utf-8")
    except UnicodeDecodeError:
        raise DunnockError(f"{rules} is not UTF-8 text.") from None
    end = (last or now).date()
    start = first.date() if first else end - timedelta(days=27)
    tally, unread = Tally(), list[str]()
    with program.store.read() as conn:
        body = changed_rules(conn, text, without, now)
        changes = list(compare(judged_twice(conn, body, start, end, now, unread), tally))
    proof = prove(rules_of(body), set(program.factory.texts.keys))
    result = _result(tally, changes, start.isoformat(), end.isoformat(), len(unread))
    if as_json:
        click.echo(json.dumps(result, ensure_ascii=False, indent=2))
    else:
        click.echo("\n".join(_lines(result, proof.line)))
    for problem in proof.problems:
        click.echo(f"FAULT {problem}", err=True)
    if proof.problems:
        sys.exit(1)


def _result(tally: Tally, changes: list[Change], first: str, last: str, unread: int) -> dict[str, Any]:
    loads = {urgency.name: tally.load(urgency) for urgency in _URGENCIES}
    return {
        "from": first,
        "to": last,
        "judgements": tally.judgements,
        "pairs": tally.pairs,
        "days": len(tally.days),
        "unreadable": unread,
        "load_a_day": {name: {"before": one, "after": two} for name, (one, two) in loads.items()},
        "changed_days": {
            kind: {u.name: n for u in _URGENCIES if (n := tally.kinds[kind, u])}  # type: ignore[index]
            for kind in _KINDS
        },
        "rules": {
            f"{rule} {how}": n for (rule, how), n in sorted(tally.rules.items(), key=lambda each: -each[1])
        },
        "changes": [
            {
                "pair": str(change.pair),
                "day": change.day.isoformat(),
                "kind": change.kind,
                "before": change.before.name,
                "after": change.after.name,
                "why": [{"rule": found.rule, "why": found.why} for found in change.why],
            }
            for change in changes
        ],
    }


def _lines(result: dict[str, Any], proof: str) -> list[str]:
    lines = [
        f"{result['judgements']} judgements of {result['pairs']} pairs on {result['days']} days, "
        f"{result['from']} to {result['to']}; {result['unreadable']} could not be read.",
        proof,
        "",
        "Pairs a day, by the gravest   before    after",
    ]
    lines += [
        f"  {name:26}{each['before']:9.2f}{each['after']:9.2f}" for name, each in result["load_a_day"].items()
    ]
    lines += ["", "Days of a pair that differ"]
    for kind in _KINDS:
        found = result["changed_days"][kind]
        counted = ", ".join(f"{n} {name}" for name, n in found.items()) or "none"
        lines.append(f"  {kind:7} {counted}")
    lines += ["", "By rule: days on which it holds in one rule set only"]
    lines += [f"  {n:6} {rule}" for rule, n in result["rules"].items()] or ["  none"]
    lines += ["", *_listed(result["changes"])]
    return lines


def _listed(changes: list[dict[str, Any]]) -> list[str]:
    if not changes:
        return ["No pair's day would have been different."]
    lines = ["Each, with its reason"]
    for change in changes[:_LISTED]:
        why = "; ".join(f"{each['why']} ({each['rule']})" for each in change["why"])
        lines.append(
            f"  {change['day']} {change['pair']} {change['kind']}: "
            f"{change['before']} -> {change['after']}: {why}"
        )
    if len(changes) > _LISTED:
        rest = Counter(change["kind"] for change in changes[_LISTED:])
        lines.append(f"  and {sum(rest.values())} more; --json lists all.")
    return lines


COMMANDS = (backtest_command,)

"""Reader and triage on one core, beside the least that could be done with the same texts and facts."""

from __future__ import annotations

import json
import os
import tomllib
import unicodedata
from pathlib import Path
from time import process_time
from unittest.mock import patch

from bot.content.factory import load_factory
from bot.content.lexicon import load_lexicons
from bot.content.source import content_root
from bot.core.reader import read
from bot.core.triage import facts_from_json, triage
from tests.bench.measure import Cell, Goal, Line, Results, Spread, in_turn, per_cpu_second, rate_text, ratios
from tests.bench.place import Place

_TESTS = Path(__file__).parents[1]


def bench(place: Place) -> Results:
    """Read the corpus and judge the cases; parsing the facts counts with triage."""
    factory = load_factory()
    replies = [json.loads(line) for file in _corpus() for line in file.read_text("utf-8").splitlines()]
    questions = factory.questions
    asked = [
        (
            each["text"],
            _asking(each["asking"], questions),
            each["age_days"],
            factory.lexicons[each["language"]],
        )
        for each in replies
    ]
    texts = [each["text"] for each in replies]
    cases = tomllib.loads((content_root() / "messages" / "cases" / "triage.toml").read_text("utf-8"))["case"]
    bodies = [json.dumps(case["facts"]) for case in cases]
    told = [json.loads(body) for body in bodies]
    rules = factory.rules
    facts = [facts_from_json(each, rules.vocabulary) for each in told]

    found = in_turn(
        {
            "fold": lambda: per_cpu_second(len(texts), lambda: [_folded(text) for text in texts], repeat=40),
            "read": lambda: per_cpu_second(len(asked), lambda: [read(*each) for each in asked]),
            "loads": lambda: per_cpu_second(
                len(bodies), lambda: [json.loads(body) for body in bodies], repeat=40
            ),
            "triage": lambda: per_cpu_second(
                len(facts), lambda: [triage(each, rules) for each in facts], repeat=5
            ),
            "facts": lambda: per_cpu_second(
                len(told),
                lambda: [triage(facts_from_json(each, rules.vocabulary), rules) for each in told],
                repeat=5,
            ),
        },
        place.rounds,
    )

    def line(what: str, ours: str, base: str, floor: int) -> list[Line]:
        speed = f"{what}, a second on one core"
        share = f"{what}, as a share of {'NFC and casefold' if base == 'fold' else 'json.loads'} alone"
        return [
            Line(speed, {"": Cell(ratios(found[ours], [1.0] * place.rounds), places=0)}, Goal(floor)),
            Line(share, {"": Cell(ratios(found[ours], found[base]), rate_text(found[base]), places=4)}),
        ]

    return Results(
        [
            *line(f"Reader, {len(asked):,} replies of the corpus", "read", "fold", 2_000),
            *line(f"Triage, {len(cases)} cases, facts at hand", "triage", "loads", 20_000),
            *line("Triage with its facts read and checked first", "facts", "loads", 20_000),
            *_start_up(place),
        ]
    )


def _start_up(place: Place) -> list[Line]:
    """How long the words of all languages take to load: compiled anew, and as kept from an earlier start."""
    messages = content_root() / "messages"

    def cost(anew: bool) -> float:
        begun = process_time()
        load_lexicons(messages, anew=anew)
        return 1000 * (process_time() - begun)

    with patch.dict(os.environ, {"XDG_CACHE_HOME": str(place.folder)}):
        found = in_turn({"cold": lambda: cost(anew=True), "warm": lambda: cost(anew=False)}, place.rounds)
    what = f"Loading the words of {len(load_lexicons(messages))} languages, ms of one core"
    return [
        Line(f"{what}, compiled anew", {"": Cell(Spread.of(found["cold"]), places=0)}),
        Line(f"{what}, kept from before", {"": Cell(Spread.of(found["warm"]), places=0)}, Goal(300, True)),
    ]


def _corpus() -> list[Path]:
    return sorted((_TESTS / "corpus").glob("*.jsonl"))


def _asking(given: object, known: object) -> list[str]:
    keys = given if isinstance(given, list) else [given]
    return [str(key) for key in keys if key != "none"]


def _folded(text: str) -> str:
    return unicodedata.normalize("NFC", text).casefold()

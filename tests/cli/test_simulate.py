"""The command `simulate`."""

from __future__ import annotations

import json

from click.testing import CliRunner, Result

from bot.cli import main
from bot.content.source import content_root

SMALL = ("simulate", "--mothers", "8", "--days", "4", "--processes", "1")
RULES = """
[feeds-a-lot]
urgency = "routine"
ladder = "feeds-a-lot"
all = ["feeds_few at most 40"]
why = "She gave a number."
source = "an invented protocol"
mark = "common practice"
advice = "advice-routine"
ask = "How is feeding?"
"""


def simulate(*options: str) -> Result:
    return CliRunner().invoke(main, [*SMALL, *options])


def test_the_json_is_whole_and_says_what_was_run():
    done = simulate("--json", "--seed", "5", "--counsellors", "3")
    assert done.exit_code == 0, done.output
    found = json.loads(done.stdout)
    assert found["run"] | {"rules": 0, "edition": 0} == {
        "mothers": 8, "days": 4, "seed": 5, "counsellors": 3,
        "schedule": "standard", "rules": 0, "edition": 0,
    }  # fmt: skip
    assert found["texts"]["segments"] > 0


def test_a_changed_programme_stands_beside_the_one_that_ships(tmp_path):
    rules, page = tmp_path / "rules.toml", tmp_path / "page.html"
    rules.write_text(RULES, "utf-8")
    schedule = content_root() / "messages" / "schedules" / "standard.toml"
    change = ("--rules", str(rules), "--without", "feeds-under-8", "--schedule", str(schedule))
    done = simulate(*change, "--json", "--html", str(page))
    assert done.exit_code == 0, done.output
    found = json.loads(done.stdout)
    assert set(found) == {"now", "changed"}
    assert found["changed"]["run"]["rules"] == found["now"]["run"]["rules"]  # one more, and one fewer
    assert found["changed"]["inbox"]["by_rule"]["feeds-a-lot"]["raised"] > 0
    assert "feeds-a-lot" not in found["now"]["inbox"]["by_rule"]
    assert "As it is" in page.read_text("utf-8")


def test_without_json_it_says_in_words_what_comes_of_it():
    done = simulate()
    assert "Paid parts to each mother" in done.stdout
    assert "8 invented mothers, 4 days each" in done.stdout


def test_the_assumptions_can_be_printed_changed_and_given_back(tmp_path):
    assumed = tmp_path / "assumed.toml"
    assumed.write_text(CliRunner().invoke(main, ["simulate", "--show-assumed"]).stdout, "utf-8")
    assert simulate("--json").stdout == simulate("--json", "--assume", str(assumed)).stdout


def test_faults_of_a_file_are_told_in_words_before_anybody_lives(tmp_path):
    for option, text, words in (
        ("--assume", "[replies]\nvague = 3\n", "replies.vague"),
        ("--schedule", 'name = "x"\n', "contacts"),
        ("--rules", "[no-such-rule]\n", "no-such-rule"),
    ):
        path = tmp_path / "file.toml"
        path.write_text(text, "utf-8")
        done = simulate(option, str(path))
        assert done.exit_code == 1
        assert words in done.stderr
        assert "Mothers" not in done.stderr

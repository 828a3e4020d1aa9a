"""The page and the lines of a run: whole by themselves, readable in grey, with a table for every drawing."""

from __future__ import annotations

import re
from functools import cache
from html.parser import HTMLParser

import pytest

from bot.cohort.figures import Figure, lines, parts
from bot.cohort.outcome import Outcome, outcome, quantile
from bot.cohort.page import page
from bot.cohort.plots import Series, bars, key, steps
from bot.cohort.programme import shipped, world_of
from bot.cohort.run import run


@cache
def found(seed: int = 1) -> Outcome:
    world = world_of(shipped(), days=5, seed=seed)
    return outcome(world, run(world, 20), 20, 2)


class _Balanced(HTMLParser):
    """Fails on a tag that is closed where it was not opened."""

    EMPTY = frozenset({"meta", "br"})

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: object) -> None:
        if tag not in self.EMPTY:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: object) -> None:
        pass

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


@pytest.mark.parametrize("outcomes", [(found(),), (found(), found(2))], ids=["alone", "beside a change"])
def test_the_page_stands_by_itself_with_a_table_for_every_drawing(outcomes):
    html = page(outcomes)
    _Balanced().feed(html)
    assert not re.search(r"(src|href)=|@import|url\((?!#)", html)
    assert (
        html.count("<figure>") == html.count("<details><summary>The numbers") == html.count('role="img"') == 9
    )
    assert ("Changed" in html) == (len(outcomes) == 2)
    assert "Nobody here is real" in html


def test_what_was_assumed_otherwise_stands_on_the_page_and_is_escaped():
    assert "# 5 &lt; 6 &amp; so on" in page([found()], "# 5 < 6 & so on")


def test_series_are_told_apart_by_filling_dash_and_mark():
    two = [Series("a", [1, 2]), Series("<b>", [2, 4])]
    drawn = bars("t", ["x", "y"], two)
    assert (drawn.count('class="ink"'), drawn.count('class="lines"')) == (2, 2)
    assert "&lt;b&gt;" in drawn
    line = steps("t", ["x", "y"], two)
    assert (line.count("<circle"), line.count('class="outline"'), line.count("line-1")) == (2, 2, 1)
    assert key(two[:1], bars) == ""


def test_a_bar_is_as_high_as_its_value_on_the_scale():
    heights = [
        float(h)
        for h in re.findall(
            r'class="ink"[^>]*height="([\d.]+)"', bars("t", ["x", "y"], [Series("a", [5, 10])])
        )
    ]
    assert heights[1] == pytest.approx(2 * heights[0], abs=0.2)
    assert heights[1] == pytest.approx(220 - 34 - 12)  # ten is the top of the scale


def test_nothing_can_be_drawn_too():
    assert "<svg" in bars("t", ["x"], [Series("a", [0])])


def test_the_lines_name_every_figure_and_the_change():
    shown = "\n".join(lines([found(), found(2)]))
    assert all(each.label in shown for part in parts([found()]) for each in part.figures)
    assert "changed" in shown
    assert "changed" not in "\n".join(lines([found()]))


@pytest.mark.parametrize(
    ("unit", "values", "shown", "change"),
    [
        ("%", (12.5, 14.0), ["12.5 %", "14.0 %"], "+1.5"),
        ("min", (30, 400), ["30 min", "6.7 h"], "+370"),
        ("USD", (0.66, 0.6588), ["0.6600 USD", "0.6588 USD"], "-0.0012"),
        ("", (None, 3), ["-", "3"], "differs"),
        ("", (4, 4), ["4", "4"], "same"),
    ],
)
def test_a_figure_is_written_with_its_unit_and_its_change(unit, values, shown, change):
    figure = Figure("x", "x", unit, values)
    assert (figure.shown(), figure.change) == (shown, change)


def test_a_quantile_is_the_least_value_that_is_not_exceeded():
    assert [quantile({1: 1, 5: 1, 9: 2}, share) for share in (0.25, 0.5, 0.75, 1)] == [1, 5, 9, 9]
    assert quantile({}, 0.5) is None

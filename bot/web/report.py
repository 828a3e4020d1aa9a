"""The report: are we reaching them, and in time? Words, then bars, then every number by site, also as CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from flask import Blueprint, Response, render_template, request

from bot.core.reports import MEASURES, Line, Part, SiteCounts, lines, numbers, percent, total
from bot.core.states import Urgency
from bot.store.viewer import Role
from bot.store.views_report import Cost, costs_of, counts_of
from bot.store.views_reviews import sites_seen
from bot.store.views_shadow import Tried, tried_rules
from bot.web.case_words import ENDS
from bot.web.parts import parts
from bot.web.reasons import why
from bot.web.report_words import BARS, PARTS, name
from bot.web.security import needs, viewer
from bot.web.words import _, direction, language, lazy

pages = Blueprint("report", __name__)

LONGEST = timedelta(days=366)
_MILLION = 1_000_000
WIDTH = 600.0  # of a bar, in units of its viewBox
PERIODS = {"7": lazy("Last 7 days"), "28": lazy("Last 28 days"), "91": lazy("Last 13 weeks")}


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of a bar: `x` and `width` in the viewBox, and what it counts in words."""

    x: float
    width: float
    look: str
    words: str
    n: int
    percent: int | None


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar with its heading; `of` is the whole of it, 0 where there is nothing to show."""

    heading: str
    of: int
    pieces: tuple[Piece, ...]
    words: str


@pages.get("/report")
@needs(Role.lead)
def page() -> str:
    first, last, today = _period()
    counts = _counts(first, last)
    whole = total(counts)
    shown = [*counts, whole] if len(counts) > 1 else counts
    columns = [
        (each.name or _("All sites"), {line.measure.key: line for line in lines(each)}) for each in shown
    ]
    return render_template(
        "report.html",
        first=first,
        last=last,
        today=today,
        periods=[(days, _(words), today - timedelta(days=int(days) - 1)) for days, words in PERIODS.items()],
        bars=[_bar(heading, pieces, of, numbers(whole)) for heading, pieces, of in BARS],
        totals=numbers(whole),
        columns=columns,
        rows=_rows(whole),
        sites=counts,
        costs=[_cost(each) for each in _costs(first, last)],
        tried=[(why(parts().content(), each.rule).words, each) for each in _tried(first, last)],
        urgencies=list(Urgency),
    )


@pages.get("/report.csv")
@needs(Role.lead)
def download() -> Response:
    """Give every number as CSV: one row a site and measure, with what it is a share of."""
    first, last, _today = _period()
    out = io.StringIO()
    rows = csv.writer(out)
    rows.writerow(["from", "to", "site", "measure", "n", "of"])
    for site in _counts(first, last):
        for line in lines(site):
            of = "" if line.of is None else line.of
            rows.writerow([first, last, site.code, line.measure.key, line.n, of])
    for each in _costs(first, last):
        rows.writerow([first, last, each.site, f"parts_by_{each.gateway}", each.parts, ""])
        if each.currency:
            price = f"{each.millionths / _MILLION:.6f}"
            rows.writerow([first, last, each.site, f"cost_by_{each.gateway}_{each.currency}", price, ""])
    for rule in _tried(first, last):
        rows.writerow([first, last, "", f"in_the_shadow_{rule.rule}", rule.held, ""])
    headers = {"Content-Disposition": f'attachment; filename="report-{first}-{last}.csv"'}
    return Response(out.getvalue(), mimetype="text/csv", headers=headers)


def _counts(first: date, last: date) -> Sequence[SiteCounts]:
    with parts().store.read() as conn:
        return counts_of(conn, viewer(), first, last, parts().clock.now())


def _costs(first: date, last: date) -> Sequence[Cost]:
    with parts().store.read() as conn:
        return costs_of(conn, viewer(), first, last, parts().clock.now())


def _tried(first: date, last: date) -> Sequence[Tried]:
    with parts().store.read() as conn:
        return tried_rules(conn, viewer(), first, last, parts().clock.now())


def _cost(cost: Cost) -> tuple[str, str, str, str]:
    """Site, gateway, parts and price in words."""
    price = f"{cost.millionths / _MILLION:,.2f} {cost.currency}" if cost.currency else _("no tariff is known")
    return cost.site, cost.gateway, f"{cost.parts:,}", price


def _period() -> tuple[date, date, date]:
    """The days asked for, both included; the last 28 where none were, or where they make no period."""
    with parts().store.read() as conn:
        sites = sites_seen(conn, viewer())
    now = parts().clock.now()
    today = now.astimezone(sites[0].tz).date() if sites else now.date()
    try:
        first = date.fromisoformat(request.args.get("from", ""))
        last = min(date.fromisoformat(request.args.get("to", "")), today)
    except ValueError:
        first, last = today - timedelta(days=27), today
    if not timedelta(0) <= last - first <= LONGEST:
        first, last = today - timedelta(days=27), today
    return first, last, today


def _bar(heading: str, pieces: Sequence[tuple[str, str]], of: str, found: Mapping[str, int]) -> Bar:
    whole = found.get(of, 0)
    flipped = direction(language()) == "rtl"
    placed, x = [], 0.0
    for key, look in pieces:
        width = WIDTH * found.get(key, 0) / whole if whole else 0
        at = WIDTH - x - width if flipped else x
        share = percent(found.get(key, 0), whole)
        placed.append(Piece(round(at, 1), round(width, 1), look, name(key), found.get(key, 0), share))
        x += width
    said = ", ".join(f"{each.words}: {each.n}" for each in placed)
    return Bar(_(heading), whole, tuple(placed), f"{_(heading)}: {whole}. {said}")


def _rows(whole: SiteCounts) -> list[tuple[str, list[tuple[str, str]]]]:
    """The rows of the table by part: (key, words)."""
    found: list[Line] = lines(whole)
    return [
        (_(PARTS[part]), [(each.measure.key, _row_name(each)) for each in found if each.measure.part is part])
        for part in Part
    ]


def _row_name(line: Line) -> str:
    key = line.measure.key
    if key not in {each.key for each in MEASURES} and key.startswith("closed_"):
        reason = key.removeprefix("closed_")
        return _("closed: %(why)s", why=_(ENDS.get(reason, reason)))
    return name(key)

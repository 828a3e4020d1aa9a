"""The pages of a demo: the mothers' phones, the network's troubles, and the clock on every page. In no other
database are they there at all.

They stand beside the pages for staff and take from them only the frame and the look. A handset belongs to a
mother, so nobody signs in to see one: everybody in a demo is invented.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta
from typing import Any
from zoneinfo import ZoneInfo

from flask import Blueprint, Flask, Response, abort, redirect, render_template, request
from flask.typing import ResponseReturnValue

from bot.clock import Clock
from bot.content.texts import is_right_to_left
from bot.core.pair import Pair
from bot.demo.district import Login, site_codes, staff
from bot.demo.mover import Mover
from bot.demo.network import Away, Network, Text
from bot.demo.troubles import (
    LONG_REPLY,
    SHOP,
    SHOP_SAYS,
    STATES,
    TROUBLES,
    UNKNOWN_NUMBER,
    UNKNOWN_SAYS,
    VISITORS,
    standing,
)
from bot.steps.forward import Pass
from bot.store.due import pairs_on_phones
from bot.store.engine import Store
from bot.store.outbox import counts
from bot.store.pairs import load_pairs
from bot.store.sites import all_sites

SPANS = {"hour": timedelta(hours=1), "day": timedelta(days=1)}
ANSWERS_WITHIN_S = 3.0  # a move that takes longer goes on, and the page follows it
MOST_SIGNS = 1600  # ten parts of a text: more than any phone sends


@dataclass(frozen=True, slots=True)
class Handset:
    """A phone and whose it is: several mothers' where it is shared."""

    number: str
    pairs: tuple[Pair, ...]
    texts: tuple[Text, ...]

    @property
    def names(self) -> str:
        return " + ".join(pair.mother.name for pair in self.pairs)

    @property
    def language(self) -> str:
        return self.pairs[0].mother.reads if self.pairs else "en"

    @property
    def direction(self) -> str:
        return "rtl" if is_right_to_left(self.language) else "ltr"

    @property
    def zone(self) -> ZoneInfo:
        return self.pairs[0].tz if self.pairs else ZoneInfo("UTC")


@dataclass(frozen=True, slots=True)
class Demo:
    """What the pages work with."""

    store: Store
    clock: Clock
    network: Network
    mover: Mover

    def handsets(self) -> list[Handset]:
        """Give every phone, the one with the newest text first."""
        numbers = self.network.numbers()
        owners = self.owners(numbers)
        return [
            Handset(number, owners.get(number, ()), tuple(self.network.phone(number)[-1:]))
            for number in numbers
        ]

    def handset(self, number: str) -> Handset:
        """Give one phone; 404 when nobody has this number."""
        pairs = self.owners([number]).get(number, ())
        texts = tuple(self.network.phone(number))
        if not pairs and not texts:
            abort(404)
        return Handset(number, pairs, texts)

    def owners(self, numbers: list[str]) -> Mapping[str, tuple[Pair, ...]]:
        keys = {self.store.sealer.phone_key(number): number for number in numbers}
        with self.store.read() as conn:
            found = pairs_on_phones(conn, list(keys))
        return {keys[key]: tuple(pairs) for key, pairs in found.items()}

    def bar(self) -> dict[str, Any]:
        """What the clock on every page shows: on a page about one mother the time and the phone are hers."""
        pair = self._pair_of_this_page()
        return {
            "now": self.clock.now(),
            "zone": pair.tz if pair else self._first_zone(),
            "number": pair.mother.phone if pair else None,
            "moving": self.mover.moving,
            "failed": self.mover.failed,
        }

    def _pair_of_this_page(self) -> Pair | None:
        about = request.view_args or {}
        if "number" in about:
            return next(iter(self.owners([about["number"]]).get(about["number"], ())), None)
        if "pair_id" not in about:
            return None
        with self.store.read() as conn:
            return next(iter(load_pairs(conn, [about["pair_id"]], lock=False)), None)

    def _first_zone(self) -> ZoneInfo:
        with self.store.read() as conn:
            sites = {site.code: site.tz for site in all_sites(conn)}
        return next((sites[code] for code in site_codes() if code in sites), ZoneInfo("UTC"))


def add_demo(app: Flask, store: Store, clock: Clock, passes: Mapping[str, Pass], standin: str) -> None:
    """Add the pages to the application of a demo database. `standin` is the address of the stand-in."""
    network = Network(standin)
    demo = Demo(store, clock, network, Mover(store, clock, passes, network))
    pages = Blueprint(
        "demo", __name__, url_prefix="/demo", template_folder="templates", static_folder="static"
    )
    _add_phones(pages, demo)
    _add_clock(pages, demo)
    _add_network(pages, demo)
    pages.register_error_handler(Away, lambda _error: (render_template("demo/away.html"), 503))
    app.register_blueprint(pages)
    for endpoint, view in app.view_functions.items():
        if endpoint.startswith("demo."):
            vars(view)["open_to_all"] = True  # the mark that the guard of the pages looks for

    @app.context_processor
    def _on_every_page() -> dict[str, object]:
        return {"demo_bar": demo.bar(), "demo_staff": _logins}


def _logins() -> list[Login]:
    return staff()


def _add_phones(pages: Blueprint, demo: Demo) -> None:
    @pages.get("/phones")
    def phones() -> str:
        return render_template("demo/phones.html", handsets=demo.handsets())

    @pages.get("/phones/<number>")
    def phone(number: str) -> str:
        return render_template("demo/phone.html", handset=demo.handset(number))

    @pages.get("/phones/<number>/screen")
    def screen(number: str) -> ResponseReturnValue:
        """The texts alone, or nothing when there is nothing new."""
        handset = demo.handset(number)
        if request.args.get("seen") == seen(handset):
            return Response(status=204)
        return render_template("demo/_screen.html", handset=handset)

    @pages.post("/phones/<number>")
    def reply(number: str) -> ResponseReturnValue:
        text = request.form.get("text", "").strip()
        if text and demo.owners([number]):
            demo.network.write(number, text[:MOST_SIGNS])
        return redirect(f"/demo/phones/{number}?sent=1", 303)

    pages.add_app_template_global(seen, "demo_seen")


def seen(handset: Handset) -> str:
    """Give a stamp of what a screen shows."""
    on_way = sum(not text.arrived for text in handset.texts)
    return f"{len(handset.texts)}-{on_way}"


def _add_clock(pages: Blueprint, demo: Demo) -> None:
    @pages.post("/clock")
    def clock() -> ResponseReturnValue:
        """Move the clock, and lead back to where the person was."""
        to, number = request.form.get("to", ""), request.form.get("number", "")
        if to in SPANS:
            demo.mover.by(SPANS[to])
        elif to == "next":
            demo.mover.to_next_text(number or None)
        demo.mover.wait(ANSWERS_WITHIN_S)
        back = request.form.get("back", "")
        return redirect(back if back.startswith("/") and back[1:2] not in ("/", "\\") else "/", 303)

    @pages.get("/bar")
    def bar() -> ResponseReturnValue:
        """The clock while it moves; once it stands the whole page is shown anew."""
        if not demo.mover.moving:
            return Response(status=204, headers={"HX-Refresh": "true"})
        return render_template("demo/_clock.html", demo_bar=demo.bar())


def _add_network(pages: Blueprint, demo: Demo) -> None:
    @pages.get("/network")
    def network() -> str:
        return render_template("demo/network.html", **_network(demo))

    @pages.get("/network/traffic")
    def traffic() -> str:
        return render_template("demo/_traffic.html", **_network(demo))

    @pages.post("/network/visitors")
    def visit() -> ResponseReturnValue:
        _visit(demo, request.form.get("visitor", ""), request.form.get("number", ""))
        return redirect("/demo/network", 303)

    @pages.post("/network")
    def change() -> ResponseReturnValue:
        trouble = next((each for each in TROUBLES if each.code == request.form.get("trouble")), None)
        if trouble is None:
            demo.network.set_faults({})
        else:
            demo.network.set_faults(trouble.upon(demo.network.faults(), request.form.get("number", "")))
        return redirect("/demo/network", 303)


def _visit(demo: Demo, code: str, number: str) -> None:
    """Let something come in at the hook."""
    known = bool(number and demo.owners([number]))
    match code:
        case "ring" if known:
            demo.network.ring(number)
        case "parts" if known:
            demo.network.write_in_parts(number, LONG_REPLY, 2)
        case "unknown":
            demo.network.write_as(UNKNOWN_NUMBER, UNKNOWN_SAYS)
        case "advert":
            demo.network.write_as(SHOP, SHOP_SAYS)


def _network(demo: Demo) -> dict[str, Any]:
    with demo.store.read() as conn:
        states = counts(conn)
    latest = demo.network.latest()
    owners = demo.owners(list({passed.number for passed in latest}))
    return {
        "troubles": TROUBLES,
        "visitors": VISITORS,
        "standing": standing(demo.network.faults()),
        "traffic": demo.network.counts(),
        "states": [(words, states[state]) for state, words in STATES.items() if states.get(state)],
        "latest": latest,
        "names": {number: " + ".join(p.mother.name for p in pairs) for number, pairs in owners.items()},
        "zones": {number: pairs[0].tz for number, pairs in owners.items()},
        "numbers": [handset for handset in demo.handsets() if handset.pairs],
    }

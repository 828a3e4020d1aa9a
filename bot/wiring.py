"""The one place that joins the parts: settings come in, a program that can serve and work goes out."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from functools import partial
from pathlib import Path

from flask import Flask

from bot.clock import Clock
from bot.content.factory import Factory, load_factory
from bot.core.errors import Invalid, Problem
from bot.core.routing import MAIL, Route, Routing, Tariff, routes_of
from bot.demo.folder import GATEWAY as STANDIN
from bot.demo.pages import add_demo
from bot.gateway import Carrier, Gateway
from bot.gateway.http import HttpGateway
from bot.gateway.mail import MailGateway, MailServer
from bot.gateway.profile import Profile, make_profile
from bot.gateway.wire import load_wire
from bot.settings import Config, GatewaySettings, MailSettings, Settings
from bot.steps import outbox
from bot.steps.content import LiveContent
from bot.steps.deliveries import tell_deliveries
from bot.steps.erasing import erase_old
from bot.steps.pulse import beat, loop_one
from bot.steps.replan import replan
from bot.steps.replies import read_replies
from bot.steps.wake import wake
from bot.steps.words import LiveWords
from bot.store.claims import Claimed, adopt_strays
from bot.store.engine import Store, open_store
from bot.store.intake import Intake
from bot.store.migrate import is_current
from bot.store.values import clock_offset, is_demo
from bot.web.app import create_app
from bot.web.hooks import create_hooks, put_before
from bot.web.parts import Parts

Pass = Callable[[], int]

_BEAT, _ERASE = timedelta(minutes=1), timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class Program:
    """What every command works with."""

    settings: Settings
    config: Config
    store: Store
    clock: Clock
    factory: Factory
    content: LiveContent
    profiles: Mapping[str, Profile]
    routing: Routing

    def render(self, message: Claimed) -> str:
        """Put a message into words, in her language and fit for her phone."""
        values = message.values
        if self.config.public_url and "alert" in values:
            values = {**values, "link": f"{self.config.public_url.rstrip('/')}/a/{values['alert']}"}
        return self.factory.texts.render(
            message.text_key, message.language, values, neutral=message.shared_phone
        )


def build(settings: Settings) -> Program:
    """Join the parts; nothing is asked of the database yet. Raises Invalid with every fault of the file."""
    config = settings.file()
    profiles, routing = gateways_of(config, settings.config)
    store = open_store(settings.database_url.get_secret_value(), settings.sealer(), routes=routing.routes)
    clock = Clock(_Offset(store))
    factory = load_factory()
    content = LiveContent(store, factory, clock)
    return Program(settings, config, store, clock, factory, content, profiles, routing)


def gateways_of(config: Config, file: Path | None) -> tuple[Mapping[str, Profile], Routing]:
    """Give the gateways of a configuration, and which texts each carries. Raises Invalid with every fault."""
    beside = file.parent if file else None
    profiles: dict[str, Profile] = {}
    problems: list[Problem] = []
    for name, each in config.gateways.items():
        try:
            profiles[name] = _profile(name, each, config.public_url, beside)
        except Invalid as error:
            problems += error.problems
    problems += [
        Problem(f"routes.{number}.gateways", f"there is no gateway '{name}'.")
        for number, route in enumerate(config.routes)
        for name in route.gateways
        if name not in config.gateways
    ]
    if problems:
        raise Invalid(problems)
    given = [(each.site, each.prefix, each.gateways) for each in config.routes]
    main = [name for name, profile in profiles.items() if profile.two_way]
    tariffs = {
        name: [Tariff(t.since, t.prefix, t.per_segment, t.currency) for t in each.tariff]
        for name, each in config.gateways.items()
    }
    routes = routes_of(given, main or list(profiles))
    mail = (Route(MAIL, (MAIL,), prefix="@"),) if config.mail else ()  # no number begins so
    return profiles, Routing((*mail, *routes), tariffs)


class _Offset:
    """How far programme time runs ahead. Only a demo's database is asked each time; no other can be moved."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._moves: bool | None = None

    def __call__(self) -> timedelta:
        if self._moves is False:
            return timedelta(0)
        with self._store.read() as conn:
            self._moves = is_demo(conn)
            return clock_offset(conn) if self._moves else timedelta(0)


def _profile(name: str, given: GatewaySettings, public_url: str, beside: Path | None) -> Profile:
    settings = {"user": given.user, "password": given.password.get_secret_value()}
    settings |= {"hook_user": given.hook_user}
    settings |= {key: value.get_secret_value() for key, value in given.extra.items()}
    try:
        wire = load_wire(given.profile, beside)
    except Invalid as error:
        raise Invalid(
            [Problem(f"gateways.{name}.profile: {p.field}", p.message) for p in error.problems]
        ) from error
    return make_profile(
        name,
        wire=wire,
        public_url=public_url,
        url=given.url,
        token=given.token.get_secret_value(),
        settings=settings,
        sender=given.number,
        secrets=[secret.get_secret_value() for secret in given.secret],
        addresses=given.addresses,
        region=given.region,
        rate=given.per_second,
        timeout=timedelta(seconds=given.timeout_seconds),
    )


def web(program: Program) -> Flask:
    """The web application."""
    with program.store.read() as conn:
        demo = is_demo(conn)
    app = create_app(
        Parts(
            store=program.store,
            clock=program.clock,
            content=program.content,
            secret_key=program.settings.secret_key.get_secret_value(),
            faults=partial(faults, program),
            demo=demo,
            https=not demo,
        )
    )
    hooks = create_hooks(Intake(program.store), program.profiles, program.clock)
    put_before(app, hooks, proxies=program.config.proxies)
    if demo and STANDIN in program.profiles:
        address = program.profiles[STANDIN].url.removesuffix("/messages")
        # The clock does the work of each moment itself, with senders of its own; the worker runs beside it.
        add_demo(app, program.store, program.clock, passes(program, senders(program)), address)
    return app


def faults(program: Program) -> Sequence[str]:
    """What keeps the service from being ready, in words."""
    try:
        with program.store.read() as conn:
            return [] if is_current(conn) else ["the database needs `dunnock init`"]
    except Exception as error:
        return [f"the database does not answer ({type(error).__name__})"]


def senders(program: Program) -> list[outbox.Sender]:
    """One sender a gateway. Raises Invalid when there is none: nothing could be sent."""
    if not program.profiles:
        raise Invalid([Problem("DUNNOCK_CONFIG", "names no gateway to send texts. Add [gateways.NAME].")])
    with program.store.write() as conn:
        adopt_strays(conn, [route.name for route in program.routing.routes])
    limits = program.config.limits
    carriers: list[tuple[Gateway, Carrier]] = [
        (HttpGateway(profile, program.clock.machine, program.clock.now), profile)
        for profile in program.profiles.values()
    ]
    if program.config.mail:
        server = _mail_server(program.config.mail)
        carriers.append((MailGateway(server), server))
    return [
        outbox.Sender(
            program.store,
            gateway,
            carrier,
            program.clock,
            program.render,
            program.routing,
            in_flight=limits.in_flight,
            claim=limits.claim,
        )
        for gateway, carrier in carriers
    ]


def _mail_server(given: MailSettings) -> MailServer:
    return MailServer(
        given.host,
        given.port,
        given.sender,
        given.security,
        given.user,
        given.password.get_secret_value(),
        timeout=timedelta(seconds=given.timeout_seconds),
    )


@contextmanager
def gateway(program: Program, name: str) -> Iterator[tuple[HttpGateway, Profile]]:
    """Open one gateway by itself, for a test text."""
    profile = program.profiles[name]
    opened = HttpGateway(profile, program.clock.machine, program.clock.now)
    try:
        yield opened, profile
    finally:
        opened.close()


class _Seldom:
    """A pass that looks only every few seconds or minutes: what it looks for comes slowly."""

    def __init__(self, work: Pass, clock: Clock, every: timedelta = timedelta(seconds=5)) -> None:
        self._work, self._clock, self._every = work, clock, every
        self._next = clock.machine()

    def __call__(self) -> int:
        if self._clock.machine() < self._next:
            return 0
        done = self._work()
        if not done:
            self._next = self._clock.machine() + self._every
        return done


def _loop(program: Program, name: str) -> int:
    with gateway(program, name) as (opened, profile):
        return loop_one(program.store, opened, profile, program.clock, time.sleep)


def passes(program: Program, sending: Sequence[outbox.Sender]) -> dict[str, Pass]:
    """What a worker does, by name: each pass does one batch and tells how much it did."""
    store, clock, content = program.store, program.clock, program.content
    limit = program.config.limits.batch
    words = LiveWords(store, program.factory, clock)
    work: dict[str, Pass] = {
        "replies": lambda: read_replies(
            store,
            content(),
            words(),
            clock.now(),
            limit,
            language_names=program.factory.language_names,
        ),
        "wake": lambda: wake(store, content(), clock.now(), limit),
        "reports": lambda: outbox.take_reports(store, clock.now()),
        "deliveries": lambda: tell_deliveries(store, content(), clock.now(), limit),
        "sweep": lambda: outbox.sweep(store, clock.now()),
        "replan": _Seldom(lambda: replan(store, content(), clock.now(), limit), clock),
    }
    if program.config.retention:
        keep = timedelta(days=program.config.retention.days)
        work["erase"] = _Seldom(lambda: erase_old(store, keep, clock.now(), limit), clock, _ERASE)
    work["pulse"] = _Seldom(lambda: beat(store, program.profiles.values(), clock), clock, _BEAT)
    for name, each in program.config.gateways.items():
        if each.loop_minutes:
            every = timedelta(minutes=each.loop_minutes)
            work[f"loop {name}"] = _Seldom(partial(_loop, program, name), clock, every)
    for number, sender in enumerate(sending):
        work[f"send urgent {number}"] = sender.send_urgent
        work[f"send {number}"] = sender.send
    return work

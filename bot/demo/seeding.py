"""Fills an empty database with the invented district: sites, staff, and mothers with weeks behind them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlalchemy import event

from bot.clock import Clock
from bot.content.factory import Factory, load_factory
from bot.core.follow import Content
from bot.demo.district import sites as district_sites
from bot.demo.district import staff, stories
from bot.demo.past import Past
from bot.demo.people import People
from bot.demo.phones import Phones
from bot.gateway.profile import Profile
from bot.steps.content import LiveContent, publish_factory
from bot.steps.enrolment import Door
from bot.steps.languages import sign
from bot.steps.sign_in import hash_password
from bot.store.accounts import add_account
from bot.store.engine import Store
from bot.store.migrate import upgrade
from bot.store.sites import add_site
from bot.store.values import mark_as_demo
from bot.store.viewer import Role, Viewer

# The demo begins on a Tuesday at this hour of the first site, so that every start shows the same district:
# some texts of the day are answered, some reviews are still to come.
WEEKDAY, HOUR, ZONE = 1, time(10, 30), ZoneInfo("Africa/Nairobi")


def beginning(machine_now: datetime) -> datetime:
    """Give when the demo begins in programme time: the next Tuesday morning, at most a week from now."""
    today = machine_now.astimezone(ZONE).date()
    for ahead in range(8):
        day: date = today + timedelta(days=ahead)
        moment = datetime.combine(day, HOUR, ZONE).astimezone(UTC)
        if day.weekday() == WEEKDAY and moment >= machine_now:
            return moment
    raise AssertionError("every week has a Tuesday")


def seed(
    store: Store, phones: Phones, profile: Profile, begins: datetime, say: Callable[[str], None]
) -> None:
    """Fill the database of `store`, and the stand-in's phones, with everything up to `begins`."""
    _hurry(store)
    upgrade(store)
    factory, told = load_factory(), stories()
    starts = begins - max(story.age for story in told) - timedelta(days=1)
    publish_factory(store, factory, starts)
    with store.write() as conn:  # as if everything had been approved: else a person would read every reply
        for code in factory.lexicons:
            sign(conn, code, "Invented for the demonstration", "nobody", "none", starts.date())
    with store.write() as conn:
        mark_as_demo(conn)
        sites = {site.code: site for site in district_sites(starts)}
        for site in sites.values():
            add_site(conn, site)
    ids = frozenset(site.id for site in sites.values())
    counsellor = Viewer(_add_staff(store, ids, starts), Role.counsellor, ids)
    people = People(told, {code: site.tz for code, site in sites.items()}, counsellor, begins)
    past = Past(
        store=store,
        content=_content(store, factory, starts),
        factory=factory,
        profile=profile,
        phones=phones,
        now=starts,
        told=lambda number, key: people.told(past, number, key),
        look=lambda: people.look(past),
        off=people.off,
    )
    people.begin(past, Door("form", ids, tuple(factory.texts.languages), demo=True, by=counsellor.staff_id))
    past.live(begins, _by_day(begins, say))


def _add_staff(store: Store, sites: frozenset[UUID], now: datetime) -> UUID:
    """Add everybody; give the id of the first, who did the work of the past."""
    people = [(person, hash_password(person.password)) for person in staff()]
    with store.write() as conn:
        added = [
            add_account(
                conn,
                login=person.login,
                name=person.name,
                password_hash=hashed,
                role=person.role,
                language="en",
                sites=sites,
                now=now,
            )
            for person, hashed in people
        ]
    return added[0]


def _content(store: Store, factory: Factory, now: datetime) -> Content:
    """The content of the whole past: nobody publishes anything in it."""
    return LiveContent(store, factory, Clock(machine=lambda: now))()


def _by_day(begins: datetime, say: Callable[[str], None]) -> Callable[[datetime], None]:
    """Tell each new day of the past once."""
    told: set[date] = set()

    def progress(moment: datetime) -> None:
        if moment.date() not in told:
            told.add(moment.date())
            say(f"{(begins - moment).days} days before today")

    return progress


def _hurry(store: Store) -> None:
    """An invented past needs no disk that survives a power cut half-way: it would be made anew."""
    if store.engine.dialect.name == "sqlite":
        event.listen(store.engine, "connect", lambda raw, _record: raw.execute("PRAGMA synchronous=OFF"))

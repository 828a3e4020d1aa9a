"""An invented ward for the tests of the pages: two sites, four people of staff, and pairs whose replies went
through the program's own reader and transition.

All names are invented; phone numbers come from the range that Ofcom reserves for drama (07700 900000 to
900999).
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import insert

from bot.clock import Clock
from bot.content.factory import load_factory
from bot.core.follow import Content
from bot.core.follow.events import Action, Enrolled, Event, ReplyRead, StaffActed
from bot.core.ids import derived_id
from bot.core.pair import Pair, Site
from bot.core.reader import read
from bot.core.reader.report import to_json
from bot.core.states import InboundState, MessageState
from bot.steps.following import Change, followed, store_changes
from bot.steps.sign_in import hash_password
from bot.store.accounts import add_account
from bot.store.engine import Store
from bot.store.pairs import load_pairs
from bot.store.sites import add_site
from bot.store.tables import inbound, message, reading
from bot.store.viewer import Role
from bot.web.app import create_app
from bot.web.parts import Parts
from tests.support.pairs import a_baby, a_mother, a_pair, a_site, an_id

PASSWORD = "three invented words"
NOW = datetime(2026, 3, 5, 9, 30, tzinfo=ZoneInfo("Africa/Nairobi"))
_HASH = hash_password(PASSWORD)


def the_content() -> Content:
    """What the program ships with."""
    factory = load_factory()
    return Content(
        schedule=factory.schedules["standard"],
        rules=factory.rules,
        occasions=factory.occasions,
        questions=frozenset(factory.questions),
    )


@dataclass
class Ward:
    """A database with people in it. Programme time `now` may be moved, `machine` apart from it."""

    store: Store
    content: Content = field(default_factory=the_content)
    now: datetime = NOW
    machine: datetime = NOW
    sites: dict[str, Site] = field(default_factory=dict)
    staff: dict[str, UUID] = field(default_factory=dict)

    def clock(self) -> Clock:
        return Clock(lambda: self.now - self.machine, lambda: self.machine.astimezone(UTC))

    def app(self) -> Flask:
        return create_app(
            Parts(
                store=self.store,
                clock=self.clock(),
                content=lambda: self.content,
                secret_key="a key for tests, of no use elsewhere",
                faults=lambda: [],
                https=False,
            )
        )

    def add_site(self, code: str, name: str, **changes: object) -> Site:
        site = a_site(id=an_id("site", code), code=code, name=name, **changes)
        with self.store.write() as conn:
            add_site(conn, site)
        self.sites[code] = site
        return site

    def add_staff(self, login: str, name: str, role: Role, *codes: str, language: str = "en") -> UUID:
        with self.store.write() as conn:
            self.staff[login] = add_account(
                conn,
                login=login,
                name=name,
                password_hash=_HASH,
                role=role,
                language=language,
                sites=[self.sites[code].id for code in codes],
                now=self.now,
            )
        return self.staff[login]

    def enrol(self, name: str, *, code: str = "lakeside", babies: int = 1, **mother: object) -> Pair:
        """Enrol a pair that has answered the practice text; twins with `babies=2`."""
        n = len(name) + sum(map(ord, name)) % 800
        born = self.now - timedelta(days=3, hours=4)
        facts = {"phone": f"+447700900{n % 1000:03}"} | mother
        pair = a_pair(
            id=an_id("pair", name),
            external_id=name,
            site=self.sites[code],
            mother=a_mother(id=an_id("mother", name), name=name, **facts),
            babies=tuple(
                replace(a_baby(k, born_at=born), id=an_id("baby", name, k), name=f"Baby {name} {k}")
                for k in range(1, babies + 1)
            ),
            discharged_at=born + timedelta(hours=30),
            enrolled_at=born + timedelta(hours=30),
        )
        pair = replace(
            pair, assessments=tuple(replace(a, id=an_id("seen", name, a.baby)) for a in pair.assessments)
        )
        self._store(None, pair)
        return self.happens(pair, Enrolled(bedside=False), pair.enrolled_at)

    def happens(self, pair: Pair, event: Event, at: datetime | None = None) -> Pair:
        """Let an event follow, as the steps do."""
        change = followed(self.load(pair.id), event, self.content, at or self.now)
        with self.store.write() as conn:
            store_changes(conn, [change], at or self.now)
        return change.after

    def acts(self, login: str, pair: Pair, *actions: Action) -> Pair:
        for action in actions:
            pair = self.happens(pair, StaffActed(self.staff[login], action))
        return pair

    def writes(
        self, pair: Pair, text: str, *, asking: Sequence[str] = (), before: timedelta = timedelta()
    ) -> Pair:
        """Let her write `text`, `before` ago: it is read by the program's reader and followed."""
        at = self.now - before
        lexicons = load_factory().lexicons
        lexicon = lexicons.get(pair.mother.language, lexicons["en"])
        understood = read(text, list(asking), 3, lexicon)
        me = derived_id(at, pair.id, text)
        seal = self.store.sealer.seal
        with self.store.write() as conn:
            conn.execute(
                insert(inbound).values(
                    id=me,
                    gateway="test",
                    external_key=str(me),
                    phone_key=self.store.sealer.phone_key(pair.mother.phone or ""),
                    sender=seal(pair.mother.phone or "", me, "inbound.sender"),
                    text=seal(text, me, "inbound.text"),
                    raw=seal("{}", me, "inbound.raw"),
                    kind="text",
                    received_at=at,
                    stored_at=at,
                    state=InboundState.read,
                    enrolment=pair.id,
                )
            )
            other = derived_id(at, "reading", me)
            conn.execute(
                insert(reading).values(
                    id=other,
                    inbound=me,
                    by="program",
                    at=at,
                    edition=1,
                    intent=understood.intent.value,
                    result=seal(json.dumps(to_json(understood)), other, "reading.result"),
                )
            )
        return self.happens(pair, ReplyRead(me, at, understood, None), at)

    def texts(
        self, pair: Pair, text: str, *, before: timedelta, state: MessageState = MessageState.delivered
    ) -> None:
        """Let her have got a text `before` ago."""
        at = self.now - before
        me = derived_id(at, pair.id, "text", text)
        seal = self.store.sealer.seal
        with self.store.write() as conn:
            conn.execute(
                insert(message).values(
                    id=me,
                    enrolment=pair.id,
                    phone_key=self.store.sealer.phone_key(pair.mother.phone or ""),
                    to=seal(pair.mother.phone or "", me, "message.to"),
                    text=seal(text, me, "message.text"),
                    text_key="ask-feeds",
                    text_values=seal("{}", me, "message.text_values"),
                    language=pair.mother.language,
                    priority=3,
                    created_at=at,
                    send_after=at,
                    expires_at=at + timedelta(hours=6),
                    once_key=f"test:{me}",
                    state=state,
                    attempts=1,
                    sent_at=at,
                    gateway="test",
                    segments=1,
                    told=True,
                )
            )

    def load(self, pair_id: UUID) -> Pair:
        with self.store.read() as conn:
            return load_pairs(conn, [pair_id], lock=False)[0]

    def _store(self, before: Pair | None, after: Pair) -> None:
        with self.store.write() as conn:
            store_changes(conn, [Change(before, after, ())], self.now)


def open_ward(store: Store) -> Ward:
    """Two sites in two zones; Njeri and Otieno at the lake, Salma at the coast, Wairimu who leads both."""
    ward = Ward(store)
    ward.add_site("lakeside", "Lakeside Hospital")
    ward.add_site("coast", "Coast Clinic", zone="Asia/Dubai", region="AE")
    ward.add_staff("njeri", "Njeri", Role.counsellor, "lakeside")
    ward.add_staff("otieno", "Otieno", Role.counsellor, "lakeside")
    ward.add_staff("salma", "Salma", Role.counsellor, "coast", language="ar")
    ward.add_staff("wairimu", "Wairimu", Role.lead, "lakeside", "coast")
    return ward


def csrf_of(page: str) -> str:
    """Find the token of the forms on a page."""
    return page.split('name="csrf_token" value="', 1)[1].split('"', 1)[0]


@dataclass
class Visitor:
    """Somebody with a browser without JavaScript."""

    client: FlaskClient

    def sign_in(self, login: str, password: str = PASSWORD) -> int:
        token = csrf_of(self.client.get("/login").text)
        data = {"login": login, "password": password, "csrf_token": token}
        return self.client.post("/login", data=data).status_code

    def page(self, address: str, status: int = 200) -> str:
        answer = self.client.get(address)
        assert answer.status_code == status, answer.text[:2000]
        return answer.text

    def sends(self, address: str, source: str, **fields: object) -> tuple[int, str]:
        """Post a form found on page `source`; give the status and the page it leads to."""
        page = self.page(source)
        data = {"csrf_token": csrf_of(page)} | fields
        if 'name="seen" value="' in page:
            data.setdefault("seen", page.split('name="seen" value="', 1)[1].split('"', 1)[0])
        answer = self.client.post(address, data=data, follow_redirects=True)
        return (answer.history[0].status_code if answer.history else answer.status_code), answer.text


Opening = Callable[[str], Visitor]

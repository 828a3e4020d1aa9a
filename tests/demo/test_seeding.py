"""The district that a first start shows: every stage is there, lived by the program itself."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import astuple
from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest

from bot.content.guides import guides
from bot.core.pair import Pair
from bot.core.phone import is_reserved
from bot.core.states import CheckInState, EnrolmentState, ReviewState, Texting, Urgency
from bot.demo.district import good_answers, site_codes, sites, staff, stories
from bot.demo.folder import Folder
from bot.demo.phones import Phones
from bot.demo.seeding import beginning
from bot.store.audit import audit
from bot.store.engine import Store
from bot.store.enrolments import known_enrolments
from bot.store.pairs import load_pairs
from bot.store.sites import all_sites
from bot.store.viewer import Role, Viewer
from bot.store.views_inbox import Item, open_items
from tests.demo.conftest import BEGINS


@pytest.fixture
def store(district: Folder) -> Iterator[Store]:
    opened = district.store()
    yield opened
    opened.close()


@pytest.fixture
def pairs(store: Store) -> dict[str, Pair]:
    """Every pair by its mother's name."""
    with store.read() as conn:
        sites = {site.code: site.id for site in all_sites(conn)}
        keys = {(sites[story.site], f"H-{1001 + place}") for place, story in enumerate(stories())}
        found = load_pairs(conn, known_enrolments(conn, keys).values(), lock=False)
    return {pair.mother.name: pair for pair in found}


@pytest.fixture
def inbox(store: Store) -> list[Item]:
    with store.read() as conn:
        sites = frozenset(site.id for site in all_sites(conn))
        return open_items(conn, Viewer(uuid4(), Role.lead, sites))


STAGES: dict[str, tuple[str, Callable[[Pair], bool]]] = {
    "just home, not verified": ("Amina Otieno", lambda p: p.mother.texting is Texting.unverified),
    "answering well": (
        "Naserian Lekai",
        lambda p: (
            sum(c.state is CheckInState.complete for c in p.check_ins) >= 4 and p.open_escalation is None
        ),
    ),
    "few feeds, answered": (
        "Kavita Mondal",
        lambda p: any("feeds" in f.rule for e in p.escalations for f in e.findings),
    ),
    "yellow": (
        "Lydia Chebet",
        lambda p: any("jaundice" in f.rule for e in p.escalations for f in e.findings if e.closed_at is None),
    ),
    "hot, go now": (
        "Rose Atieno",
        lambda p: p.open_escalation is not None and p.open_escalation.urgency is Urgency.go_now,
    ),
    "silent": (
        "Dorcas Wekesa",
        lambda p: any("silence" in f.rule for e in p.escalations for f in e.findings),
    ),
    "opted out": ("Agnes Mutua", lambda p: p.mother.texting is Texting.stopped),
    "opted out in Arabic": ("ليلى جاد", lambda p: p.mother.texting is Texting.stopped),
    "wrong number": ("Mona Tadros", lambda p: p.state is EnrolmentState.held),
    "bereaved": ("دينا شوقي", lambda p: p.state is EnrolmentState.held),
    "twins": ("Priya Das", lambda p: len(p.living) == 2),
    "preterm": ("Rekha Biswas", lambda p: p.babies[0].gestation_weeks == 33.5),
    "no phone": ("Wanjiru Kamau", lambda p: p.mother.phone is None and p.open_escalation is not None),
    "refused number": ("Meena Hembram", lambda p: p.mother.texting is Texting.unreachable),
    "shared phone": ("Lata Pal", lambda p: p.mother.phone_shared),
    "review today": (
        "Caroline Akinyi",
        lambda p: p.expected_review is not None and p.expected_review.on_day == p.local(BEGINS).date(),
    ),
    "review attended": ("Esther Muriuki", lambda p: p.reviews[0].state is ReviewState.attended),
    "review missed": ("Janet Nekesa", lambda p: p.reviews[0].state is ReviewState.missed),
    "feeding problem, seen again": (
        "Purity Jelagat",
        lambda p: [r.kind for r in p.reviews] == ["first", "feeding_problem"],
    ),
    "low weight, seen again in two weeks": (
        "Fatuma Adan",
        lambda p: p.expected_review is not None and p.expected_review.kind == "low_weight",
    ),
    "finished": ("Phoebe Moraa", lambda p: p.closed_reason == "finished"),
}


@pytest.mark.parametrize("stage", STAGES)
def test_every_stage_is_there(stage: str, pairs: dict[str, Pair]) -> None:
    name, holds = STAGES[stage]
    assert holds(pairs[name]), pairs[name]


def test_forty_six_mothers_at_three_sites_in_three_zones(pairs: dict[str, Pair]) -> None:
    assert len(pairs) == len(stories()) == 47
    assert len({pair.site.zone for pair in pairs.values()}) == len(site_codes()) == 3
    assert {pair.mother.language for pair in pairs.values()} == {"en", "ar"}


def test_the_inbox_holds_every_urgency_and_the_gravest_is_due_in_minutes(inbox: list[Item]) -> None:
    assert {item.urgency for item in inbox} == {Urgency.go_now, Urgency.same_day, Urgency.routine}
    assert 8 <= len(inbox) <= 18
    assert inbox[0].urgency is Urgency.go_now
    assert timedelta(0) < inbox[0].due_at - BEGINS <= timedelta(minutes=15)


def test_nobody_is_lost_and_only_calls_are_overdue(store: Store, inbox: list[Item]) -> None:
    with store.read() as conn:
        faults = audit(conn, BEGINS, BEGINS)
    overdue = {item.id for item in inbox if item.due_at < BEGINS and item.spoken_at is None}
    assert {fault.id for fault in faults} == overdue
    assert len(overdue) <= 3


def test_every_number_reaches_nobody(pairs: dict[str, Pair]) -> None:
    numbers = [pair.mother.phone for pair in pairs.values() if pair.mother.phone]
    for site in sites(BEGINS):
        numbers += [n for n in astuple(site.numbers) if n.startswith("+")]
        numbers += [each.phone for each in site.on_call]
        numbers += [n for place in site.places for n in (place.call, place.heads_up) if n]
    assert [number for number in numbers if not is_reserved(number)] == []


def test_every_text_of_a_pair_is_on_its_phone(district: Folder, pairs: dict[str, Pair]) -> None:
    phones = Phones(str(district.phones))
    for pair in pairs.values():
        lines = phones.lines(pair.mother.phone) if pair.mother.phone else []
        heard = [answer for answer in pair.answers if answer.inbound]
        assert not heard or any(line.hers for line in lines), pair.mother.name
    halima = phones.lines(pairs["Halima Roble"].mother.phone or "")
    assert any("\u0600" <= sign <= "\u06ff" for sign in halima[0].text)
    phones.close()


def test_what_the_past_found_is_what_a_guide_offers() -> None:
    known = {found.id for guide in guides().all for found in guide.found}
    assert {story.found for story in stories() if story.found} <= known


def test_passwords_are_as_long_as_real_ones_and_every_language_has_good_answers() -> None:
    assert [person.login for person in staff() if len(person.password) < 15] == []
    for language in {story.language for story in stories()}:
        assert {"practice", "worry", "feeds", "wet_nappies", "dirty_nappies", "pain", "other_food"} <= set(
            good_answers(language)
        )


@pytest.mark.parametrize("day", range(14))
def test_the_demo_begins_on_a_tuesday_within_a_week(day: int) -> None:
    now = datetime(2026, 3, 1, 9, 0, tzinfo=UTC) + timedelta(days=day)
    begins = beginning(now)
    assert begins.weekday() == 1
    assert now <= begins <= now + timedelta(days=7)

"""Words that an installation adds to its reader: proposed from a reply, decided by a lead, taken out."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID

import pytest
from sqlalchemy import select

from bot.content.factory import load_factory
from bot.content.local_words import LocalWord
from bot.core.errors import Conflict, Invalid, NotAllowed, NotFound
from bot.core.pair import Pair
from bot.core.reader import read
from bot.steps import words as steps
from bot.store import editions
from bot.store.engine import Store
from bot.store.readings import keep_readings
from bot.store.tables import event_log, inbound, reading, word_proposal
from bot.store.viewer import Role, Viewer
from bot.store.words import decided_proposals, open_proposals
from tests.support.ward import Ward, open_ward

SAID = "mtoto wangu Baraka ana kichwamoto sana tangu jana"
HOT = LocalWord("kichwamoto", "sign.baby_hot")


@pytest.fixture
def ward(store: Store) -> Ward:
    return open_ward(store)


def who(ward: Ward, login: str, role: Role, *codes: str) -> Viewer:
    return Viewer(ward.staff[login], role, frozenset(ward.sites[code].id for code in codes))


def njeri(ward: Ward) -> Viewer:
    return who(ward, "njeri", Role.counsellor, "lakeside")


def wairimu(ward: Ward) -> Viewer:
    return who(ward, "wairimu", Role.lead, "lakeside", "coast")


def a_reply(ward: Ward) -> tuple[Pair, UUID]:
    pair = ward.writes(ward.enrol("Zawadi", language="sw"), SAID)
    with ward.store.read() as conn:
        return pair, conn.scalars(select(inbound.c.id)).one()


def proposed(ward: Ward, word: LocalWord = HOT) -> UUID:
    pair, reply = a_reply(ward)
    return steps.propose(ward.store, njeri(ward), pair.id, reply, "sw", word, ward.now)


def live(ward: Ward) -> steps.LiveWords:
    return steps.LiveWords(ward.store, load_factory(), ward.clock())


def test_an_approved_word_is_read_until_it_is_taken_out_and_the_reading_names_its_edition(ward: Ward) -> None:
    words = live(ward)
    before = words()["sw"]
    assert (read(SAID, (), 5, before).danger_signs, before.edition) == ((), 0)

    made = steps.approve(ward.store, wairimu(ward), proposed(ward), HOT, ward.now)
    ward.machine += timedelta(seconds=2)
    after = words()["sw"]
    assert read(SAID, (), 5, after).danger_signs == ("baby_hot",)
    assert (made.number, after.edition, words()["fr"].edition) == (1, 1, 0)
    with ward.store.write() as conn:
        mine = conn.scalars(select(inbound.c.id)).one()
        keep_readings(conn, {mine: (read(SAID, (), 5, after), after.edition)}, ward.now)
        assert 1 in list(conn.scalars(select(reading.c.edition)))
        assert "kichwamoto" in steps.as_toml(conn, "sw", ward.now)
        assert steps.as_toml(conn, "fr", ward.now) == ""

    steps.take_out(ward.store, wairimu(ward), "sw", "kichwamoto", ward.now)
    ward.machine += timedelta(seconds=2)
    assert (read(SAID, (), 5, words()["sw"]).danger_signs, words()["sw"].edition) == ((), 2)
    with pytest.raises(NotFound):
        steps.take_out(ward.store, wairimu(ward), "sw", "kichwamoto", ward.now)
    _the_audit_says_who_did_what_and_holds_no_word(ward)


def _the_audit_says_who_did_what_and_holds_no_word(ward: Ward) -> None:
    query = select(event_log).where(event_log.c.what == "word").order_by(event_log.c.id)
    with ward.store.read() as conn:
        lines, stored = conn.execute(query).all(), conn.execute(select(word_proposal)).one()
    njeri_id, wairimu_id = str(ward.staff["njeri"]), str(ward.staff["wairimu"])
    assert [(line.actor, line.to_state, line.why, line.data) for line in lines] == [
        (njeri_id, "proposed", "sign.baby_hot", {"language": "sw"}),
        (wairimu_id, "approved", "sign.baby_hot", {"language": "sw", "edition": 1}),
        (wairimu_id, "taken out", "sign.baby_hot", {"language": "sw", "edition": 2}),
    ]
    assert b"kichwamoto" not in stored.phrase


def test_nothing_changes_while_a_word_is_only_proposed_or_was_refused(ward: Ward) -> None:
    made = proposed(ward)
    words = live(ward)
    assert words() is load_factory().lexicons
    steps.refuse(ward.store, wairimu(ward), made, "It means the weather here.", ward.now)
    ward.machine += timedelta(seconds=2)

    assert words() is load_factory().lexicons
    with ward.store.read() as conn:
        assert open_proposals(conn, wairimu(ward)) == []
        (refused,) = decided_proposals(conn, wairimu(ward))
    assert (refused.approved, refused.why) == (False, "It means the weather here.")


@pytest.mark.parametrize(
    ("word", "fault"),
    [
        (LocalWord("kichwa moto", "sign.baby_hot"), "as they stand in her text"),
        (LocalWord("baby zawadi", "sign.baby_hot"), "A name stands in it"),
        (LocalWord("zawadi", "illness"), "A name stands in it"),
        (LocalWord("", "illness"), "Write the words."),
        (LocalWord("kichwamoto", ""), "Choose what it means."),
    ],
)
def test_a_proposal_holds_words_of_the_reply_and_no_name(ward: Ward, word: LocalWord, fault: str) -> None:
    pair, reply = a_reply(ward)
    named = ward.load(pair.id)
    assert named.babies[0].name.startswith("Baby Zawadi")
    with pytest.raises(Invalid, match=fault):
        steps.propose(ward.store, njeri(ward), pair.id, reply, "sw", word, ward.now)


def test_a_word_that_would_break_the_language_is_refused_and_stays_undecided(ward: Ward) -> None:
    made = proposed(ward)
    with pytest.raises(Invalid, match="'saba' stands for 7 and 8"):
        steps.approve(ward.store, wairimu(ward), made, LocalWord("saba", "number.8"), ward.now)
    with ward.store.read() as conn:
        assert editions.in_force(conn, steps.WORDS, ward.now) == {}
        assert len(open_proposals(conn, wairimu(ward))) == 1


def test_only_a_lead_who_did_not_propose_it_decides_and_only_once(ward: Ward) -> None:
    pair, reply = a_reply(ward)
    own = steps.propose(ward.store, wairimu(ward), pair.id, reply, "sw", HOT, ward.now)
    with pytest.raises(NotAllowed):
        steps.approve(ward.store, njeri(ward), own, HOT, ward.now)
    with pytest.raises(Conflict, match="Somebody else must approve"):
        steps.approve(ward.store, wairimu(ward), own, HOT, ward.now)
    ward.add_staff("amara", "Amara", Role.manager, "lakeside")
    amara = who(ward, "amara", Role.manager, "lakeside")
    steps.refuse(ward.store, amara, own, "Not said here.", ward.now)
    with pytest.raises(Conflict, match="decided about these words already"):
        steps.refuse(ward.store, amara, own, "why", ward.now)


def test_a_site_that_does_not_hold_the_pair_sees_and_decides_nothing(ward: Ward) -> None:
    made = proposed(ward)
    coast = who(ward, "wairimu", Role.lead, "coast")
    with ward.store.read() as conn:
        assert open_proposals(conn, coast) == []
    with pytest.raises(NotFound):
        steps.approve(ward.store, coast, made, HOT, ward.now)


def test_the_same_proposal_twice_is_one(ward: Ward) -> None:
    pair, reply = a_reply(ward)
    made = {steps.propose(ward.store, njeri(ward), pair.id, reply, "sw", HOT, ward.now) for _ in range(2)}
    assert len(made) == 1


def test_words_that_the_program_has_outgrown_are_left_out_and_named(ward: Ward) -> None:
    entry = {
        "phrase": "saba",
        "means": "number.8",
        "by": str(ward.staff["wairimu"]),
        "proposal": str(UUID(int=1)),
    }
    body = {"words": [entry | {"at": ward.now.isoformat()}]}
    with ward.store.write() as conn:
        editions.publish(conn, steps.WORDS, "sw", body, at=ward.now, effective_from=ward.now)
    assert (
        read("saba", ("feeds",), 5, live(ward)()["sw"]).answers
        == read("saba", ("feeds",), 5, load_factory().lexicons["sw"]).answers
    )
    with ward.store.read() as conn:
        assert ["'saba' stands for 7 and 8" in str(each) for each in steps.word_faults(conn, ward.now)] == [
            True
        ]

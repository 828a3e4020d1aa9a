"""Sealed values open only in their own place with their own key; names and numbers are found by hashes."""

import base64
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.core.errors import Invalid
from bot.seal import SealBroken, Sealer, fold_name
from tests.support.database import PHONE_KEY, SEAL_KEYS, a_sealer
from tests.support.pairs import an_id

ROW, OTHER = an_id("row"), an_id("other")
NEW_KEY = "second:" + base64.b64encode(b"2" * 32).decode()


@given(text=st.text(st.characters(exclude_categories=["Cs"])), row_id=st.uuids())
def test_what_was_sealed_opens_in_its_place(text: str, row_id: UUID) -> None:
    sealer = a_sealer()
    assert sealer.open(sealer.seal(text, row_id, "mother.name"), row_id, "mother.name") == text


def test_the_same_text_is_never_sealed_the_same_way_twice() -> None:
    sealer = a_sealer()
    assert sealer.seal("Amina", ROW, "mother.name") != sealer.seal("Amina", ROW, "mother.name")


@pytest.mark.parametrize(
    ("row_id", "column"),
    [(OTHER, "mother.name"), (ROW, "mother.phone")],
    ids=["another row", "another column"],
)
def test_a_value_moved_to_another_place_does_not_open(row_id: UUID, column: str) -> None:
    sealed = a_sealer().seal("Amina", ROW, "mother.name")
    with pytest.raises(SealBroken, match="altered, or belongs to another row"):
        a_sealer().open(sealed, row_id, column)


@pytest.mark.parametrize("place", [0, 3, 10, -1])
def test_a_value_with_one_bit_changed_does_not_open(place: int) -> None:
    sealed = bytearray(a_sealer().seal("Amina", ROW, "mother.name"))
    sealed[place] ^= 1
    with pytest.raises(SealBroken):
        a_sealer().open(bytes(sealed), ROW, "mother.name")


@pytest.mark.parametrize("broken", [b"", b"\x05first", b"\x05first123456789012", b"\xff"])
def test_what_is_no_sealed_value_does_not_open(broken: bytes) -> None:
    with pytest.raises(SealBroken):
        a_sealer().open(broken, ROW, "mother.name")


def test_a_new_first_key_seals_and_the_old_one_goes_on_opening() -> None:
    old = a_sealer().seal("Amina", ROW, "mother.name")
    both = a_sealer(f"{NEW_KEY},{SEAL_KEYS}")
    assert both.open(old, ROW, "mother.name") == "Amina"
    new = both.seal("Amina", ROW, "mother.name")
    assert a_sealer(NEW_KEY).open(new, ROW, "mother.name") == "Amina"
    with pytest.raises(SealBroken, match="DUNNOCK_SEAL_KEYS"):
        a_sealer().open(new, ROW, "mother.name")


def test_every_fault_of_the_keys_is_named_at_once() -> None:
    with pytest.raises(Invalid) as caught:
        Sealer.from_text("short:MTIz,:MTIz," + SEAL_KEYS + "," + SEAL_KEYS, "MTIz")
    assert [(fault.field, fault.message) for fault in caught.value.problems] == [
        ("seal_keys", "key 1 must be 16, 24 or 32 bytes in base64"),
        ("seal_keys", "key 2 needs an id of its own before a colon"),
        ("seal_keys", "key 4 needs an id of its own before a colon"),
        ("phone_key", "must be at least 32 bytes in base64"),
    ]


def test_the_hash_of_a_number_depends_on_the_key_only() -> None:
    number = "+447700900123"
    other = Sealer.from_text(SEAL_KEYS, base64.b64encode(b"q" * 32).decode())
    assert a_sealer(NEW_KEY).phone_key(number) == a_sealer().phone_key(number)
    assert other.phone_key(number) != a_sealer().phone_key(number)


@pytest.mark.parametrize(
    ("name", "typed"),
    [
        ("Fátima  O'Neil", "fat"),
        ("Fátima  O'Neil", "NEIL fatima"),
        ("أمينة حسن", "امينه"),  # hamza and ta marbuta are often left out when typing
        ("Zoë", "zoe"),
        ("Li", "li"),
    ],
)
def test_a_name_is_found_however_it_is_typed(name: str, typed: str) -> None:
    assert a_sealer().search_tokens(typed) <= a_sealer().name_tokens(name)


def test_another_name_is_not_found() -> None:
    assert not a_sealer().search_tokens("omar") <= a_sealer().name_tokens("Amina Hassan")


def test_words_of_a_name_are_folded() -> None:
    assert fold_name("  Ana-María  d'Ávila ") == ("ana", "maria", "d", "avila")


def test_no_key_shows_in_the_words_of_a_sealer() -> None:
    shown = repr(a_sealer())
    assert "first" in shown
    assert "1111" not in shown
    assert "pppp" not in shown
    assert PHONE_KEY not in shown

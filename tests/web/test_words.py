"""Words for the reader and the texts of mothers on the screens, without JavaScript, on both databases."""

from __future__ import annotations

from html import unescape

import pytest
from sqlalchemy import select

from bot.content.factory import load_factory
from bot.content.staff_words import LANGUAGES
from bot.content.texts import Status
from bot.core.pair import Pair
from bot.core.reader import read
from bot.core.reader.report import to_json
from bot.steps import words as steps
from bot.store.tables import inbound
from bot.store.viewer import Role, Viewer
from bot.store.words import open_proposals
from bot.web.read_back import SAYS, pieces, understood
from tests.support.ward import Opening, Visitor, Ward, csrf_of

SAID = "6, mtoto ana kichwamoto"


@pytest.fixture
def zawadi(ward: Ward) -> Pair:
    return ward.writes(ward.enrol("Zawadi", language="sw"), SAID, asking=["feeds"])


def form_of(ward: Ward, pair: Pair) -> str:
    with ward.store.read() as conn:
        reply = conn.scalars(select(inbound.c.id)).one()
    return f"/pairs/{pair.id}/words/{reply}"


def waiting(ward: Ward) -> list[str]:
    lead = Viewer(ward.staff["wairimu"], Role.lead, frozenset(site.id for site in ward.sites.values()))
    with ward.store.read() as conn:
        return [each.phrase for each in open_proposals(conn, lead)]


def test_a_counsellor_proposes_beside_the_reply_and_a_lead_approves(
    ward: Ward, visit: Opening, zawadi: Pair
) -> None:
    njeri, address = visit("njeri"), form_of(ward, zawadi)
    assert f'href="{address}"' in njeri.page(f"/pairs/{zawadi.id}")
    page = unescape(njeri.page(address))
    assert '<mark title="Feeds">6</mark>' in page
    assert 'value="sw" selected' in page

    status, page = njeri.sends(address, address, phrase="kichwa", means="sign.baby_hot", language="sw")
    assert status == 303
    status, page = njeri.sends(address, address, phrase="homa kali", means="", language="sw")
    assert status == 422
    assert "Choose what it means." in page
    assert "as they stand in her text" in page
    assert 'value="homa kali"' in page
    njeri.page("/words", status=403)
    njeri.page("/texts", status=403)

    wairimu = visit("wairimu")
    page = unescape(wairimu.page("/words"))
    assert "kichwa" in page
    decide = page.split('action="/words/', 1)[1].split('"', 1)[0]
    status, page = wairimu.sends(f"/words/{decide}", "/words", phrase="hapana", means="opt_out", number="")
    assert status == 422
    assert "would be read otherwise than now" in unescape(page)
    assert waiting(ward) == ["kichwa"]

    fields = {"phrase": "kichwamoto", "means": "sign.baby_hot", "number": ""}
    status, page = wairimu.sends(f"/words/{decide}", "/words", **fields)
    assert status == 303
    assert "Approved. Replies are read with these words from now on." in page
    assert waiting(ward) == []
    words = steps.LiveWords(ward.store, load_factory(), ward.clock())
    assert read(SAID, ["feeds"], 5, words()["sw"]).danger_signs == ("baby_hot",)

    status, page = wairimu.sends("/words/take-out", "/words", language="sw", phrase="kichwamoto")
    assert status == 303
    assert "Taken out." in page


def test_a_refusal_says_why(ward: Ward, visit: Opening, zawadi: Pair) -> None:
    address = form_of(ward, zawadi)
    visit("njeri").sends(address, address, phrase="kichwamoto", means="number", number="7", language="sw")
    wairimu = visit("wairimu")
    page = unescape(wairimu.page("/words"))
    assert "A number: 7" in page
    refuse = page.split('action="/words/', 2)[2].split('"', 1)[0]
    assert wairimu.sends(f"/words/{refuse}", "/words", why=" ")[0] == 422
    status, page = wairimu.sends(f"/words/{refuse}", "/words", why="It is no number.")
    assert status == 303
    assert "refused by Wairimu" in unescape(page)
    assert "It is no number." in unescape(page)


def test_a_reply_of_another_site_can_t_be_proposed_from(ward: Ward, visit: Opening, zawadi: Pair) -> None:
    visit("salma").page(form_of(ward, zawadi), status=404)


# The read-back, in every language of the screens

REPLY = "6, lakini mtoto ana joto kali. hana degedege"


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_reading_is_told_in_the_language_of_who_looks(ward: Ward, visit: Opening, language: str) -> None:
    pair = ward.writes(ward.enrol("Zawadi", language="sw"), REPLY, asking=["feeds"])
    ward.add_staff("reader", "Reader", Role.counsellor, "lakeside", language=language)
    page = unescape(visit("reader").page(f"/pairs/{pair.id}"))
    from bot.content.staff_words import staff_words

    say = staff_words(language).gettext
    for english in ("Feeds", "says the baby is hot", "Hot, fever"):
        assert language == "en" or say(english) != english
        assert say(english) in page
    denied = say("says it is not so: %(what)s") % {"what": say("A fit")}
    assert denied in page


def test_every_sign_can_be_told() -> None:
    from bot.content.lexicon import load_signs
    from bot.content.source import content_root

    assert SAYS.keys() == load_signs(content_root() / "messages").keys()


def test_a_reading_in_one_line_and_its_words_one_by_one() -> None:
    found = to_json(read("6, but he is hot. no fits", ["feeds"], 5, load_factory().lexicons["en"]))
    assert understood(found, found["intent"]) == "Feeds: 6; says the baby is hot"
    matched = [(piece.text, piece.what) for piece in pieces("6, but he is hot. no fits", found["matches"])]
    assert ("6", "Feeds") in matched
    assert ("fits", "says it is not so: A fit") in matched
    assert "".join(text for text, _ in matched) == "6, but he is hot. no fits"


# The texts


def row_of(page: str, key: str) -> str:
    return page.split(f'id="t-{key}"', 1)[1].split("</li>", 1)[0]


def test_texts_stand_beside_the_english_with_price_budget_and_review(ward: Ward, visit: Opening) -> None:
    page = unescape(visit("wairimu").page("/texts?language=ar"))
    row = row_of(page, "ask-feeds")
    english = load_factory().texts.entry("ask-feeds").text
    assert english in row
    assert 'lang="ar" dir="rtl"' in row
    assert "UCS-2" in row
    assert "at most 3" in row
    assert "machine-made, unreviewed" in row
    both = row_of(page, "ask-pain")
    assert "On a phone that others read:" in both
    assert "On her own phone:" in both
    piece = row_of(page, "word-baby")
    assert "never sent alone" in piece


def test_texts_are_filtered(ward: Ward, visit: Opening) -> None:
    wairimu = visit("wairimu")
    assert "ask-wet_nappies" in wairimu.page("/texts?language=sw&show=cloth")
    assert "thanks-fine" not in wairimu.page("/texts?language=sw&show=cloth")
    assert "No text is like this." in wairimu.page("/texts?language=sw&show=over")
    assert 'id="t-thanks-fine"' in wairimu.page("/texts?language=sw&show=unreviewed")


def sign(visitor: Visitor, key: str, **changes: str) -> tuple[int, str]:
    source = "/texts?language=sw"
    row = row_of(visitor.page(source), key)
    fields = {
        "seen": row.split('name="seen" value="', 1)[1].split('"', 1)[0],
        "role": "midwife",
        "registration": "RM-17",
        "speaks": "1",
    }
    data = {"csrf_token": csrf_of(row)} | fields | changes
    answer = visitor.client.post(f"/texts/sw/{key}/sign", data=data, follow_redirects=True)
    return (answer.history[0].status_code if answer.history else answer.status_code), unescape(answer.text)


def test_a_text_is_signed_as_it_was_shown_and_loses_the_signature_when_it_changes(
    ward: Ward, visit: Opening, monkeypatch: pytest.MonkeyPatch
) -> None:
    wairimu = visit("wairimu")
    assert sign(wairimu, "ask-feeds", role="", registration="")[0] == 422
    stale, page = sign(wairimu, "ask-feeds", seen="0" * 64)
    assert (stale, "has changed since you read it" in page) == (303, True)
    status, page = sign(wairimu, "ask-feeds")
    assert status == 303
    assert "reviewed: Wairimu, midwife, RM-17" in row_of(page, "ask-feeds")
    assert "machine-made, unreviewed" in row_of(page, "ask-pain")
    assert 'id="t-ask-feeds"' not in wairimu.page("/texts?language=sw&show=unreviewed")

    texts = load_factory().texts
    before = texts.digest("ask-feeds", "sw")
    catalog = dict(texts._catalogs["sw"])
    words = catalog["ask-feeds"]
    catalog["ask-feeds"] = type(words)(words.words + " Asante.", Status.unreviewed)
    monkeypatch.setitem(texts._catalogs, "sw", catalog)
    assert texts.digest("ask-feeds", "sw") != before
    assert "machine-made, unreviewed" in row_of(wairimu.page("/texts?language=sw"), "ask-feeds")


def test_what_was_sent_unreviewed_says_so_on_the_case(ward: Ward, visit: Opening, zawadi: Pair) -> None:
    from datetime import timedelta

    ward.texts(zawadi, "Je?", before=timedelta(hours=1))
    assert "delivered · machine-made, unreviewed" in visit("njeri").page(f"/pairs/{zawadi.id}")
    sign(visit("wairimu"), "ask-feeds")
    assert "machine-made, unreviewed" not in visit("njeri").page(f"/pairs/{zawadi.id}")

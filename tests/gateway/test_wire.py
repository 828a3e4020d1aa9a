"""A profile says everything: each of the fourteen points that real gateways differ in, over plain data.

The points are those that a generic HTTP gateway profile must be able to express; each was met on the wire
with a real gateway (common practice, no standard).
"""

from __future__ import annotations

import json
import tomllib
from base64 import b64encode
from datetime import UTC, datetime, timedelta
from typing import Any
from urllib.parse import parse_qs, urlsplit
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.core.errors import Invalid
from bot.core.outbox import Accepted, Denied, Failure, OptedOut, OutboundText, Permanent, Temporary, Unknown
from bot.core.states import MessageState
from bot.gateway.incoming import PartOf, part_of_header, read_replies, read_reports
from bot.gateway.outgoing import no_answer, outcome_of, request_for, too_long
from bot.gateway.places import Envelope
from bot.gateway.profile import Profile, make_profile
from bot.gateway.wire import Wire, load_wire, shipped

NOW = datetime(2026, 3, 1, 9, tzinfo=UTC)
KEY = "a-long-random-key-1"
GSM7, UCS2 = "8 feeds + 6 wet?", "كم مرة رضع اليوم؟"
BASE = """
about = "for a test"
[trust]
by = "key"
[replies]
from = "query:from"
text = "query:text"
"""


def text(words: str = GSM7) -> OutboundText:
    return OutboundText("m-1", "+447700900123", words, NOW + timedelta(hours=6))


def profile(wire: Wire, **changes: Any) -> Profile:
    given_: dict[str, Any] = {
        "url": "https://sms.example/send",
        "sender": "+447700900001",
        "secrets": ["whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"] if wire.trust.by == "standard" else [KEY],
        "token": "tok",
        "settings": {"user": "u&1", "password": "p+w", "hook_user": "hook"},
        "public_url": "https://dunnock.example",
    }
    return make_profile("here", wire=wire, **(given_ | changes))


def wired(more: str) -> Profile:
    return profile(Wire.model_validate(tomllib.loads(BASE + more)))


def sent(made: Profile, words: str = GSM7) -> tuple[dict[str, list[str]], Any]:
    request = request_for(made, text(words), NOW)
    return parse_qs(urlsplit(request.url).query, keep_blank_values=True), request


# ---------------------------------------------------------------- 1 to 6: what goes out


@pytest.mark.parametrize("method", ["GET", "POST", "PUT"])
def test_1_method_address_and_parameters_are_the_profiles(method):
    made = wired(f"""
        [send]
        method = "{method}"
        url = "{{url}}/{{to}}"
        headers = {{ x-ref = "{{id}}" }}
        [send.query]
        "fixed param" = "a b+c"
        """)
    request = request_for(made, text(), NOW)
    assert request.method == method
    assert urlsplit(request.url).path == "/send/%2B447700900123"
    assert request.headers["x-ref"] == "m-1"
    assert urlsplit(request.url).query == "fixed%20param=a%20b%2Bc"  # + as %2B: else '8+' arrives as '8 '


def test_1_parameters_stand_in_a_form_json_raw_body_or_xml():
    form = wired('[send.form]\nto = "{to}"\ntext = "{text}"')
    assert parse_qs(request_for(form, text("8+ & more"), NOW).body.decode()) == {
        "to": ["+447700900123"],
        "text": ["8+ & more"],
    }
    nested = wired('[[send.json.all]]\nttl = "{validity_seconds}"\nto = ["{to}"]\nbody = "{text}"')
    assert json.loads(request_for(nested, text(UCS2), NOW).body) == {
        "all": [{"ttl": 21600, "to": ["+447700900123"], "body": UCS2}]
    }
    raw = wired('[send]\nbody = "{to};{text}"\ncontent_type = "text/plain"\ncharset = "utf-16-be"')
    assert request_for(raw, text("8"), NOW).body == "+447700900123;8".encode("utf-16-be")
    xml = wired("""[send]\nbody = '<m to="{to}">{text}</m>'\ncontent_type = "text/xml" """)
    root = ElementTree.fromstring(request_for(xml, text('<8 & "6">'), NOW).body)
    assert (root.text, root.get("to")) == ('<8 & "6">', "+447700900123")


def test_2_credentials_stand_in_query_header_basic_or_bearer():
    in_query, _ = sent(wired('[send.query]\nuser = "{user}"\npw = "{password}"'))
    assert in_query == {"user": ["u&1"], "pw": ["p+w"]}
    basic = request_for(wired('[send]\nauth = "basic"\nform = { t = "{text}" }'), text(), NOW)
    assert basic.headers["authorization"] == "Basic " + b64encode(b"u&1:p+w").decode()
    bearer = request_for(wired('[send]\nauth = "bearer"\nform = { t = "{text}" }'), text(), NOW)
    assert bearer.headers["authorization"] == "Bearer tok"
    own = request_for(wired('[send]\nheaders = { x-key = "{token}" }\nform = { t = "{text}" }'), text(), NOW)
    assert own.headers["x-key"] == "tok"


def test_3_the_receipt_url_holds_our_ref_is_encoded_once_and_keeps_the_gateways_codes():
    made = wired("""
        [send]
        receipt_url = "{hooks}/receipts?key={key}&ref={id}&state=%d"
        [send.query]
        report = "{receipt_url}"
        """)
    query, request = sent(made)
    assert query["report"] == [f"https://dunnock.example/hooks/here/receipts?key={KEY}&ref=m-1&state=%d"]
    assert "state%3D%25d" in request.url


@pytest.mark.parametrize(
    ("form", "number"), [("plus", "+447700900123"), ("00", "00447700900123"), ("bare", "447700900123")]
)
def test_4_numbers_go_out_as_the_gateway_writes_them(form, number):
    query, _ = sent(wired(f'[numbers]\nout = "{form}"\n[send.query]\nto = "{{to}}"\nfrom = "{{from}}"'))
    assert query["to"] == [number]


def test_4_a_short_code_has_no_country():
    wire = Wire.model_validate(tomllib.loads(BASE + '[numbers]\nout = "00"\n[send.query]\nfrom = "{from}"'))
    query, _ = sent(profile(wire, sender="40404"))
    assert query["from"] == ["40404"]


def test_5_the_alphabet_of_the_text_switches_parameters():
    made = wired("""
        [send.query]
        text = "{text}"
        hex = "{text_hex}"
        [send.gsm7.query]
        coding = "0"
        [send.ucs2.query]
        coding = "2"
        charset = "UTF-8"
        """)
    plain, _ = sent(made)
    assert (plain["coding"], "charset" in plain) == (["0"], False)
    arabic, _ = sent(made, UCS2)
    assert (arabic["coding"], arabic["charset"], arabic["text"]) == (["2"], ["UTF-8"], [UCS2])
    assert bytes.fromhex(arabic["hex"][0]).decode("utf-16-be") == UCS2


def test_5_a_text_that_would_be_cut_off_is_refused_before_it_is_sent():
    made = wired('[send]\nmost_segments = 1\nquery = { t = "{text}" }')
    assert too_long(made, text("a" * 160)) is None
    assert isinstance(too_long(made, text("a" * 161)), Permanent)


ANSWERS = """
    [send.query]
    t = "{text}"
    [[answer]]
    status = [202]
    when = { at = "body", match = '^[03]: ' }
    means = "accepted"
    [[answer]]
    status = ["2xx"]
    means = "permanent"
    [[answer]]
    status = [400]
    when = { at = "json:error.code", is = ["21614"] }
    means = "number"
    [[answer]]
    status = [400]
    when = { at = "json:error.text", match = "(?i)opted out" }
    means = "opted_out"
    [[answer]]
    status = [503]
    means = "temporary"
    [[answer]]
    when = { at = "json:ok", is = ["false"] }
    means = "unknown"
    """


@pytest.mark.parametrize(
    ("status", "body", "outcome"),
    [
        (202, "0: Accepted for delivery", Accepted("m-1")),
        (202, "3: Queued for later delivery", Accepted("m-1")),
        (200, "Denied", Permanent("answered 200")),  # a success by its status alone
        (400, '{"error": {"code": 21614}}', Permanent("answered 400", number=True)),
        (400, '{"error": {"text": "Opted out"}}', OptedOut()),
        (400, "no", Permanent("answered 400")),
        (403, "", Denied("answered 403")),
        (404, "", Denied("answered 404")),
        (301, "", Denied("answered 301")),
        (429, "", Temporary("answered 429")),
        (503, "", Temporary("answered 503")),
        (500, "", Temporary("answered 500")),
        (418, '{"ok": false}', Unknown("answered 418")),
    ],
)
def test_6_and_7_success_and_every_class_of_failure_are_told_by_status_and_body(status, body, outcome):
    envelope = Envelope(body.encode(), {}, status=status)
    assert outcome_of(wired(ANSWERS), envelope, "m-1", NOW) == outcome


@pytest.mark.parametrize(
    ("value", "wait"),
    [("30", 30), ("Sun, 01 Mar 2026 09:01:00 GMT", 60), ("Sun, 01 Mar 2026 08:00:00 GMT", 0), ("soon", None)],
)
def test_7_retry_after_is_seconds_or_a_date(value, wait):
    """RFC 9110, section 10.2.3."""
    found = outcome_of(wired(ANSWERS), Envelope(b"", {"retry-after": value}, status=429), "m-1", NOW)
    assert found == Temporary("answered 429", None if wait is None else timedelta(seconds=wait))


def test_7_no_answer_is_unknown_unless_the_profile_waits_for_a_receipt():
    assert no_answer(wired('[send.query]\nt = "{text}"'), "m-1", "ReadTimeout") == Unknown("ReadTimeout")
    waits = wired("""
        [receipts]
        ref = "query:ref"
        state = "query:state"
        states = { 1 = "delivered" }
        [send.query]
        t = "{text}"
        """)
    wire = waits.wire.model_copy(update={"after_no_answer": "wait"})
    assert no_answer(profile(wire), "m-1", "ReadTimeout") == Accepted("m-1")


@pytest.mark.parametrize(
    ("ref", "body", "headers", "found"),
    [
        ('"own"', "anything", {}, "m-1"),
        ("""{ at = "body", match = '"([^"]+)"' }""", 'Success "07033084"', {}, "07033084"),
        (
            '"json:messages.0.id"',
            '{"messages": [{"id": 123456789012345678901}]}',
            {},
            "123456789012345678901",
        ),
        ('"header:Location"', "", {"location": "/texts/9"}, "/texts/9"),
        ('"xml:id"', "<answer><id>9</id></answer>", {}, "9"),
        ('"json:id"', "{}", {}, "m-1"),  # none given: then by ours
    ],
)
def test_8_the_gateways_name_of_a_text_comes_from_anywhere_or_nowhere(ref, body, headers, found):
    wire = Wire.model_validate(tomllib.loads(f"ref = {ref}\n" + BASE + '[send.query]\nt = "{text}"'))
    answer = Envelope(body.encode(), headers, status=200)
    assert outcome_of(profile(wire), answer, "m-1", NOW) == Accepted(found)


# ---------------------------------------------------------------- 9 to 11: what comes in


def reply_wire(lines: str) -> Profile:
    more = f'about = "t"\n[send.query]\nt = "{{text}}"\n[trust]\nby = "key"\n[replies]\n{lines}'
    return profile(Wire.model_validate(tomllib.loads(more)))


PLACES = [
    ("query:f", "query:t", "query:i", Envelope(query=b"f=%2B447700900123&t=8%2B+ok&i=7")),
    ("form:f", "form:t", "form:i", Envelope(b"f=%2B447700900123&t=8%2B+ok&i=7")),
    ("json:a.0.f", "json:t", "json:i", Envelope(b'{"a": [{"f": "+447700900123"}], "t": "8+ ok", "i": 7}')),
    ("xml:@f", "xml:t", "xml:i/n", Envelope(b'<r f="+447700900123"><t>8+ ok</t><i><n>7</n></i></r>')),
    ("header:X-F", "body", "header:x-i", Envelope(b"8+ ok", {"x-f": "+447700900123", "x-i": "7"})),
]


@pytest.mark.parametrize(("sender", "words", "name", "hook"), PLACES)
def test_9_a_reply_is_read_from_query_form_json_xml_header_or_body(sender, words, name, hook):
    made = reply_wire(f'from = "{sender}"\ntext = "{words}"\nid = "{name}"')
    (reply,) = read_replies(made, hook)
    assert reply is not None
    assert (reply.sender, reply.text, reply.id) == ("+447700900123", "8+ ok", "7")


@pytest.mark.parametrize(
    ("form", "value", "instant"),
    [
        ("epoch", "1772355600", NOW),
        ("epoch_ms", "1772355600123", NOW + timedelta(milliseconds=123)),
        ("iso", "2026-03-01T12:00:00+03:00", NOW),
        ("%Y-%m-%d %H:%M:%S", "2026-03-01 12:00:00", NOW),
        ("%d/%m/%Y %H:%M", "01/03/2026 12:00", NOW),
        ("iso", "yesterday", None),
        ("epoch", "nan", None),
    ],
)
def test_9_the_time_is_an_epoch_or_a_form_with_its_zone(form, value, instant):
    made = reply_wire(f"""
        from = "query:f"
        text = "query:t"
        time = {{ at = "query:at", format = "{form}", zone = "Africa/Nairobi" }}
        """)
    at = value.replace("+", "%2B").replace(" ", "%20")
    (reply,) = read_replies(made, Envelope(query=f"f=1&t=8&at={at}".encode()))
    assert reply is not None
    assert reply.received_at == instant


# Texts whose UTF-16BE bytes are valid UTF-8, and those that are not.
SCRIPTS = ["٨ مرات", "आज ८ बार", "৮ বার", "ዛሬ ፰ ጊዜ", "8 feeds, 6 wet", "ما رضع من الصبح", "Sí, él está bien"]


@pytest.mark.parametrize("words", SCRIPTS)
@pytest.mark.parametrize("charset", ["utf-8", "utf-16-be"])
def test_9_the_charset_is_detected_where_the_gateway_mixes_them(words, charset):
    made = reply_wire('from = "query:f"\ntext = "query:t"\ncharset = "detect"')
    coded = "".join(f"%{byte:02x}" for byte in words.encode(charset))
    (reply,) = read_replies(made, Envelope(query=f"f=1&t={coded}".encode()))
    assert reply is not None
    assert reply.text == words


def test_9_the_charset_may_be_named_by_a_field_and_text_may_be_coded_once_more():
    named = reply_wire('from = "query:f"\ntext = "query:t"\ncharset = "query:c"')
    (reply,) = read_replies(named, Envelope(query=b"f=1&t=%06%68&c=UTF-16BE"))
    assert reply is not None
    assert reply.text == "٨"
    (reply,) = read_replies(
        named, Envelope(query=b"f=1&t=8&c=KLINGON")
    )  # nobody's charset: told by the bytes
    assert reply is not None
    assert reply.text == "8"
    in_hex = reply_wire('from = "json:f"\ntext = { at = "json:t", decode = "hex" }')
    (reply,) = read_replies(in_hex, Envelope(b'{"f": "1", "t": "0668"}'))
    assert reply is not None
    assert reply.text == "٨"
    in_xml = reply_wire('from = "xml:f"\ntext = { at = "xml:t", decode = "url" }')
    (reply,) = read_replies(in_xml, Envelope(b"<r><f>1</f><t>8%2B%20ok</t></r>"))
    assert reply is not None
    assert reply.text == "8+ ok"


def test_9_xml_that_defines_entities_is_not_read():
    bomb = b'<!DOCTYPE r [<!ENTITY a "aaaa">]><r><f>1</f><t>&a;</t></r>'
    assert read_replies(reply_wire('from = "xml:f"\ntext = "xml:t"'), Envelope(bomb)) == [None]


def test_10_the_duplicate_key_is_one_field_several_or_none():
    made = reply_wire('from = "query:f"\ntext = "query:t"\nid = ["query:smsc", "query:i"]')
    (reply,) = read_replies(made, Envelope(query=b"f=1&t=8&smsc=a&i=7"))
    assert reply is not None
    assert reply.id == "a 7"
    (reply,) = read_replies(made, Envelope(query=b"f=1&t=8&i=7"))  # half a key names nothing
    assert reply is not None
    assert reply.id is None


def test_a_batch_brings_several_and_what_is_unreadable_in_it_spoils_nothing():
    made = reply_wire('each = "json:items"\nfrom = "json:f"\ntext = "json:t"')
    body = b'{"items": [{"f": "1", "t": "8"}, {"t": "no sender"}, {"f": "2", "t": 9}]}'
    found = read_replies(made, Envelope(body))
    assert [reply and reply.text for reply in found] == ["8", None, "9"]
    bare = reply_wire('each = "json:."\nfrom = "json:f"\ntext = "json:t"')
    assert len(read_replies(bare, Envelope(b'[{"f": "1", "t": "8"}, {"f": "1", "t": "9"}]'))) == 2
    assert read_replies(bare, Envelope(b"[]")) == [None]  # a hook that brings nothing is kept as it came


def test_a_missed_call_needs_no_text():
    made = reply_wire('from = "json:f"\ntext = "json:t"\nmissed_call = { at = "json:kind", is = ["call"] }')
    (reply,) = read_replies(made, Envelope(b'{"f": "+447700900123", "kind": "call"}'))
    assert reply is not None
    assert (reply.missed_call, reply.text) == (True, "")


@pytest.mark.parametrize(
    ("header", "part"),
    [
        ("050003CC0301", PartOf("cc", 1, 3)),  # 3GPP TS 23.040, 9.2.3.24.1
        ("060804CC010302", PartOf("cc01", 2, 3)),  # the same, 9.2.3.24.8: a name of two octets
        ("0A0504158200000003AA0202", PartOf("aa", 2, 2)),  # after ports, 9.2.3.24.4
        ("050003CC0301FFFF", PartOf("cc", 1, 3)),
        ("050003CC0300", None),  # part 0 does not exist
        ("050003CC0304", None),
        ("050003CC0101", None),  # one part of one is no part
        ("0500", None),
        ("xyz", None),
        ("", None),
    ],
)
def test_the_part_of_a_long_reply_is_read_from_its_header(header, part):
    assert part_of_header(header) == part


BITS = """
about = "t"
[send.query]
t = "{text}"
[trust]
by = "key"
[receipts]
ref = "query:ref"
state = "query:s"
reason_at = "query:why"
bits = { 1 = "delivered", 2 = "undelivered", 4 = "accepted", 8 = "accepted", 16 = "undelivered" }
states = { DELIVRD = "delivered", UNDELIV = "undelivered", EXPIRED = "expired", ENROUTE = "accepted" }
[[receipts.reason]]
match = "(?i)opted.?out"
means = "opted_out"
[[receipts.reason]]
match = "unknown subscriber"
means = "number"
"""


@pytest.mark.parametrize(
    ("state", "reported"),
    [
        # The words of SMPP v3.4 receipts, as five carriers publish them.
        ("DELIVRD", MessageState.delivered), ("UNDELIV", MessageState.undelivered),
        ("EXPIRED", MessageState.expired), ("ENROUTE", MessageState.accepted),
        # The bits of Kannel's dlr-mask (its User's Guide, table of dlr-url codes); 34 is a failure not known.
        ("1", MessageState.delivered), ("2", MessageState.undelivered), ("4", MessageState.accepted),
        ("8", MessageState.accepted), ("16", MessageState.undelivered), ("34", MessageState.undelivered),
        ("", MessageState.accepted), ("SOMETHING", MessageState.accepted), ("64", MessageState.accepted),
    ],
)  # fmt: skip
def test_11_a_state_is_told_by_word_and_by_bits_and_has_a_default(state, reported):
    made = profile(Wire.model_validate(tomllib.loads(BITS)))
    (report,) = read_reports(made, Envelope(query=f"ref=m-1&s={state}".encode()))
    assert report is not None
    assert (report.ref, report.state, report.failure) == ("m-1", reported, Failure.none)


@pytest.mark.parametrize(
    ("why", "failure"),
    [
        ("user%20opted%20out", Failure.opted_out),
        ("unknown%20subscriber", Failure.number),
        ("busy", Failure.none),
    ],
)
def test_11_the_reason_of_a_failure_is_kept(why, failure):
    made = profile(Wire.model_validate(tomllib.loads(BITS)))
    (report,) = read_reports(made, Envelope(query=f"ref=m-1&s=2&why={why}".encode()))
    assert report is not None
    assert report.failure is failure
    (report,) = read_reports(made, Envelope(query=f"ref=m-1&s=1&why={why}".encode()))
    assert report is not None
    assert report.failure is Failure.none  # it arrived, whatever was said on the way


@given(st.binary(max_size=200), st.binary(max_size=200), st.sampled_from(shipped()))
def test_no_hook_makes_a_shipped_profile_raise(query, body, name):
    made = profile(load_wire(name))
    hook = Envelope(body, {}, query)
    for read in (*read_replies(made, hook), *read_reports(made, hook)):
        if read is not None:
            repr(read).encode("utf-8")


# ---------------------------------------------------------------- the file itself


@pytest.mark.parametrize("name", shipped())
@pytest.mark.parametrize("words", [GSM7, UCS2])
def test_every_shipped_profile_makes_a_request_that_carries_the_text(name, words):
    request = request_for(profile(load_wire(name)), text(words), NOW)
    carried = request.body.decode() or urlsplit(request.url).query
    if not request.body or "form" in request.headers["content-type"]:
        carried = str(parse_qs(carried))
    assert words in carried


def test_every_fault_of_a_profile_is_named_with_its_place(tmp_path):
    (tmp_path / "ours.toml").write_text(
        'about = "x"\nref = "nowhere"\n[send]\nmethod = "SEND"\ncharset = "klingon"\n'
        '[[answer]]\nmeans = "accepted"\n[replies]\nfrom = "querry:x"\ncolour = 1\n',
        "utf-8",
    )
    with pytest.raises(Invalid) as refused:
        load_wire("./ours.toml", tmp_path)
    places = " ".join(problem.field for problem in refused.value.problems)
    for where in ("send.method", "send.charset", "answer.0", "replies.from", "replies.colour", "ref"):
        assert where in places


def test_a_profile_that_is_not_there_is_answered_with_those_that_are():
    with pytest.raises(Invalid, match="kannel"):
        load_wire("kanel")


def test_what_a_profile_needs_is_asked_for_by_name():
    with pytest.raises(Invalid) as refused:
        make_profile("here", wire=load_wire("kannel"), url="http://h/", sender="+447700900001", secrets=["x"])
    assert [problem.field for problem in refused.value.problems] == [
        "gateways.here.password", "gateways.here.user", "gateways.here.profile", "gateways.here.secret",
    ]  # fmt: skip

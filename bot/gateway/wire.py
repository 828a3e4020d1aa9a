"""How a kind of gateway speaks, as a profile file says it: TOML comes in, a checked `Wire` goes out.

The files that ship are in profiles/; a line of the configuration may name any other file. What each field is
for stands here, beside it; README.md shows how to write one from a provider's page.
"""

from __future__ import annotations

import codecs
import tomllib
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator, model_validator

from bot.core.errors import Invalid, Problem
from bot.core.outbox import Failure
from bot.core.states import MessageState
from bot.gateway import templates
from bot.gateway.places import Condition, Envelope, Place, compiled

PROFILES = Path(__file__).parent / "profiles"

# What the program itself knows of a text; every other name in braces must be among the gateway's settings.
OF_TEXT = frozenset({
    "to", "from", "text", "text_hex", "id", "expires_at", "validity_minutes", "validity_seconds",
    "receipt_url", "url", "hooks", "key",
})  # fmt: skip

Means = Literal["accepted", "temporary", "permanent", "number", "opted_out", "denied", "unknown"]
Statuses = tuple[int | Literal["2xx", "3xx", "4xx", "5xx"], ...]


class _Strict(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


class Parts(_Strict):
    """Templates of a request. Every one may hold {placeholders} in names and values."""

    headers: dict[str, str] = Field(default_factory=dict)
    query: dict[str, str] = Field(default_factory=dict)
    form: dict[str, str] = Field(default_factory=dict)
    json_body: dict[str, Any] | list[Any] | None = Field(default=None, alias="json")


class Send(Parts):
    """[send]: the request that one text makes."""

    method: Literal["GET", "POST", "PUT"] = "POST"
    url: str = "{url}"  # values are percent-encoded
    auth: Literal["none", "basic", "bearer"] = "none"  # with the settings user and password, or token
    body: str | None = None  # a raw body; values are escaped if `content_type` names XML
    content_type: str | None = None  # of a raw body
    charset: str = "utf-8"  # of percent-encoded values and raw bodies
    receipt_url: str | None = None  # {receipt_url}; codes of the gateway such as %d stay as they are
    gsm7: Parts = Parts()  # added when the text needs no letter outside the GSM 7-bit alphabet
    ucs2: Parts = Parts()  # added when it does
    most_segments: int | None = Field(default=None, ge=1, le=255)  # longer texts would be cut off silently

    @model_validator(mode="after")
    def _one_body(self) -> Send:
        for extra in (self.gsm7, self.ucs2):
            kinds = [bool(self.form or extra.form), bool(self.json_body or extra.json_body), bool(self.body)]
            if sum(kinds) > 1:
                raise ValueError("a request has one body: form, json or body")
        if self.body and not self.content_type:
            raise ValueError("say the content_type of the raw body")
        return self

    @field_validator("charset")
    @classmethod
    def _exists(cls, charset: str) -> str:
        return _charset(charset)


class Numbers(_Strict):
    """[numbers]: how the gateway writes +254 712 ...: plus, 00, or bare (digits alone)."""

    out: Literal["plus", "00", "bare"] = "plus"


class Rule(_Strict):
    """[[answer]]: what an answer to our request means. The first rule that fits counts; with none the status
    decides: 2xx accepted; 408, 425, 429 and 5xx temporary; 401, 403, 404, 405, 407 and 3xx denied; other 4xx
    permanent."""

    status: Statuses = ()
    when: Condition | None = None
    means: Means

    @model_validator(mode="after")
    def _asks(self) -> Rule:
        if not self.status and self.when is None:
            raise ValueError("say which answers it is about: status = [...] or when = {...}")
        return self

    def fits(self, envelope: Envelope) -> bool:
        status = envelope.status
        right = not self.status or status in self.status or f"{status // 100}xx" in self.status
        return right and (self.when is None or self.when.holds(envelope))


class Reply(_Strict):
    """What our hook answers. Some gateways text out to the mother whatever stands in it."""

    status: int = Field(default=200, ge=200, le=299)
    content_type: str = "text/plain"
    body: str = ""


class Time(_Strict):
    """When the gateway received a reply: epoch, epoch_ms, iso, or a form such as '%Y-%m-%d %H:%M:%S'."""

    at: Place
    form: str = Field(default="iso", alias="format")
    zone: str | None = None  # of times that name none; without it they are left out

    @field_validator("zone")
    @classmethod
    def _exists(cls, zone: str | None) -> str | None:
        try:
            ZoneInfo(zone or "UTC")
        except (ZoneInfoNotFoundError, ValueError) as error:
            raise ValueError(f"'{zone}' is no time zone; write one such as Africa/Nairobi") from error
        return zone

    def find(self, envelope: Envelope, item: Any) -> datetime | None:
        """Give the instant; None where it is missing or can't be read."""
        value = self.at.find(envelope, item)
        if not value:
            return None
        try:
            if self.form in ("epoch", "epoch_ms"):
                return datetime.fromtimestamp(float(value) / (1000 if self.form == "epoch_ms" else 1), UTC)
            if self.form == "iso":
                read = datetime.fromisoformat(value)
            else:
                read = datetime.strptime(value, self.form)  # noqa: DTZ007  # the zone follows
            if read.tzinfo is None and self.zone is not None:
                read = read.replace(tzinfo=ZoneInfo(self.zone))
            return read if read.tzinfo else None
        except (ValueError, OverflowError, OSError):
            return None


class Part(_Strict):
    """Where a long reply comes in parts that the gateway does not join: as three values, or as the header of
    the part in hexadecimal (`udh`)."""

    ref: Place | None = None
    number: Place | None = None
    total: Place | None = None
    udh: Place | None = None


class Hook(_Strict):
    """What replies and receipts have in common."""

    method: Literal["GET", "POST"] = "POST"
    each: Place | None = None  # the list of a batch; "json:." if the body itself is one
    answer: Reply = Reply()


class Replies(Hook):
    """[replies]: what a mother's text looks like at our hook."""

    sender: Place = Field(alias="from")
    text: Place | None = None  # none at all for a gateway that brings missed calls only
    id: tuple[Place, ...] = ()  # names one reply, also when it is brought again
    time: Time | None = None
    to: Place | None = None
    charset: str | Place = "utf-8"  # of the text, or where it is named; `detect` tells UTF-16BE from UTF-8
    missed_call: Condition | None = None
    part: Part | None = None

    @field_validator("id", mode="before")
    @classmethod
    def _one(cls, given: object) -> object:
        return given if isinstance(given, list | tuple) else (given,)

    @field_validator("charset")
    @classmethod
    def _exists(cls, charset: str | Place) -> str | Place:
        if isinstance(charset, Place):
            return charset
        if charset.partition(":")[0] in ("query", "form", "header"):
            return Place.model_validate(charset)
        return charset if charset == "detect" else _charset(charset)


class Reason(_Strict):
    """[[receipts.reason]]: words in a failed report that mean more than 'not delivered'."""

    match: str
    means: Literal["number", "opted_out"]

    @field_validator("match")
    @classmethod
    def _compiles(cls, pattern: str) -> str:
        return compiled(pattern)

    @property
    def failure(self) -> Failure:
        return Failure[self.means]


State = Literal["accepted", "delivered", "undelivered", "expired"]


class Receipts(Hook):
    """[receipts]: what a report about one of our texts looks like at our hook."""

    ref: Place  # the name that the gateway gave the text, or our own
    state: Place
    states: dict[str, State] = Field(default_factory=dict)  # by the exact word
    bits: dict[int, State] = Field(default_factory=dict)  # by the lowest bit that is set
    # Any other word: on its way until a final report or time tells more; or no report at all.
    otherwise: State | Literal["unreadable"] = "accepted"
    reason_at: Place | None = None
    reason: tuple[Reason, ...] = ()

    @model_validator(mode="after")
    def _maps(self) -> Receipts:
        if not self.states and not self.bits:
            raise ValueError("say what the states mean: [receipts.states] or [receipts.bits]")
        return self

    def state_of(self, word: str) -> MessageState | None:
        """Give the state that the gateway's word means; None if it is to be called unreadable."""
        if word in self.states:
            return MessageState[self.states[word]]
        if self.bits and word.isdecimal():
            for bit in sorted(self.bits):
                if int(word) & bit:
                    return MessageState[self.bits[bit]]
        return None if self.otherwise == "unreadable" else MessageState[self.otherwise]


class Trust(_Strict):
    """[trust]: how a hook proves who sends it. The settings may add a list of addresses to each.

    standard   signed as Standard Webhooks 1.0 says: webhook-id, webhook-timestamp, webhook-signature
    digest     `header` holds an HMAC of the body, or of our address and the sorted fields of the form
    key        the secret stands in the field `key` of the query
    basic      user and password in the address that the gateway was given
    addresses  nothing but the list of addresses
    """

    by: Literal["standard", "digest", "key", "basic", "addresses"] = "standard"
    header: str = ""
    algorithm: Literal["sha1", "sha256", "sha512"] = "sha256"
    coding: Literal["hex", "base64"] = "hex"
    of: Literal["body", "url_form"] = "body"
    before: str = ""  # what stands in the header before the digest, such as 'sha256='

    @model_validator(mode="after")
    def _header(self) -> Trust:
        if (self.by == "digest") != bool(self.header):
            raise ValueError("name the header of a digest, and of nothing else")
        return self


class Wire(_Strict):
    """One profile: all that must be known to speak with a kind of gateway."""

    name: str = ""
    about: str
    numbers: Numbers = Numbers()
    send: Send
    answer: tuple[Rule, ...] = ()
    # The gateway's name for the text; "own" where it gives none and reports under ours.
    ref: Literal["own"] | Place = "own"
    # A text to which no answer came may have been sent. again: one doubled is better than one missed;
    # wait: only for a gateway that surely reports on our own ref.
    after_no_answer: Literal["again", "wait"] = "again"
    trust: Trust = Trust()
    replies: Replies | None = None  # none: it brings no replies, and no questions go out by it
    receipts: Receipts | None = None

    @model_validator(mode="after")
    def _can_wait(self) -> Wire:
        if self.after_no_answer == "wait" and (self.ref != "own" or self.receipts is None):
            raise ValueError("after_no_answer = 'wait' needs receipts that name our own ref")
        return self

    @property
    def settings(self) -> frozenset[str]:
        """The names in braces that the gateway's settings must give."""
        return templates.names(self.send.model_dump(by_alias=True)) - OF_TEXT

    @property
    def needs_hooks(self) -> bool:
        """Whether a request names our own address."""
        return "hooks" in templates.names(self.send.model_dump())


def shipped() -> Sequence[str]:
    """Give the names of the profiles that ship."""
    return sorted(path.stem for path in PROFILES.glob("*.toml"))


def load_wire(name: str, beside: Path | None = None) -> Wire:
    """Read a profile that ships, or the file that `name` leads to from the folder `beside`.

    Raises Invalid with every fault, and where it is.
    """
    path = PROFILES / f"{name}.toml"
    if "/" in name or name.endswith(".toml"):
        path = (beside or Path.cwd()) / name
    elif not path.exists():
        known = ", ".join(shipped())
        raise Invalid([Problem("profile", f"there is no profile '{name}'. Choose {known}, or name a file.")])
    try:
        return Wire.model_validate(tomllib.loads(path.read_text(encoding="utf-8")) | {"name": path.stem})
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise Invalid([Problem(str(path), f"can't be read: {error}")]) from error
    except ValidationError as error:
        raise Invalid(list(_problems(path, error))) from error


def _problems(path: Path, error: ValidationError) -> Iterator[Problem]:
    for fault in error.errors(include_url=False, include_input=False):
        where = ".".join(str(each) for each in fault["loc"])
        yield Problem(f"{path.name}: {where}", fault["msg"].removeprefix("Value error, "))


def _charset(name: str) -> str:
    try:
        return codecs.lookup(name).name
    except LookupError as error:
        raise ValueError(f"'{name}' is no charset that Python knows") from error

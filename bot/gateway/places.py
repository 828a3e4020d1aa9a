"""Where in an HTTP message a value stands. In: a raw request or answer. Out: the text found there, or None.

query:from           a field of the query string         header:X-Id     a header
form:From            a field of a form body              body            the whole body
json:messages.0.id   a path into a JSON body             status          the status of an answer
xml:message/@id      a path below the root of XML        path            what follows the hook's own address

A place may pick a part of the value with `match` (a regular expression; its first group, if it has one) and
undo one more coding with `decode`: `url` (percent-encoding) or `hex` (UTF-16BE as hexadecimal digits).
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal
from urllib.parse import unquote, unquote_to_bytes
from xml.etree import ElementTree

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

_KINDS = ("query", "form", "json", "xml", "header")
_WHOLE = ("body", "status", "path")
_CONTROLS = frozenset(range(0x20)) - frozenset(b"\r\n")
_UTF16_SHARE = 0.2  # of control bytes; real UTF-8 text in seven languages had none
_MOST_PARTS = 1_000  # fields of a query or form that are looked at


@dataclass(slots=True)
class Envelope:
    """An HTTP message as plain data. Header names in small letters; `query` is raw, still percent-encoded."""

    body: bytes = b""
    headers: Mapping[str, str] = field(default_factory=dict)
    query: bytes = b""
    status: int = 0
    method: str = "POST"
    path: str = ""
    address: str = ""  # of the sender
    _parsed: dict[str, Any] = field(default_factory=dict)

    def raw(self) -> str:
        """Everything that was said, as text that keeps every byte."""
        asked = f"{self.query.decode('latin-1')}\n" if self.query else ""
        return asked + self.body.decode("latin-1")

    def fields(self, kind: str) -> Mapping[str, bytes]:
        """The fields of the query or form; of a name that comes twice, the first."""
        if kind not in self._parsed:
            self._parsed[kind] = _fields(self.query if kind == "query" else self.body)
        found: Mapping[str, bytes] = self._parsed[kind]
        return found

    def json(self) -> Any:
        """The JSON body, numbers with a fraction as they are written; None if it is none."""
        if "json" not in self._parsed:
            try:
                self._parsed["json"] = json.loads(self.body, parse_float=str)
            except (ValueError, RecursionError):
                self._parsed["json"] = None
        return self._parsed["json"]

    def xml(self) -> ElementTree.Element | None:
        """The root of the XML body; None if it is none, or defines entities (which can blow up)."""
        if "xml" not in self._parsed:
            self._parsed["xml"] = _xml(self.body)
        root: ElementTree.Element | None = self._parsed["xml"]
        return root


def _fields(raw: bytes) -> dict[str, bytes]:
    found: dict[str, bytes] = {}
    for pair in raw.split(b"&", _MOST_PARTS)[:_MOST_PARTS]:
        name, _, value = pair.replace(b"+", b" ").partition(b"=")
        found.setdefault(unquote_to_bytes(name).decode("utf-8", "replace"), unquote_to_bytes(value))
    return found


def _xml(body: bytes) -> ElementTree.Element | None:
    if b"<!DOCTYPE" in body or b"<!ENTITY" in body:
        return None
    try:
        return ElementTree.fromstring(body)
    except (ElementTree.ParseError, ValueError, LookupError):
        return None


class Place(BaseModel):
    """One place. In a file it may stand as its address alone: "query:from"."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    at: str
    match: str | None = None
    decode: Literal["url", "hex"] | None = None

    @model_validator(mode="before")
    @classmethod
    def _short(cls, given: object) -> object:
        return {"at": given} if isinstance(given, str) else given

    @field_validator("at")
    @classmethod
    def _known(cls, at: str) -> str:
        kind, colon, name = at.partition(":")
        if at in _WHOLE or (kind in _KINDS and colon and name):
            return at
        raise ValueError(f"write one of {', '.join(k + ':...' for k in _KINDS)} or {', '.join(_WHOLE)}")

    @field_validator("match")
    @classmethod
    def _compiles(cls, pattern: str | None) -> str | None:
        return pattern if pattern is None else compiled(pattern)

    def find(
        self, envelope: Envelope, item: Any = None, charset: str = "utf-8", *, flags: bool = False
    ) -> str | None:
        """Give the text at this place, None where there is none.

        item     one of a batch: JSON and XML paths begin there instead of at the root
        charset  of bytes that come percent-encoded or as a body; `detect` tells UTF-16BE from UTF-8
        flags    whether JSON's true and false count as text: never as the name of anything
        """
        value = self._value(envelope, item, charset, flags)
        if value is None:
            return None
        if self.decode is not None:
            value = _decoded(value, self.decode, charset)
        if value is not None and self.match is not None:
            found = re.search(self.match, value, re.DOTALL)
            value = found and (found.group(1) if found.re.groups else found.group())
        return value

    def _value(self, envelope: Envelope, item: Any, charset: str, flags: bool) -> str | None:
        kind, _, name = self.at.partition(":")
        match kind:
            case "query" | "form":
                found = envelope.fields(kind).get(name)
                return None if found is None else as_text(found, charset)
            case "json":
                return _scalar(walk(envelope.json() if item is None else item, name), flags)
            case "xml":
                return _xml_text(envelope.xml() if item is None else item, name)
            case "header":
                return envelope.headers.get(name.lower())
            case "status":
                return str(envelope.status)
            case "path":
                return envelope.path
        return as_text(envelope.body, charset)


class Condition(BaseModel):
    """Whether a place holds one of some values, or text in which `match` is found."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    at: Place
    one_of: tuple[str, ...] = Field(default=(), alias="is")
    match: str | None = None

    @field_validator("match")
    @classmethod
    def _compiles(cls, pattern: str | None) -> str | None:
        return pattern if pattern is None else compiled(pattern)

    @model_validator(mode="after")
    def _asks(self) -> Condition:
        if not self.one_of and self.match is None:
            raise ValueError("say what it holds: is = [...] or match = '...'")
        return self

    def holds(self, envelope: Envelope, item: Any = None) -> bool:
        """Tell whether it holds for this message, or this item of a batch."""
        value = self.at.find(envelope, item, flags=True)
        if value is None:
            return False
        return value in self.one_of or (self.match is not None and bool(re.search(self.match, value)))


def compiled(pattern: str) -> str:
    """Give the pattern if it is one; ValueError with what is wrong in it."""
    try:
        re.compile(pattern)
    except re.error as error:
        raise ValueError(f"'{pattern}' is no regular expression: {error}") from error
    return pattern


def items(envelope: Envelope, each: Place | None) -> Sequence[Any]:
    """Give what a batch holds, by the place of its list; [None] for a hook that brings one thing."""
    if each is None:
        return [None]
    kind, _, name = each.at.partition(":")
    if kind == "xml":
        root = envelope.xml()
        return [] if root is None else root.findall(name)
    found = walk(envelope.json(), "" if name == "." else name)
    if isinstance(found, list):
        return found
    return [] if found is None else [found]  # some send a list only where it has more than one


def walk(value: Any, path: str) -> Any:
    """Follow a path of names and positions into JSON; None where it leads nowhere."""
    for step in path.split(".") if path else ():
        if isinstance(value, dict):
            value = value.get(step)
        elif isinstance(value, list) and step.isdecimal() and int(step) < len(value):
            value = value[int(step)]
        else:
            return None
    return value


def as_text(raw: bytes, charset: str) -> str:
    """Decode bytes; what the charset can't hold is replaced, never refused.

    `detect`: UTF-16BE has a control byte in front of most letters, UTF-8 text has none; trying UTF-8 first
    would not do, because Arabic and Hindi in UTF-16BE are valid UTF-8.
    """
    if charset == "detect":
        controls = sum(byte in _CONTROLS for byte in raw)
        charset = "utf-16-be" if len(raw) % 2 == 0 and controls > _UTF16_SHARE * len(raw) else "utf-8"
    return raw.decode(charset, "replace")


def _scalar(value: Any, flags: bool) -> str | None:
    if isinstance(value, bool):
        return str(value).lower() if flags else None
    return whole(str(value)) if isinstance(value, str | int) else None


def whole(text: str) -> str:
    """Replace half a surrogate pair, which JSON may carry and no encoding can hold."""
    if text.isascii():
        return text
    return text.encode("utf-16", "surrogatepass").decode("utf-16", "replace")


def _xml_text(root: Any, path: str) -> str | None:
    if not isinstance(root, ElementTree.Element):
        return None
    way, _, attribute = path.partition("@")
    try:
        found = root.find(way.rstrip("/")) if way else root
    except SyntaxError:
        return None
    if found is None:
        return None
    return found.get(attribute) if attribute else "".join(found.itertext())


def _decoded(value: str, coding: str, charset: str) -> str | None:
    if coding == "url":
        return as_text(unquote_to_bytes(value.replace("+", " ")), charset)
    try:
        return bytes.fromhex(unquote(value)).decode("utf-16-be", "replace")
    except ValueError:
        return None

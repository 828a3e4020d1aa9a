"""Whether a hook was sent by whom we trust: the raw request comes in, the id it was signed with goes out."""

from __future__ import annotations

import hmac
from base64 import b64decode, b64encode
from binascii import Error as Base64Error
from datetime import datetime
from ipaddress import ip_address

from bot.gateway.places import Envelope
from bot.gateway.profile import Profile
from bot.gateway.signing import BadSignature, verify
from bot.gateway.wire import Trust


def check(profile: Profile, hook: Envelope, now: datetime) -> str:
    """Give the id that came with the signature, empty where the profile has none; raise BadSignature.

    now  machine time
    """
    if profile.addresses and not _from_there(profile, hook.address):
        raise BadSignature("it comes from an address that is not on the list")
    trust = profile.wire.trust
    match trust.by:
        case "standard":
            return verify(profile.keys, hook.headers, hook.body, now)
        case "digest":
            _check_digest(profile, trust, hook)
        case "key":
            _same(profile, hook.fields("query").get("key", b""), "the key in its address")
        case "basic":
            _same(profile, _password(profile, hook), "its user or password")
    return ""


def _from_there(profile: Profile, address: str) -> bool:
    try:
        ours = ip_address(address)
    except ValueError:
        return False
    return any(ours in network for network in profile.addresses)


def _same(profile: Profile, given: bytes, what: str) -> None:
    if not any(hmac.compare_digest(given, key) for key in profile.keys):
        raise BadSignature(f"{what} is missing or wrong")


def _password(profile: Profile, hook: Envelope) -> bytes:
    scheme, _, coded = hook.headers.get("authorization", "").partition(" ")
    try:
        user, _, password = b64decode(coded, validate=True).partition(b":")
    except Base64Error:
        return b""
    wanted = profile.settings["hook_user"].encode()
    return password if scheme.lower() == "basic" and hmac.compare_digest(user, wanted) else b""


def _check_digest(profile: Profile, trust: Trust, hook: Envelope) -> None:
    given = hook.headers.get(trust.header.lower(), "").removeprefix(trust.before).encode()
    signed = hook.body if trust.of == "body" else _address_and_fields(profile, hook)
    for key in profile.keys:
        digest = hmac.digest(key, signed, trust.algorithm)
        wanted = digest.hex().encode() if trust.coding == "hex" else b64encode(digest)
        if hmac.compare_digest(given.lower() if trust.coding == "hex" else given, wanted):
            return
    raise BadSignature(f"no digest of ours is in {trust.header}")


def _address_and_fields(profile: Profile, hook: Envelope) -> bytes:
    """Our address as the gateway knows it, then every field of the form, name and value, by name."""
    fields = hook.fields("form")
    said = b"".join(name.encode() + fields[name] for name in sorted(fields))
    return f"{profile.hooks}{hook.path}".encode() + said

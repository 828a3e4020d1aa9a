"""Keeps the tests off the network: connections may go to this machine only.

A test that calls out would depend on somebody else's server, and could send something to it.
"""

import ipaddress
import socket
from typing import Any

import pytest


class OutsideCall(RuntimeError):
    """A test tried to reach another machine. No OSError: no code under test may take it for an outage."""


def shut_network(patch: pytest.MonkeyPatch) -> None:
    """Make every look-up of and connection to a host other than this machine raise OutsideCall."""
    connect, connect_ex, look_up = socket.socket.connect, socket.socket.connect_ex, socket.getaddrinfo

    def guarded_connect(self: socket.socket, address: Any) -> None:
        _check(address)
        connect(self, address)

    def guarded_connect_ex(self: socket.socket, address: Any) -> int:
        _check(address)
        return connect_ex(self, address)

    def guarded_look_up(host: Any, *args: Any, **options: Any) -> Any:
        _check((host,))
        return look_up(host, *args, **options)

    patch.setattr(socket.socket, "connect", guarded_connect)
    patch.setattr(socket.socket, "connect_ex", guarded_connect_ex)
    patch.setattr(socket, "getaddrinfo", guarded_look_up)


def _check(address: Any) -> None:
    """Let pass paths of Unix sockets, localhost and loopback addresses."""
    if isinstance(address, tuple) and not _is_this_machine(address[0]):
        raise OutsideCall(f"Tests may only talk to this machine, not to {address[0]!r}.")


def _is_this_machine(host: Any) -> bool:
    if host is None:  # getaddrinfo for a listening socket
        return True
    name = host.decode() if isinstance(host, bytes) else str(host)
    try:
        return ipaddress.ip_address(name).is_loopback
    except ValueError:
        return name == "localhost"

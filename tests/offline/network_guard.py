"""While armed, every connection to another machine, and every look-up of another machine's name, raises.

It hangs on the interpreter's own audit events, so it also sees sockets that a library opened in its own way.
Native code that calls the system directly is beyond it.
"""

from __future__ import annotations

import contextlib
import ipaddress
import sys
from collections.abc import Iterator
from typing import Any

_NAMES = {"socket.getaddrinfo": 0, "socket.gethostbyname": 0, "socket.gethostbyaddr": 0}
_ADDRESSES = {"socket.connect": 1, "socket.sendto": 1, "socket.sendmsg": 1}
_state: dict[str, list[str] | None] = {"refused": None}


class NetworkRefused(OSError):
    """Something tried to leave the machine."""


def is_local(host: object) -> bool:
    """Return whether a host stays on this machine: none at all, localhost, or a loopback address.

    >>> is_local("127.0.0.1"), is_local("::1"), is_local("192.0.2.1"), is_local("example.org")
    (True, True, False, False)
    """
    name = host.decode("ascii", "replace") if isinstance(host, bytes) else host
    if name in (None, "", "localhost"):
        return True
    try:
        return ipaddress.ip_address(str(name)).is_loopback
    except ValueError:
        return False


def _watch(event: str, args: tuple[Any, ...]) -> None:
    refused = _state["refused"]
    if refused is None:
        return
    if event in _NAMES:
        host = args[_NAMES[event]]
    elif event in _ADDRESSES:
        address = args[_ADDRESSES[event]]
        if not isinstance(address, tuple):  # a path on this machine, or none: a socket connected before
            return
        host = address[0]
    else:
        return
    if not is_local(host):
        refused.append(f"{event} {host!r}")
        raise NetworkRefused(f"a test tried to reach {host!r} ({event})")


sys.addaudithook(_watch)


@contextlib.contextmanager
def armed() -> Iterator[list[str]]:
    """Refuse the network; gives the list of refused attempts, which grows."""
    before, refused = _state["refused"], []
    _state["refused"] = refused
    try:
        yield refused
    finally:
        _state["refused"] = before


def arm() -> None:
    """Refuse the network from now to the end of the process."""
    _state["refused"] = []

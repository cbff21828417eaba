"""Whether a machine named in an address is this one: what goes elsewhere goes encrypted. Imports nothing of ours."""

from __future__ import annotations

import ipaddress


def is_here(host: str | None) -> bool:
    """Return whether a host is this machine: none at all, localhost, a loopback address, or the folder of a socket.

    >>> is_here(None), is_here("localhost"), is_here("127.0.0.9"), is_here("/run/x"), is_here("192.0.2.1"), is_here("db")
    (True, True, True, True, False, False)
    """
    if not host or host == "localhost" or host.startswith("/"):
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False

"""Who is at the other end of a connection, and whether it still is."""

from __future__ import annotations

import contextlib
import ipaddress
import socket

_ALIVE = (("TCP_KEEPIDLE", 60), ("TCP_KEEPINTVL", 15), ("TCP_KEEPCNT", 4))


def of_this_machine(address: str) -> bool:
    """Whether a peer's address is this machine's own loopback."""
    found = ipaddress.ip_address(address.partition("%")[0])
    mapped = getattr(found, "ipv4_mapped", None)
    return (mapped or found).is_loopback


def keep_alive(found: socket.socket) -> None:
    """Have the system find out when a peer is gone."""
    with contextlib.suppress(OSError):
        found.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
        for name, value in _ALIVE:
            if hasattr(socket, name):
                found.setsockopt(socket.IPPROTO_TCP, getattr(socket, name), value)

"""Who is at the other end of a connection, and whether it still is."""

from __future__ import annotations

import contextlib
import ipaddress
import socket

_ALIVE = (("TCP_KEEPIDLE", 60), ("TCP_KEEPINTVL", 15), ("TCP_KEEPCNT", 4))


def of_this_machine(address: str) -> bool:
    """Whether a peer's address is this machine's own loopback."""
    parsed = ipaddress.ip_address(address.partition("%")[0])
    mapped = getattr(parsed, "ipv4_mapped", None)
    return (mapped or parsed).is_loopback


def keep_alive(connection: socket.socket) -> None:
    """Have the system find out when a peer is gone."""
    with contextlib.suppress(OSError):
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
        for name, value in _ALIVE:
            if hasattr(socket, name):
                connection.setsockopt(socket.IPPROTO_TCP, getattr(socket, name), value)

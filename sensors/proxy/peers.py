"""Who is at the other end of a connection, by what name, and whether it still is."""

from __future__ import annotations

import contextlib
import hashlib
import ipaddress
import secrets
import socket

from sensors.packets.version3 import Connect

_ALIVE = (("TCP_KEEPIDLE", 60), ("TCP_KEEPINTVL", 15), ("TCP_KEEPCNT", 4))
_IN_A_NAME = frozenset("/+#\0")


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


def name_at_broker(connect: Connect, trusted: bool) -> str:
    """A client's name at the broker: none from the home network can take another's."""
    if not connect.client:
        return f"guest-{secrets.token_hex(10)}"
    if trusted and not _IN_A_NAME & set(connect.client):
        return connect.client
    whose = "this machine" if trusted else f"lan {connect.user}"
    mark = hashlib.sha256(f"{whose}\0{connect.client}".encode()).hexdigest()[:20]
    return f"{'own' if trusted else 'lan'}-{mark}"

"""Which connection gives way where there are too many: this machine has places of its own."""

from __future__ import annotations

import socket
from collections import Counter
from collections.abc import Sequence
from typing import NamedTuple, Protocol, TypeVar

THIS_MACHINE, NETWORK = 40, 80


class Peer(NamedTuple):
    """Who is at the far end of a connection; `here`: a program of this machine."""

    address: str
    here: bool


def peer_of(opened: socket.socket, address: str) -> Peer:
    """The peer at that address.

    From this machine both ends have one address. A packet from the network that claims the
    address of its receiver is dropped by the kernel, and an answer to it would never leave.
    """
    return Peer(address, address == opened.getsockname()[0])


class Connection(Protocol):
    """A connection; `waits` while no request of it is being answered."""

    @property
    def peer(self) -> Peer:
        """Who is at the far end."""

    @property
    def waits(self) -> bool:
        """Whether no request of it is being answered."""


C = TypeVar("C", bound=Connection)


def one_too_many(connections: Sequence[C]) -> C | None:
    """The connection that gives way to the last one; None while there are places.

    `connections` begins with the oldest. The address that holds most gives its oldest one that
    waits, so that no address keeps out another; where all of its are being answered, the last one
    gives way.
    """
    newest = connections[-1]
    sharing = [connection for connection in connections if connection.peer.here == newest.peer.here]
    if len(sharing) <= (THIS_MACHINE if newest.peer.here else NETWORK):
        return None
    shares = Counter(connection.peer.address for connection in sharing)
    most = max(shares.values())
    waiting = (
        connection
        for connection in sharing
        if connection.waits and shares[connection.peer.address] == most
    )
    return next(waiting, newest)

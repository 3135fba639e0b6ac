"""Floods against a gatekeeper, and what they leave: small in the tests, large on the bench."""

from __future__ import annotations

import contextlib
import os
import resource
import socket
import struct

import psutil

from sensors.packets.version3 import PUBLISH, packet
from tests.support.brokers import publish, until
from tests.support.proxies import IN, SURFACE, RunningGatekeeper, hello, raw, text, values

GROWN_KB, WAITING_BYTES, WHOLE = 20_000, 2_000_000, 200


def handles() -> int:
    """How many files and sockets this process has open."""
    return psutil.Process().num_fds()


def still_served(gatekeeper: RunningGatekeeper) -> None:
    """A reading still comes through."""
    publish(gatekeeper.port, SURFACE, "-m", "14.2")
    until(lambda: 14.2 in values(gatekeeper))


def garbage_leaves_nothing(gatekeeper: RunningGatekeeper, first: int, then: int) -> None:
    """Connections with garbage, most of them broken off; what the later ones add is looked at."""
    junk = (b"", b"\0" * 64, b"GET / HTTP/1.1\r\n\r\n", os.urandom(200), hello(password="no"))

    def attack(count: int) -> None:
        for n in range(count):
            with contextlib.suppress(OSError), raw(gatekeeper.port, junk[n % 5]) as connection:
                if n % 7:
                    connection.setsockopt(
                        socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0)
                    )

    idle = handles()
    attack(first)
    until(lambda: not gatekeeper.gate._connections)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    attack(then)
    # Connections may still wait to be accepted, each with a handle, while no client is in.
    until(lambda: not gatekeeper.gate._connections and handles() <= idle + 2, 60)
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - peak < GROWN_KB
    still_served(gatekeeper)


def deaf_fills_nothing(gatekeeper: RunningGatekeeper, patience_s: float) -> None:
    """One that sends without end and never reads is held back: nothing more goes for that long."""
    readings = b"".join(
        packet(PUBLISH, text("other/thing") + id.to_bytes(2, "big") + b"1", 2)
        for id in range(1, 20_000)
    )
    with raw(gatekeeper.port, hello()) as deaf:
        assert deaf.recv(4)[2:] == IN
        deaf.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        deaf.settimeout(patience_s)
        sent = 0
        with contextlib.suppress(OSError):
            for _ in range(WHOLE):
                deaf.sendall(readings)
                sent += 1
        assert sent < WHOLE
        (connection,) = gatekeeper.gate._connections
        assert connection._writer.transport.get_write_buffer_size() < WAITING_BYTES
    still_served(gatekeeper)

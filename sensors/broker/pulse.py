"""Whether a broker still answers: a client of ours that pings it, again and again.

A process that hangs keeps its port open, so that only an answer shows that it lives. Silence is
counted in waits of a second each: where this process was held up itself, as by a machine that
slept, it grows by one of them at most, and the broker is not blamed.
"""

from __future__ import annotations

import socket
import time
from collections.abc import Callable

from sensors.packets import version3
from sensors.packets.version3 import Connect

WAIT_S, AGAIN_S, KEEPALIVE_S = 1.0, 0.1, 60
_HELLO = version3.make_connect(Connect("curewatch-pulse", True, KEEPALIVE_S))
_PING = version3.packet(version3.PINGREQ, b"")


class Pulse:
    """Pings a broker at host:port; `silent_s` is how long it has not answered. [s]"""

    def __init__(self, host: str, port: int) -> None:
        self.silent_s, self.starting = 0.0, True
        self._address = (host, port)
        self._socket: socket.socket | None = None

    def follow(self, on: Callable[[], bool]) -> None:
        """Ask for as long as `on` says, which is looked at about once a second."""
        while on():
            try:
                self._ping_once()
            except OSError:
                self._part()
                self.silent_s += AGAIN_S
                time.sleep(AGAIN_S)
        self._part()

    def _ping_once(self) -> None:
        """Ask, and wait for the answer; after an answer also rest."""
        if self._socket is None:
            self._socket = socket.create_connection(self._address, WAIT_S)
            self._socket.sendall(_HELLO)
        elif not self.silent_s:
            self._socket.sendall(_PING)
        if self._answered(self._socket):
            self.silent_s, self.starting = 0.0, False
            self._answered(self._socket)
        else:
            self.silent_s += WAIT_S

    @staticmethod
    def _answered(connection: socket.socket) -> bool:
        """Whether anything comes within a second. Raises OSError where the connection ends."""
        try:
            if connection.recv(64):
                return True
        except TimeoutError:
            return False
        raise ConnectionResetError

    def _part(self) -> None:
        if self._socket is not None:
            self._socket.close()
            self._socket = None

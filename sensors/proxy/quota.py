"""How much of one client is passed on before the others have their turn."""

from __future__ import annotations

import asyncio
from collections import deque

PACKETS, PACKET_BYTES, WITHIN_S = 100, 256, 1.0


class Quota:
    """Counts what a client sends, a large packet as several; a quiet second begins anew."""

    def __init__(self) -> None:
        self._left, self._since_s = PACKETS, 0.0

    def used_up(self, size: int, now_s: float) -> bool:
        """Count a packet of so many bytes [bytes] at an instant [s]; whether the client has had
        its share before it, and the others are to have their turn first."""
        quiet = now_s - self._since_s > WITHIN_S
        over = self._left <= 0 and not quiet
        if over or quiet:
            self._left, self._since_s = PACKETS, now_s
        self._left -= 1 + size // PACKET_BYTES
        return over


class Pings:
    """Pings of a client and of ours that the broker has yet to answer; it does so in order."""

    def __init__(self) -> None:
        self._out = deque[asyncio.Future[None] | None]()

    def theirs(self) -> None:
        """The client sends one."""
        self._out.append(None)

    def ours(self) -> asyncio.Future[None]:
        """We send one; done when it is answered, and with it all that was sent before."""
        done = asyncio.get_running_loop().create_future()
        self._out.append(done)
        return done

    def answered(self) -> bool:
        """One is answered; whether it was the client's."""
        done = self._out.popleft() if self._out else None
        if done is not None and not done.done():
            done.set_result(None)
        return done is None

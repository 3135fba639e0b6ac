"""How much of one client is passed on before the others have their turn. Pure."""

from __future__ import annotations

PACKETS, PACKET_BYTES, WITHIN_S = 100, 256, 1.0


class Share:
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

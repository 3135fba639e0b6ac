"""Until when the sessions of clients that have parted last. Pure."""

from __future__ import annotations

from collections import OrderedDict

MOST_NAMES, ENDLESS_S = 2000, 0xFFFF_FFFF  # [3.1.2.11.2] of MQTT 5


class Expiry:
    """The ends of sessions by their names at the broker, on a steady clock. [s]"""

    def __init__(self) -> None:
        self._ends: OrderedDict[str, float] = OrderedDict()

    def parted(self, name: str, expiry_s: int | None, now_s: float) -> None:
        """A client has parted; None: its session has no end."""
        self._ends.pop(name, None)
        if expiry_s is None or expiry_s == ENDLESS_S:
            return
        self._ends[name] = now_s + expiry_s
        if len(self._ends) > MOST_NAMES:
            self._ends.popitem(last=False)

    def past(self, name: str, now_s: float) -> bool:
        """Whether a session is past its end; asked when its client comes back."""
        return now_s >= self._ends.pop(name, now_s + 1)

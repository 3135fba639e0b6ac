"""Wrong passwords by address: some at once, then each costs a longer wait. Pure."""

from __future__ import annotations

from collections import OrderedDict

from curewatch.backoff import delay_s

FREE, LEAST_S, MOST_S, MOST_ADDRESSES = 5, 1.0, 300.0, 2000


class RateLimit:
    """How long each address has to wait before it is asked again."""

    def __init__(self) -> None:
        self._wrong: OrderedDict[str, tuple[int, float]] = OrderedDict()

    def allows(self, address: str, now_s: float) -> bool:
        """Whether an address may try now. [s] of a steady clock"""
        count, last_s = self._wrong.get(address, (0, now_s))
        if now_s - last_s > 2 * MOST_S:
            self._wrong.pop(address, None)
            return True
        return count < FREE or now_s - last_s >= delay_s(count - FREE + 1, LEAST_S, MOST_S)

    def record_failure(self, address: str, now_s: float) -> None:
        """A try from an address was wrong. [s] of a steady clock"""
        count, _ = self._wrong.pop(address, (0, 0.0))
        self._wrong[address] = (min(count + 1, FREE + 20), now_s)
        if len(self._wrong) > MOST_ADDRESSES:
            self._wrong.popitem(last=False)

    def record_success(self, address: str) -> None:
        """A try from an address was right: its wrong ones are forgotten."""
        self._wrong.pop(address, None)
